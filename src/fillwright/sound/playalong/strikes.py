"""Strikes: every sound of a phrase, grace notes and the bounces of a buzz included."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from fillwright.music.stroke import GRACE_VELOCITY, Kind
from fillwright.music.timing import TimedHit
from fillwright.sound.model.recipe import load_kit_recipes

LONGEST_BUZZ_SECONDS = 0.45
"""Seconds after which a stick pressed into the head has stopped bouncing (common practice, no source)."""

FIRST_GAP_SECONDS = 0.026
"""First gap between the bounces of a buzz, in seconds (common practice, no source)."""

LAST_GAP_SECONDS = 0.014
"""Shortest gap between the bounces, in seconds (common practice, no source)."""

GAP_SHRINKS = 0.96
"""Each gap as a part of the previous one; ours, not measured."""

BOUNCE_STARTS, BOUNCE_ENDS = 0.6, 0.25
"""Velocity of the first and the last bounces as parts of the stroke's (common practice, no source)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Strike:
    """One sound at one moment.

    Attributes:
        name: name of the surface, articulation or click.
        onset_seconds: time of its attack, from the start of the audio.
        velocity: 1 to 127.
        gain: factor to its amplitude; unlike velocity it does not change the timbre.
    """

    name: str
    onset_seconds: float
    velocity: int
    gain: float = 1.0


def list_strikes(
    timed: Sequence[TimedHit], start_seconds: float = 0.0, *, gains: Sequence[float] | None = None
) -> tuple[Strike, ...]:
    """Return every sound of a timeline, ascending in time.

    Args:
        timed: timeline of a phrase, from `music.timing`.
        start_seconds: time of the phrase's first beat in the audio.
        gains: factor to the amplitude of each stroke with its grace notes and bounces; 1 by default.
    """
    factors = (1.0,) * len(timed) if gains is None else gains
    strikes = [
        strike
        for stroke, gain in zip(timed, factors, strict=True)
        for strike in _list_sounds(stroke, start_seconds, gain)
    ]
    return tuple(sorted(strikes, key=lambda strike: strike.onset_seconds))


def _list_sounds(timed: TimedHit, start: float, gain: float) -> Iterator[Strike]:
    """Yield the sounds of one stroke: its grace notes, itself, its bounces."""
    name, grace_name = timed.hit.surface.name, timed.hit.grace_surface.name
    velocity = timed.hit.stroke.level.velocity
    for grace in timed.grace_seconds:
        yield Strike(name=grace_name, onset_seconds=start + grace, velocity=GRACE_VELOCITY, gain=gain)
    main = start + timed.onset_seconds
    yield Strike(name=name, onset_seconds=main, velocity=velocity, gain=gain)
    if timed.hit.stroke.kind is Kind.BUZZ:
        for after, part in generate_bounces(timed.length_seconds):
            yield Strike(
                name=find_buzz_sound(name),
                onset_seconds=main + after,
                velocity=max(1, round(velocity * part)),
                gain=gain,
            )


def find_buzz_sound(name: str) -> str:
    """Return the name of the sound of a buzz's bounces on a surface.

    >>> find_buzz_sound("snare"), find_buzz_sound("floor tom")
    ('snare buzz', 'floor tom')
    """
    buzz = f"{name} buzz"
    return buzz if buzz in load_kit_recipes().articulations else name


def generate_bounces(length_seconds: float) -> Iterator[tuple[float, float]]:
    """Yield the bounces of a buzz stroke after its first contact.

    They get closer and softer up to the end of the stroke.

    Args:
        length_seconds: length of the stroke.

    Yields:
        Seconds after the first contact, and velocity as a part of the stroke's.
    """
    end = min(length_seconds, LONGEST_BUZZ_SECONDS)
    gap = at = FIRST_GAP_SECONDS
    while at + LAST_GAP_SECONDS / 2 < end:
        yield at, BOUNCE_STARTS + (BOUNCE_ENDS - BOUNCE_STARTS) * at / end
        gap = max(gap * GAP_SHRINKS, LAST_GAP_SECONDS)
        at += gap
