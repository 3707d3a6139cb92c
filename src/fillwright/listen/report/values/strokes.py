"""Values of a report on strokes and bars."""

from __future__ import annotations

from dataclasses import dataclass

from fillwright.listen.alignment.model import Outcome
from fillwright.listen.limits import get_limit
from fillwright.listen.report.values.statistics import Statistics
from fillwright.music.stroke import Level


@dataclass(frozen=True, slots=True, kw_only=True)
class StrokeReport:
    """One written stroke of one repetition.

    Attributes:
        repetition: number of the repetition, from 1.
        index: its index in `WrittenPhrase.strokes`.
        bar: from 1.
        beat: from 1; 2.5 is half-way between beats 2 and 3. A grace note has its main note's.
        surface: drum or cymbal in the notation.
        hand: "R", "L", "right foot", "left foot", or "" if unknown.
        level: accent, tap or ghost.
        in_fill: True for a stroke of the fill.
        landing: True for a stroke of the landing.
        grace: True for a grace note.
        outcome: played, timing uncertain, missing or not audible.
        written_seconds: time in the take at which it is written, by the groove's tempo.
        played_seconds: time in the take at which it was played; None if it was not detected.
        lag_ms: + late, − early; None if it was not detected or its timing is uncertain.
        surface_played: drum or cymbal detected; "" if unknown.
        surface_confidence: 0 to 1.
        loudness_db: against the usual tap of its surface; None if unknown or the recording is overdriven.
    """

    repetition: int
    index: int
    bar: int
    beat: float
    surface: str
    hand: str
    level: Level
    in_fill: bool
    landing: bool
    grace: bool
    outcome: Outcome
    written_seconds: float
    played_seconds: float | None = None
    lag_ms: float | None = None
    surface_played: str = ""
    surface_confidence: float = 0.0
    loudness_db: float | None = None

    @property
    def played(self) -> bool:
        """True if the stroke was detected, its timing certain or not."""
        return self.outcome in (Outcome.PLAYED, Outcome.TIMING_UNCERTAIN)

    @property
    def on_wrong_drum(self) -> bool:
        """True if it was surely played on another drum or cymbal than the written one."""
        other = self.surface_played not in ("", self.surface)
        return self.played and other and self.surface_confidence >= get_limit("surface.confidence")


@dataclass(frozen=True, slots=True, kw_only=True)
class ExtraReport:
    """A stroke that is not written.

    Attributes:
        repetition: number of the repetition, from 1.
        bar: from 1.
        seconds: in the take.
        surface: drum or cymbal detected; "" if unknown.
        loudness_db: of its onset.
    """

    repetition: int
    bar: int
    seconds: float
    surface: str
    loudness_db: float


@dataclass(frozen=True, slots=True, kw_only=True)
class BarReport:
    """One bar of one repetition; a landing's bar has no end and is left out.

    Attributes:
        repetition: number of the repetition, from 1.
        bar: from 1.
        fill: True if the fill is in it.
        start_seconds: in the take.
        bpm: as played.
        lag: of its main strokes, in milliseconds; None with none detected.
    """

    repetition: int
    bar: int
    fill: bool
    start_seconds: float
    bpm: float
    lag: Statistics | None
