"""From the measured report to the report as it is stored; the numbers are rounded to what they are worth.

Times keep a tenth of a millisecond, lags and loudness a tenth, tempos and rushes a hundredth.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any, Literal

from fillwright.listen.alignment.model import Outcome
from fillwright.listen.report.confidence import ConfidenceNote
from fillwright.listen.report.model import RepetitionReport, Report
from fillwright.listen.report.number_table import list_numbers
from fillwright.listen.report.sentences import Sentences
from fillwright.listen.report.stored.schema import ReportRecord
from fillwright.listen.report.stored.stroke_records import (
    BarRecord,
    ExtraRecord,
    PlaceRecord,
    RepetitionRecord,
    StrokeRecord,
    WrongDrumRecord,
)
from fillwright.listen.report.stored.touch_records import (
    BreakRecord,
    GraceRecord,
    HandDifferenceRecord,
    HandRecord,
    HandsRecord,
    RollRecord,
)
from fillwright.listen.report.stored.types import StrokeOutcome
from fillwright.listen.report.stored.verdict_records import ConfidenceRecord
from fillwright.listen.report.values.statistics import Statistics, Swing
from fillwright.listen.report.values.strokes import BarReport, ExtraReport, StrokeReport
from fillwright.listen.report.values.touch import (
    BreakReport,
    GraceReport,
    HandDifference,
    HandReport,
    HandsReport,
    RollReport,
)

_OUTCOMES: dict[Outcome, StrokeOutcome] = {
    Outcome.PLAYED: "played",
    Outcome.TIMING_UNCERTAIN: "timing uncertain",
    Outcome.MISSING: "missing",
    Outcome.NOT_AUDIBLE: "not audible",
}

_SWINGS = {Swing.WRITTEN: "as written", Swing.STRAIGHT: "straight", Swing.SHUFFLE: "shuffle"}


BreakPlace = Literal["groove", "before the fill", "fill", "before the landing"]


@dataclass(frozen=True, slots=True, kw_only=True)
class TakeOrigin:
    """The take that a report is about.

    Attributes:
        take: name of its file.
        against: title of what was written.
        fill: number of the fill in its pack; None for a MIDI file.
        remarks: what was merged, skipped or unknown in MIDI files, a sentence each.
    """

    take: str
    against: str
    fill: int | None = None
    remarks: tuple[str, ...] = ()


def record_report(
    origin: TakeOrigin, report: Report, sentences: Sentences, confidence: ConfidenceNote
) -> ReportRecord:
    """Return a report with its sentences and its confidence as it is stored."""
    numbers: dict[str, Any] = {**_summary(report), **_lists(report)}
    return ReportRecord(
        take=origin.take,
        against=origin.against,
        fill=origin.fill,
        words=sentences,
        numbers=list_numbers(report),
        confidence=ConfidenceRecord(level=confidence.level.value, limits=confidence.limits),
        remarks=origin.remarks,
        **numbers,
    )


def _summary(report: Report) -> dict[str, Any]:
    """Return the numbers of the whole take by key."""
    return {
        "refused": report.refused,
        "tempo_target": _round(report.tempo_target, 2),
        "tempo_found": _round(report.tempo_found, 2),
        "tempo_played": _round(report.tempo_played, 2),
        "seconds": _round(report.seconds, 3),
        "share_matched": _round(report.share_matched, 3),
        "strokes_written": len(report.strokes),
        "onsets_matched": sum(stroke.played for stroke in report.strokes),
        "drift_percent": _round(report.drift_percent, 2),
        "fill_rush_percent": _round(report.rush_percent, 2),
        "fill_rush_error_percent": _round(report.rush_error_percent, 2),
        "landing_lag_ms": _mean(report.landing_ms),
        "landing_unevenness_ms": _deviation(report.landing_ms),
        "groove_unevenness_ms": _deviation(report.groove_ms),
        "fill_unevenness_ms": _deviation(report.fill_ms),
        "accent_db": _round(report.accent_db, 1),
        "ghost_db": _round(report.ghost_db, 1),
        "landing_pulse_ms": _round(report.pulse.lag_ms, 1) if report.pulse else None,
        "landing_pulse_error_ms": _round(report.pulse.error_ms, 1) if report.pulse else None,
        "fill_accent_db": _round(report.fill_accent_db, 1),
        "drums_from": report.surfaces_from.value,
        "swing": _SWINGS[report.swing],
        "doubtful": report.doubtful,
    }


def _lists(report: Report) -> dict[str, Any]:
    """Return the strokes, bars, repetitions, grace notes, rolls and hands by key."""
    return {
        "missing": _places(report.missing),
        "not_audible": _places(report.not_audible),
        "extra": tuple(map(_extra, report.extra)),
        "wrong_surface": tuple(map(_wrong_drum, report.wrong_surface)),
        "strokes": tuple(map(_stroke, report.strokes)),
        "bars": tuple(map(_bar, report.bars)),
        "repetitions": tuple(map(_repetition, report.repetitions)),
        "flams": tuple(map(_grace, report.graces)),
        "rolls": tuple(map(_roll, report.rolls)),
        "hands": _hands(report.hands) if report.hands else None,
        "breaks": tuple(map(_break, report.breaks)),
    }


def _number(value: float, digits: int) -> float:
    return round(float(value), digits) + 0.0  # no -0.0


def _round(value: float | None, digits: int) -> float | None:
    return None if value is None else _number(value, digits)


def _mean(statistics: Statistics | None) -> float | None:
    return _round(statistics.mean, 1) if statistics else None


def _deviation(statistics: Statistics | None) -> float | None:
    return _round(statistics.deviation, 1) if statistics else None


def _locate(stroke: StrokeReport) -> dict[str, Any]:
    return {
        "time_s": _number(stroke.written_seconds, 4),
        "repetition": stroke.repetition,
        "bar": stroke.bar,
        "beat": _number(stroke.beat, 3),
        "surface": stroke.surface,
        "hand": stroke.hand,
        "grace": stroke.grace,
    }


def _places(strokes: Iterable[StrokeReport]) -> tuple[PlaceRecord, ...]:
    return tuple(PlaceRecord(**_locate(stroke)) for stroke in strokes)


def _wrong_drum(stroke: StrokeReport) -> WrongDrumRecord:
    return WrongDrumRecord(
        **_locate(stroke),
        surface_played=stroke.surface_played,
        confidence=_number(stroke.surface_confidence, 2),
    )


def _extra(extra: ExtraReport) -> ExtraRecord:
    return ExtraRecord(
        time_s=_number(extra.seconds, 4),
        repetition=extra.repetition,
        bar=extra.bar,
        surface=extra.surface,
        loudness_db=_number(extra.loudness_db, 1),
    )


def _stroke(stroke: StrokeReport) -> StrokeRecord:
    return StrokeRecord(
        repetition=stroke.repetition,
        bar=stroke.bar,
        beat=_number(stroke.beat, 3),
        written_s=_number(stroke.written_seconds, 4),
        played_s=_round(stroke.played_seconds, 4),
        lag_ms=_round(stroke.lag_ms, 1),
        outcome=_OUTCOMES[stroke.outcome],
        surface_written=stroke.surface,
        surface_played=stroke.surface_played,
        surface_confidence=_number(stroke.surface_confidence, 2),
        hand=stroke.hand,
        dynamics=stroke.level.value,
        loudness_db=_round(stroke.loudness_db, 1),
        grace=stroke.grace,
        fill=stroke.in_fill,
        landing=stroke.landing,
    )


def _bar(bar: BarReport) -> BarRecord:
    return BarRecord(
        repetition=bar.repetition,
        bar=bar.bar,
        fill=bar.fill,
        start_s=_number(bar.start_seconds, 4),
        bpm=_number(bar.bpm, 2),
        lag_ms=_mean(bar.lag),
        unevenness_ms=_deviation(bar.lag),
    )


def _repetition(repetition: RepetitionReport) -> RepetitionRecord:
    return RepetitionRecord(
        repetition=repetition.repetition,
        start_s=_number(repetition.start_seconds, 4),
        groove_bpm=_number(repetition.groove_bpm, 2),
        drift_percent=_round(repetition.drift_percent, 2),
        fill_rush_percent=_round(repetition.rush_percent, 2),
        fill_rush_error_percent=_round(repetition.rush_error_percent, 2),
        landing_lag_ms=_round(repetition.landing_lag_ms, 1),
        landing_pulse_ms=_round(repetition.pulse.lag_ms, 1) if repetition.pulse else None,
        landing_pulse_error_ms=_round(repetition.pulse.error_ms, 1) if repetition.pulse else None,
    )


def _break(flow_break: BreakReport) -> BreakRecord:
    place: BreakPlace = "groove"
    if flow_break.before_fill:
        place = "before the fill"
    elif flow_break.before_landing:
        place = "before the landing"
    elif flow_break.in_fill:
        place = "fill"
    return BreakRecord(
        repetition=flow_break.repetition,
        bar=flow_break.bar,
        beat=_number(flow_break.beat, 3),
        kind=flow_break.kind.value,
        beats=_number(flow_break.beats, 2),
        place=place,
    )


def _grace(grace: GraceReport) -> GraceRecord:
    return GraceRecord(
        repetition=grace.repetition,
        bar=grace.bar,
        beat=_number(grace.beat, 3),
        surface=grace.surface,
        kind=grace.kind,
        place=grace.number,
        written_gap_ms=_number(grace.written_gap_ms, 1),
        gap_ms=_number(grace.gap_ms, 1),
    )


def _roll(roll: RollReport) -> RollRecord:
    return RollRecord(
        repetition=roll.repetition,
        bar=roll.bar,
        strokes=roll.strokes,
        interval_ms=_mean(roll.interval_ms),
        interval_unevenness_ms=_deviation(roll.interval_ms),
        loudness_unevenness_db=_deviation(roll.loudness_db),
    )


def _hands(hands: HandsReport) -> HandsRecord:
    return HandsRecord(
        right=_hand(hands.right),
        left=_hand(hands.left),
        right_less_left=_difference(hands.lag_ms, hands.loudness_db),
        pooled=hands.pooled,
    )


def _difference(lag: HandDifference | None, loudness: HandDifference | None) -> HandDifferenceRecord:
    return HandDifferenceRecord(
        lag_ms=_round(lag.value, 1) if lag else None,
        lag_error_ms=_round(lag.error, 1) if lag else None,
        loudness_db=_round(loudness.value, 1) if loudness else None,
        loudness_error_db=_round(loudness.error, 1) if loudness else None,
    )


def _hand(hand: HandReport | None) -> HandRecord | None:
    if hand is None:
        return None
    loudness = hand.loudness_db
    return HandRecord(
        strokes=hand.lag_ms.count,
        lag_ms=_mean(hand.lag_ms),
        lag_error_ms=_round(hand.lag_ms.error, 1),
        unevenness_ms=_deviation(hand.lag_ms),
        loudness_db=_mean(loudness),
        loudness_error_db=_round(loudness.error, 1) if loudness else None,
    )
