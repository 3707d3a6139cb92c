"""What is written, as a listener needs it: every stroke of the phrase in seconds, grace notes included."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

from fillwright.music.meter import Meter
from fillwright.music.phrase import Part, Phrase
from fillwright.music.stroke import GRACE_VELOCITY, Kind, Level
from fillwright.music.timing import STRAIGHT, Feel, TimedHit, time_phrase, whole_note_seconds


@dataclass(frozen=True, slots=True, kw_only=True)
class WrittenStroke:
    """One stroke that should be heard.

    Attributes:
        seconds: at the intended tempo, from the start of the phrase; a grace note of its first
            stroke is negative.
        bar: number of its bar, from 0; the landing's bar included.
        surface: name of what is struck.
        level: accent, tap or ghost.
        velocity: 1 to 127.
        hand: "R", "L", "right foot" or "left foot"; "" where the file does not say.
        in_fill: whether it belongs to the fill.
        landing: whether it belongs to the landing.
        grace_of: index, among the strokes, of the main note whose grace note this is; None for a main note.
        buzz: whether it is pressed into the head, so that its bounces are heard behind it.
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
        strokes: ascending in time; simultaneous ones stand side by side.
        bar_starts: seconds at which each bar starts, and the end of the last; ascending, at least two.
        beats: seconds of every beat, the landing's bar included.
        tempo: intended, in the meter's beats a minute.
    """

    strokes: tuple[WrittenStroke, ...]
    bar_starts: tuple[float, ...]
    beats: tuple[float, ...]
    tempo: float


OwnedStroke = tuple[WrittenStroke, int, int | None]
"""A stroke, the number of its note, and the number of its main note where it is a grace note."""


def write_phrase(phrase: Phrase, tempo: float, feel: Feel = STRAIGHT) -> WrittenPhrase:
    """A phrase as a listener needs it.

    Args:
        phrase: what is to be played.
        tempo: in the meter's beats a minute.
        feel: swing and flams.

    Raises:
        TempoError: for a tempo that can't be played.
    """
    whole = whole_note_seconds(phrase.meter, tempo)
    bar = float(phrase.meter.bar) * whole
    owned: list[OwnedStroke] = []
    for number, timed in enumerate(time_phrase(phrase, tempo, feel)):
        main, graces = _strokes(phrase, timed)
        owned += [(one, -1, number) for one in graces]
        owned.append((main, number, None))
    return WrittenPhrase(
        strokes=order_strokes(owned),
        bar_starts=tuple(bar * index for index in range(len(phrase.bars) + 1)),
        beats=_beats(phrase.meter, len(phrase.bars), whole),
        tempo=tempo,
    )


def order_strokes(owned: Iterable[OwnedStroke]) -> tuple[WrittenStroke, ...]:
    """Strokes in order of time, every grace note with the index of its main note."""
    placed = sorted(owned, key=lambda one: one[0].seconds)
    index = {number: place for place, (_, number, owner) in enumerate(placed) if owner is None}
    return tuple(
        stroke if owner is None else replace(stroke, grace_of=index[owner]) for stroke, _, owner in placed
    )


def _beats(meter: Meter, bars: int, whole: float) -> tuple[float, ...]:
    return tuple(float(bar * meter.bar + at) * whole for bar in range(bars) for at in meter.beat_starts)


def _strokes(phrase: Phrase, timed: TimedHit) -> tuple[WrittenStroke, list[WrittenStroke]]:
    """The main note of a hit and its grace notes."""
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
    return main, [replace(grace, seconds=at) for at in timed.grace_seconds]
