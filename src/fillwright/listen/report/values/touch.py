"""Values of a report on grace notes, rolls, hands, breaks and the pulse."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from fillwright.listen.alignment.model import BreakKind
from fillwright.listen.report.values.statistics import Statistics


@dataclass(frozen=True, slots=True, kw_only=True)
class GraceReport:
    """A flam, or one of the grace notes of a drag.

    Attributes:
        repetition: number of the repetition, from 1.
        bar: from 1.
        beat: of the main note.
        surface: of the main note.
        kind: "flam" or "drag".
        number: of the grace note in its drag, from 1.
        written_gap_ms: written time ahead of the main note.
        gap_ms: played time ahead of the main note.
    """

    repetition: int
    bar: int
    beat: float
    surface: str
    kind: Literal["flam", "drag"]
    number: int
    written_gap_ms: float
    gap_ms: float


@dataclass(frozen=True, slots=True, kw_only=True)
class RollReport:
    """Strokes of the fill in a row at one written interval, and how even they are.

    Attributes:
        repetition: number of the repetition, from 1.
        bar: in which it starts, from 1.
        strokes: number of strokes.
        interval_ms: as played.
        loudness_db: of its taps against the usual; None with too few.
    """

    repetition: int
    bar: int
    strokes: int
    interval_ms: Statistics
    loudness_db: Statistics | None


@dataclass(frozen=True, slots=True, kw_only=True)
class HandReport:
    """One hand in the fill: its lag against the fill's own tempo, in milliseconds, and its loudness."""

    lag_ms: Statistics
    loudness_db: Statistics | None


@dataclass(frozen=True, slots=True, kw_only=True)
class HandDifference:
    """Right hand minus left hand, and the standard error of that."""

    value: float
    error: float


@dataclass(frozen=True, slots=True, kw_only=True)
class HandsReport:
    """Both hands compared.

    Attributes:
        right: None with too few strokes.
        left: the same.
        lag_ms: right minus left on drums that both play; None with too few strokes.
        loudness_db: the same for loudness.
        pooled: True with enough strokes to call a difference a habit of the hand.
    """

    right: HandReport | None
    left: HandReport | None
    lag_ms: HandDifference | None
    loudness_db: HandDifference | None
    pooled: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class BreakReport:
    """A place at which the flow of a repetition differs from the written phrase.

    Attributes:
        repetition: number of the repetition, from 1.
        bar: of the stroke after it, from 1.
        beat: of that stroke, from 1.
        kind: how the flow differs.
        beats: time added, in beats; negative if dropped, 0 where the take begins or ends.
        in_fill: True if it is inside the fill; False before the fill, or before the landing.
        before_fill: True if the fill starts with the stroke after it.
        before_landing: True if that stroke is the landing.
    """

    repetition: int
    bar: int
    beat: float
    kind: BreakKind
    beats: float
    in_fill: bool
    before_fill: bool
    before_landing: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class PulseLag:
    """Lag of a landing against the player's own pulse of the last beats, in ms, with its error."""

    lag_ms: float
    error_ms: float
