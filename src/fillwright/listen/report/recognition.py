"""Recognition of the written phrase, and of its swing.

Idea: a groove aligned with strokes of another rhythm is uneven by whole parts of a beat, at any tempo. If all
of that is one step between on-beats and off-beats, and the fill is as written, only the swing differs.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import Enum
from statistics import fmean, pstdev

from fillwright.listen.limits import get_limit
from fillwright.listen.report.measures import select_main_strokes
from fillwright.listen.report.model import Report
from fillwright.listen.report.values.statistics import Swing
from fillwright.listen.report.values.strokes import StrokeReport

# Parts of a beat and shares; ours, from trials with simulated takes.
_SAME_PLACE = 0.03  # two places this near are the same, in beats
_STRAIGHT, _SWUNG = 0.5, 2 / 3  # place of the second eighth in its beat
_LEAST_SWUNG, _MOST_SWUNG = 0.58, 0.76  # places that count as swung
_EIGHTHS = 0.9  # share of the groove's strokes that are eighths in a groove of eighths
_LEAST_PAIRS = 6  # pairs of on-beat and off-beat that show a swing
_STEP_OFF, _STEP_SPREAD = 0.3, 0.25  # error and deviation of the step, as shares of the expected step


class _Likeness(Enum):
    """Likeness of a take to the written phrase."""

    WRITTEN = "the written phrase"
    DOUBTFUL = "perhaps another phrase"
    OTHER = "another phrase"


@dataclass(frozen=True, slots=True, kw_only=True)
class _Eighths:
    """Feel of a groove's eighths.

    Attributes:
        swing: against the notation.
        second: place of the written second eighth in its beat, in beats.
        step_ms: how much later than written it follows the first.
    """

    swing: Swing = Swing.WRITTEN
    second: float = 0.0
    step_ms: float = 0.0


_AS_WRITTEN = _Eighths()


def recognise_phrase(report: Report) -> Report | None:
    """Return a report without the numbers that another swing makes meaningless; None for another phrase."""
    eighths = _measure_eighths(report)
    likeness = _compare_with_phrase(report, eighths)
    if likeness is _Likeness.OTHER:
        return None
    if likeness is _Likeness.WRITTEN and eighths.swing is Swing.WRITTEN:
        return report
    repetitions = tuple(
        replace(repetition, rush_percent=None, rush_error_percent=None, landing_lag_ms=None, pulse=None)
        for repetition in report.repetitions
    )
    return replace(
        report,
        swing=eighths.swing,
        doubtful=likeness is _Likeness.DOUBTFUL,
        repetitions=repetitions,
        rush_percent=None,
        rush_error_percent=None,
        landing_ms=None,
        pulse=None,
        groove_ms=report.groove_ms if eighths.swing is Swing.WRITTEN else None,
    )


def _compare_with_phrase(report: Report, eighths: _Eighths) -> _Likeness:
    many = _has_many_extra(report)
    fill = (report.fill_ms.deviation or 0.0) if report.fill_ms else 0.0
    apart = get_limit("phrase.apart_ms")
    if eighths.swing is not Swing.WRITTEN:
        fill = min(fill, _measure_swung_fill(report, eighths))
        return _Likeness.OTHER if fill >= apart or many else _Likeness.WRITTEN
    lags = [stroke.lag_ms for stroke in _select_groove(report) if stroke.lag_ms is not None]
    if lags and pstdev(lags) >= apart and report.beat_ms >= get_limit("phrase.least_beat_ms"):
        return _Likeness.OTHER if fill >= apart or many else _Likeness.DOUBTFUL
    return _Likeness.DOUBTFUL if many else _Likeness.WRITTEN


def _has_many_extra(report: Report) -> bool:
    extra = len(report.extra)
    share = get_limit("phrase.extra_share") * len(report.strokes)
    return extra >= get_limit("phrase.least_extra") and extra >= share


def _select_groove(report: Report) -> list[StrokeReport]:
    """Return the groove's main strokes whose timing is certain."""
    mains = select_main_strokes(report.strokes)
    return [stroke for stroke in mains if not (stroke.in_fill or stroke.landing) and stroke.lag_ms is not None]


def _is_at(stroke: StrokeReport, part: float) -> bool:
    """Return True if a stroke is written at that part of its beat."""
    away = abs(stroke.beat % 1 - part)
    return min(away, 1 - away) <= _SAME_PLACE


def _measure_swung_fill(report: Report, eighths: _Eighths) -> float:
    """Return the deviation of the fill's lags, in ms, with its off-beats taken as the groove plays them."""
    lags = [
        stroke.lag_ms - (eighths.step_ms if _is_at(stroke, eighths.second) else 0.0)
        for stroke in select_main_strokes(report.strokes)
        if stroke.in_fill and stroke.lag_ms is not None
    ]
    return pstdev(lags) if lags else 0.0


def _measure_eighths(report: Report) -> _Eighths:
    """Return how the groove's eighths are played; as written if it has other notes or the step is unclear."""
    groove = _select_groove(report)
    on = [stroke for stroke in groove if _is_at(stroke, 0.0)]
    rest = [stroke.beat % 1 for stroke in groove if not _is_at(stroke, 0.0)]
    second = sorted(rest)[len(rest) // 2] if rest else 0.0
    off = [stroke for stroke in groove if _is_at(stroke, second) and not _is_at(stroke, 0.0)]
    if len(on) + len(off) < _EIGHTHS * len(groove):
        return _AS_WRITTEN
    if abs(second - _STRAIGHT) <= _SAME_PLACE:
        other, wanted_ms = Swing.SHUFFLE, (_SWUNG - second) * report.beat_ms
    elif _LEAST_SWUNG <= second <= _MOST_SWUNG:
        other, wanted_ms = Swing.STRAIGHT, (_STRAIGHT - second) * report.beat_ms
    else:
        return _AS_WRITTEN
    steps = _measure_steps(on, off)
    if len(steps) < _LEAST_PAIRS or pstdev(steps) > _STEP_SPREAD * abs(wanted_ms):
        return _AS_WRITTEN
    step = fmean(steps)
    if abs(step - wanted_ms) > _STEP_OFF * abs(wanted_ms):
        return _AS_WRITTEN
    return _Eighths(swing=other, second=second, step_ms=step)


def _measure_steps(on: Sequence[StrokeReport], off: Sequence[StrokeReport]) -> list[float]:
    """Return how much later than written each off-beat follows its on-beat, in ms."""
    before: dict[tuple[int, int, int], list[float]] = defaultdict(list)
    for stroke in on:
        if stroke.lag_ms is not None:
            before[stroke.repetition, stroke.bar, round(stroke.beat)].append(stroke.lag_ms)
    steps = []
    for stroke in off:
        lags = before.get((stroke.repetition, stroke.bar, int(stroke.beat)))
        if lags and stroke.lag_ms is not None:
            steps.append(stroke.lag_ms - fmean(lags))
    return steps
