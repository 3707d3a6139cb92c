"""Strikes: every single sound of a phrase, grace notes and the bounces of a buzz included."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from fillwright.music.stroke import GRACE_VELOCITY, Kind
from fillwright.music.timing import TimedHit
from fillwright.sound.model.recipe import load_kit_recipes

LONGEST_BUZZ_SECONDS = 0.45
"""A stick pressed into the head has stopped bouncing by then (common practice, no source)."""

FIRST_GAP_SECONDS = 0.026
LAST_GAP_SECONDS = 0.014
GAP_SHRINKS = 0.96
BOUNCE_STARTS, BOUNCE_ENDS = 0.6, 0.25
"""How a buzz bounces: the first gap and the shortest, each a little shorter than the one before; how loud the
bounces start and end, as a part of the stroke's velocity (common practice, no source)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Strike:
    """One sound at one moment.

    Attributes:
        name: of the surface or click.
        onset_seconds: its attack, from the start of the audio.
        velocity: 1 to 127.
        gain: a factor to its amplitude that does not change how it sounds.
    """

    name: str
    onset_seconds: float
    velocity: int
    gain: float = 1.0


def list_strikes(
    timed: Sequence[TimedHit], start_seconds: float = 0.0, *, gains: Sequence[float] | None = None
) -> tuple[Strike, ...]:
    """Every sound of a timeline, ascending in time.

    Args:
        timed: from `music.timing.timeline`.
        start_seconds: where the phrase's first beat falls in the audio.
        gains: a factor to the amplitude of each stroke with its grace notes and bounces; 1 by default.
    """
    factors = (1.0,) * len(timed) if gains is None else gains
    made = [
        strike for one, gain in zip(timed, factors, strict=True) for strike in _of(one, start_seconds, gain)
    ]
    return tuple(sorted(made, key=lambda strike: strike.onset_seconds))


def _of(timed: TimedHit, start: float, gain: float) -> Iterator[Strike]:
    name, graced = timed.hit.surface.name, timed.hit.grace_surface.name
    velocity = timed.hit.stroke.level.velocity
    for grace in timed.grace_seconds:
        yield Strike(name=graced, onset_seconds=start + grace, velocity=GRACE_VELOCITY, gain=gain)
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
    """The sound of a buzz's bounces on a surface.

    >>> find_buzz_sound("snare"), find_buzz_sound("floor tom")
    ('snare buzz', 'floor tom')
    """
    buzz = f"{name} buzz"
    return buzz if buzz in load_kit_recipes().articulations else name


def generate_bounces(length_seconds: float) -> Iterator[tuple[float, float]]:
    """The bounces of a buzz stroke after its first contact.

    Closer and closer together, softer and softer, up to the end of the stroke.

    Yields:
        Seconds after the first contact, and loudness as a part of its velocity.
    """
    end = min(length_seconds, LONGEST_BUZZ_SECONDS)
    gap = at = FIRST_GAP_SECONDS
    while at + LAST_GAP_SECONDS / 2 < end:
        yield at, BOUNCE_STARTS + (BOUNCE_ENDS - BOUNCE_STARTS) * at / end
        gap = max(gap * GAP_SHRINKS, LAST_GAP_SECONDS)
        at += gap
