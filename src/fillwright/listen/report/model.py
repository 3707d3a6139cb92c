"""The report on a take as values in memory; `schema` holds the stored form."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum
from statistics import fmean
from typing import Literal

from fillwright.listen.alignment.model import BreakKind, Outcome, SurfaceSource
from fillwright.listen.limits import get_limit
from fillwright.music.stroke import Level


class Swing(Enum):
    """How the groove's eighths are played."""

    WRITTEN = "as written"
    STRAIGHT = "straight, but the music is a shuffle"
    SHUFFLE = "swung, but the music is straight eighths"


@dataclass(frozen=True, slots=True, kw_only=True)
class Statistics:
    """Mean and standard deviation of a value measured several times.

    Attributes:
        mean: of all values.
        deviation: standard deviation; None for a single value.
        count: number of values.
    """

    mean: float
    deviation: float | None
    count: int

    @property
    def error(self) -> float | None:
        """Standard error of the mean."""
        return None if self.deviation is None else self.deviation / float(self.count) ** 0.5


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
    """How late a landing is against the player's own pulse of the last beats, in ms, with its error."""

    lag_ms: float
    error_ms: float


@dataclass(frozen=True, slots=True, kw_only=True)
class RepetitionReport:
    """One repetition of the phrase.

    Attributes:
        repetition: its number, from 1.
        start_seconds: in the take.
        groove_bpm: tempo of its groove.
        drift_percent: how much faster its groove ends than it starts; None with one bar.
        rush_percent: how much faster its fill is than its groove; None if unknown.
        rush_error_percent: standard error of that.
        landing_lag_ms: against the groove's tempo; None without a landing.
        pulse: the landing against the player's own pulse; None without a landing or with too few strokes.
    """

    repetition: int
    start_seconds: float
    groove_bpm: float
    drift_percent: float | None
    rush_percent: float | None
    rush_error_percent: float | None
    landing_lag_ms: float | None
    pulse: PulseLag | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Report:
    """All numbers of a take.

    Attributes:
        refused: "" or why nothing is scored: a word of `Alignment.refused`, "too few" or "clipped".
        tempo_target: in bpm, one for each beat of the meter.
        tempo_found: as played; None where nothing fits.
        beat_ms: length of a beat of the meter at the target tempo.
        seconds: length of the take.
        strokes: every written stroke of every repetition, in order.
        extra: strokes that are not written.
        bars: of every repetition.
        repetitions: of the phrase.
        rush_percent: how much faster the fill is than the groove, over all repetitions; None if unknown.
        rush_error_percent: its standard error.
        landing_ms: lag of the landings, None without one.
        groove_ms: lag of the groove's main strokes.
        fill_ms: unevenness of the fill's main strokes against the fill's own tempo; its mean is 0.
        graces: flams and drags.
        rolls: even rows of the fill.
        accent_db: accents minus taps, on drums that have both; None with too few.
        ghost_db: ghost notes minus taps, the same way.
        hands: both hands compared.
        clipped: True for an overdriven recording, so that loudness is not judged.
        share_matched: share of the main strokes that were found.
        from_midi: True for a take from an electronic kit, so that times and drums are exact.
        swing: how the groove's eighths are played; where it is not as written, landing and unevenness are None.
        doubtful: True if another phrase than the written one may have been played.
        pulse: the landings against the player's own pulse of the last beats; None if unknown.
        breaks: places at which the flow differs from the written phrase.
        fill_accent_db: as `accent_db`, in the fill alone.
        surfaces_from: the evidence for the drums that were struck.
    """

    refused: str
    tempo_target: float
    tempo_found: float | None
    beat_ms: float
    seconds: float
    strokes: tuple[StrokeReport, ...] = ()
    extra: tuple[ExtraReport, ...] = ()
    bars: tuple[BarReport, ...] = ()
    repetitions: tuple[RepetitionReport, ...] = ()
    rush_percent: float | None = None
    rush_error_percent: float | None = None
    landing_ms: Statistics | None = None
    groove_ms: Statistics | None = None
    fill_ms: Statistics | None = None
    graces: tuple[GraceReport, ...] = ()
    rolls: tuple[RollReport, ...] = ()
    accent_db: float | None = None
    ghost_db: float | None = None
    hands: HandsReport | None = None
    clipped: bool = False
    share_matched: float = 0.0
    from_midi: bool = False
    swing: Swing = Swing.WRITTEN
    doubtful: bool = False
    pulse: PulseLag | None = None
    breaks: tuple[BreakReport, ...] = ()
    fill_accent_db: float | None = None
    surfaces_from: SurfaceSource = SurfaceSource.NONE

    @property
    def missing(self) -> tuple[StrokeReport, ...]:
        """Strokes that the recording would show and does not."""
        return tuple(stroke for stroke in self.strokes if stroke.outcome is Outcome.MISSING)

    @property
    def not_audible(self) -> tuple[StrokeReport, ...]:
        """Strokes that this recording can't show."""
        return tuple(stroke for stroke in self.strokes if stroke.outcome is Outcome.NOT_AUDIBLE)

    @property
    def wrong_surface(self) -> tuple[StrokeReport, ...]:
        """Strokes that were surely played on another surface than the written one."""
        return tuple(stroke for stroke in self.strokes if stroke.on_wrong_drum)

    @property
    def tempo_played(self) -> float | None:
        """Tempo of the grooves over all repetitions, in bpm."""
        if not self.repetitions:
            return self.tempo_found
        return sum(repetition.groove_bpm for repetition in self.repetitions) / len(self.repetitions)

    @property
    def drift_percent(self) -> float | None:
        """Mean drift of the grooves over all repetitions; None if unknown."""
        drifts = [
            repetition.drift_percent for repetition in self.repetitions if repetition.drift_percent is not None
        ]
        return fmean(drifts) if drifts else None
