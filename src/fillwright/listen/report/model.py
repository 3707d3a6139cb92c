"""The report on a take as values in memory; `schema` holds the stored form."""

from __future__ import annotations

from dataclasses import dataclass
from statistics import fmean

from fillwright.listen.alignment.model import Outcome, SurfaceSource
from fillwright.listen.report.values.statistics import Statistics, Swing
from fillwright.listen.report.values.strokes import BarReport, ExtraReport, StrokeReport
from fillwright.listen.report.values.touch import BreakReport, GraceReport, HandsReport, PulseLag, RollReport


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
