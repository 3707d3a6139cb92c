"""The match: which onset is which written stroke."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum


class Outcome(Enum):
    """What became of a written stroke."""

    PLAYED = "played"
    TIMING_UNCERTAIN = "timing uncertain"
    MISSING = "missing"
    NOT_AUDIBLE = "not audible"


@dataclass(frozen=True, slots=True, kw_only=True)
class AlignedStroke:
    """One written stroke of one pass.

    Attributes:
        written: its index in `Expected.strokes`.
        outcome: what became of it.
        onset: index of its onset in `Heard.onsets`; None where a second look found it, it counts as
            played with a louder stroke at the same moment, or it was not heard.
        expected_seconds: where in the take the fitted tempo puts it.
        played_seconds: where it was heard, the attack time of its sound removed; None where it was not.
        lag_ms: how far it lies from the groove's own time: + late, − early; None where it was not heard or its
            timing is unsure.
        surface_played: what it sounds like, "" where that can't be told.
        surface_confidence: 0 to 1, how sure `surface_heard` is.
        loudness_db: its loudness against the usual tap of its surface; None where unknown.
    """

    written: int
    outcome: Outcome
    expected_seconds: float
    onset: int | None = None
    played_seconds: float | None = None
    lag_ms: float | None = None
    surface_played: str = ""
    surface_confidence: float = 0.0
    loudness_db: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Repetition:
    """The phrase played through once.

    Attributes:
        start_seconds: where in the take its first beat lies.
        strokes: one for each written stroke, in order.
        bar_starts: seconds in the take at which each bar starts, and the end of the last, as fitted.
        groove_tempo: beats a minute of the groove before the fill.
        fill_rush_percent: how much faster than the groove the fill is (+ rushes, − drags); None without
            a fill or with too few strokes in it.
        fill_rush_error_percent: standard error of that; None as above.
    """

    start_seconds: float
    strokes: tuple[AlignedStroke, ...]
    bar_starts: tuple[float, ...]
    groove_tempo: float
    fill_rush_percent: float | None = None
    fill_rush_error_percent: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Alignment:
    """A take laid against the written phrase.

    Attributes:
        repetitions: every time the phrase was played, in order; empty where the match is refused.
        extra: indices of onsets inside a pass that belong to no written stroke.
        refused: "" or why nothing is scored, in a word: "silence", "wrong phrase", "tempo", "too noisy",
            "too short", "no fill".
        tempo_found: beats a minute that fit best, even where the match is refused; None for silence.
        share_matched: part of the main strokes that were played, 0 to 1.
    """

    repetitions: tuple[Repetition, ...]
    extra: tuple[int, ...] = ()
    refused: str = ""
    tempo_found: float | None = None
    share_matched: float = 0.0
