"""The written phrase as strokes in seconds, grace notes included: the side that a take is aligned with."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

from fillwright.music.meter import Meter
from fillwright.music.phrase import Part, Phrase
from fillwright.music.stroke import GRACE_VELOCITY, Kind, Level
from fillwright.music.timing import STRAIGHT, Feel, TimedHit, time_phrase, whole_note_seconds


@dataclass(frozen=True, slots=True, kw_only=True)
class WrittenStroke:
    """One stroke that the student should play.

    Attributes:
        seconds: at the intended tempo, from the start of the phrase; a grace note of its first stroke is
            negative.
        bar: number of its bar, from 0; the landing's bar included.
        surface: name of the drum or cymbal.
        level: accent, tap or ghost.
        velocity: 1 to 127.
        hand: "R", "L", "right foot" or "left foot"; "" if the file does not say.
        in_fill: True for a stroke of the fill.
        landing: True for a stroke of the landing.
        grace_of: for a grace note, the index of its main note among the strokes; None for a main note.
        buzz: True for a buzz, whose bounces sound after it.
    """

    seconds: float
    bar: int
    surface: str
    level: Level
    velocity: int
    hand: str = ""
    in_fill: bool = False
    landing: bool = False
    grace_of: int | None = None
    buzz: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class WrittenPhrase:
    """A written phrase at its intended tempo.

    Attributes:
        strokes: ascending in time; simultaneous ones are next to each other.
        bar_starts: start of each bar and end of the last, in seconds; ascending, at least two.
        beats: every beat in seconds, the landing's bar included.
        tempo: intended, in bpm of the meter's beat.
    """

    strokes: tuple[WrittenStroke, ...]
    bar_starts: tuple[float, ...]
    beats: tuple[float, ...]
    tempo: float


NumberedStroke = tuple[WrittenStroke, int, int | None]
"""A stroke, the number of its note, and for a grace note the number of its main note."""


def write_phrase(phrase: Phrase, tempo: float, feel: Feel = STRAIGHT) -> WrittenPhrase:
    """Return a phrase as strokes in seconds.

    Args:
        phrase: the phrase to play.
        tempo: in bpm of the meter's beat.
        feel: swing and flam time.

    Raises:
        TempoError: for a tempo that can't be played.
    """
    whole_seconds = whole_note_seconds(phrase.meter, tempo)
    bar_seconds = float(phrase.meter.bar) * whole_seconds
    numbered: list[NumberedStroke] = []
    for number, timed in enumerate(time_phrase(phrase, tempo, feel)):
        main, graces = _write_hit(phrase, timed)
        numbered += [(grace, -1, number) for grace in graces]
        numbered.append((main, number, None))
    return WrittenPhrase(
        strokes=order_strokes(numbered),
        bar_starts=tuple(bar_seconds * index for index in range(len(phrase.bars) + 1)),
        beats=_list_beats(phrase.meter, len(phrase.bars), whole_seconds),
        tempo=tempo,
    )


def order_strokes(numbered: Iterable[NumberedStroke]) -> tuple[WrittenStroke, ...]:
    """Return strokes in order of time, each grace note with the index of its main note."""
    ordered = sorted(numbered, key=lambda entry: entry[0].seconds)
    index = {number: position for position, (_, number, main) in enumerate(ordered) if main is None}
    return tuple(
        stroke if main is None else replace(stroke, grace_of=index[main]) for stroke, _, main in ordered
    )


def _list_beats(meter: Meter, bars: int, whole_seconds: float) -> tuple[float, ...]:
    return tuple(
        float(bar * meter.bar + start) * whole_seconds for bar in range(bars) for start in meter.beat_starts
    )


def _write_hit(phrase: Phrase, timed: TimedHit) -> tuple[WrittenStroke, list[WrittenStroke]]:
    """Return the main note of a hit and its grace notes."""
    hit = timed.hit
    bar = int(hit.at / phrase.meter.bar)
    main = WrittenStroke(
        seconds=timed.onset_seconds,
        bar=bar,
        surface=hit.surface.name,
        level=hit.stroke.level,
        velocity=hit.stroke.level.velocity,
        hand=hit.stroke.hand.value,
        in_fill=phrase.is_in_fill(hit.at),
        landing=phrase.bars[bar].part is Part.LANDING,
        buzz=hit.stroke.kind is Kind.BUZZ,
    )
    grace = replace(
        main,
        surface=hit.grace_surface.name,
        level=Level.GHOST,
        velocity=GRACE_VELOCITY,
        hand=hit.stroke.hand.other.value,
        buzz=False,
    )
    return main, [replace(grace, seconds=seconds) for seconds in timed.grace_seconds]
