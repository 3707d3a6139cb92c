"""Whether a take is the written phrase at all, and whether its eighths are swung as written.

Idea: a groove laid on strokes of another rhythm scatters by whole parts of a beat, whatever its tempo. Where
all of that scatter is one step between on-beats and off-beats, and the fill is as written, only the swing is
another.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import Enum
from statistics import fmean, pstdev

from fillwright.listen.limits import limit
from fillwright.listen.report.measures import select_main_strokes
from fillwright.listen.report.model import Report, StrokeReport, Swing

_SAME_PLACE = 0.03
_STRAIGHT, _SWUNG = 0.5, 2 / 3
_LEAST_SWUNG, _MOST_SWUNG = 0.58, 0.76
_EIGHTHS, _LEAST_PAIRS = 0.9, 6
_STEP_OFF, _STEP_SPREAD = 0.3, 0.25


class _Likeness(Enum):
    WRITTEN = "the written phrase"
    DOUBTFUL = "perhaps another phrase"
    OTHER = "another phrase"


@dataclass(frozen=True, slots=True, kw_only=True)
class _Eighths:
    """How a groove's eighths are played.

    Attributes:
        swing: against the writing.
        place: where in its beat the second eighth is written.
        step_ms: how much later than written it comes behind the first.
    """

    swing: Swing = Swing.WRITTEN
    place: float = 0.0
    step_ms: float = 0.0


_AS_WRITTEN = _Eighths()


def recognise_phrase(report: Report) -> Report | None:
    """A measured report without what means nothing where the swing is another one; None for another phrase."""
    eighths = _eighths(report)
    like = _likeness(report, eighths)
    if like is _Likeness.OTHER:
        return None
    if like is _Likeness.WRITTEN and eighths.swing is Swing.WRITTEN:
        return report
    passes = tuple(
        replace(one, rush_percent=None, rush_error_percent=None, landing_lag_ms=None) for one in report.passes
    )
    return replace(
        report,
        swing=eighths.swing,
        doubtful=like is _Likeness.DOUBTFUL,
        passes=passes,
        rush_percent=None,
        rush_error_percent=None,
        landing_ms=None,
        groove_ms=report.groove_ms if eighths.swing is Swing.WRITTEN else None,
    )


def _likeness(report: Report, eighths: _Eighths) -> _Likeness:
    many = _many_extra(report)
    fill = (report.fill_ms.deviation or 0.0) if report.fill_ms else 0.0
    apart = limit("phrase.apart_ms")
    if eighths.swing is not Swing.WRITTEN:
        fill = min(fill, _swung_spread_ms(report, eighths))
        return _Likeness.OTHER if fill >= apart or many else _Likeness.WRITTEN
    lags = [one.lag_ms for one in _groove(report) if one.lag_ms is not None]
    if lags and pstdev(lags) >= apart and report.beat_ms >= limit("phrase.least_beat_ms"):
        return _Likeness.OTHER if fill >= apart or many else _Likeness.DOUBTFUL
    return _Likeness.DOUBTFUL if many else _Likeness.WRITTEN


def _many_extra(report: Report) -> bool:
    extra = len(report.extra)
    return extra >= limit("phrase.least_extra") and extra >= limit("phrase.extra_share") * len(report.strokes)


def _groove(report: Report) -> list[StrokeReport]:
    own = select_main_strokes(report.strokes)
    return [one for one in own if not (one.in_fill or one.landing) and one.lag_ms is not None]


def _is_at(stroke: StrokeReport, place: float) -> bool:
    """Whether a stroke is written at that part of its beat."""
    away = abs(stroke.beat % 1 - place)
    return min(away, 1 - away) <= _SAME_PLACE


def _swung_spread_ms(report: Report, eighths: _Eighths) -> float:
    """How far the fill's lags spread once its off-beats too are taken as the groove plays them."""
    lags = [
        one.lag_ms - (eighths.step_ms if _is_at(one, eighths.place) else 0.0)
        for one in select_main_strokes(report.strokes)
        if one.in_fill and one.lag_ms is not None
    ]
    return pstdev(lags) if lags else 0.0


def _eighths(report: Report) -> _Eighths:
    """The groove's eighths; as written where it has others than eighths or nothing is sure."""
    groove = _groove(report)
    on = [one for one in groove if _is_at(one, 0.0)]
    rest = [one.beat % 1 for one in groove if not _is_at(one, 0.0)]
    place = sorted(rest)[len(rest) // 2] if rest else 0.0
    off = [one for one in groove if _is_at(one, place) and not _is_at(one, 0.0)]
    if len(on) + len(off) < _EIGHTHS * len(groove):
        return _AS_WRITTEN
    if abs(place - _STRAIGHT) <= _SAME_PLACE:
        other, wanted_ms = Swing.SHUFFLE, (_SWUNG - place) * report.beat_ms
    elif _LEAST_SWUNG <= place <= _MOST_SWUNG:
        other, wanted_ms = Swing.STRAIGHT, (_STRAIGHT - place) * report.beat_ms
    else:
        return _AS_WRITTEN
    steps = _steps(on, off)
    if len(steps) < _LEAST_PAIRS or pstdev(steps) > _STEP_SPREAD * abs(wanted_ms):
        return _AS_WRITTEN
    step = fmean(steps)
    if abs(step - wanted_ms) > _STEP_OFF * abs(wanted_ms):
        return _AS_WRITTEN
    return _Eighths(swing=other, place=place, step_ms=step)


def _steps(on: Sequence[StrokeReport], off: Sequence[StrokeReport]) -> list[float]:
    """How much later than its own on-beat each off-beat comes, against the writing."""
    before: dict[tuple[int, int, int], list[float]] = defaultdict(list)
    for one in on:
        if one.lag_ms is not None:
            before[one.turn, one.bar, round(one.beat)].append(one.lag_ms)
    made = []
    for one in off:
        own = before.get((one.turn, one.bar, int(one.beat)))
        if own and one.lag_ms is not None:
            made.append(one.lag_ms - fmean(own))
    return made
