"""Loudness against the taps, and comparison of the two hands in lag and loudness."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from statistics import fmean

from fillwright.listen.limits import get_limit
from fillwright.listen.report.measures import remove_rush, select_main_strokes, summarise
from fillwright.listen.report.values.strokes import StrokeReport
from fillwright.listen.report.values.touch import (
    HandDifference,
    HandReport,
    HandsReport,
)
from fillwright.music.stroke import Level

_HANDS = ("R", "L")


def compare_hands(strokes: Sequence[StrokeReport]) -> HandsReport | None:
    """Compare the hands in the fill; None if no hands are known.

    Lags are against the fill's own tempo, so that a rush does not count for a hand. Differences are taken
    within the drums and levels that both hands play, since each sound has an attack time of its own.
    """
    steady = [(stroke, lag) for stroke, lag in remove_rush(strokes) if stroke.hand in _HANDS]
    if not steady:
        return None
    loud = [
        (stroke, stroke.loudness_db)
        for stroke in select_main_strokes(strokes)
        if stroke.in_fill and stroke.hand in _HANDS and stroke.loudness_db is not None
    ]
    lags = {side: [lag for stroke, lag in steady if stroke.hand == side] for side in _HANDS}
    loudness = {side: [value for stroke, value in loud if stroke.hand == side] for side in _HANDS}
    repetitions = len({stroke.repetition for stroke, _ in steady})
    enough = min(len(side) for side in lags.values()) >= get_limit("hands.strokes")
    return HandsReport(
        right=_report_hand(lags["R"], loudness["R"]),
        left=_report_hand(lags["L"], loudness["L"]),
        lag_ms=_subtract_left(steady),
        loudness_db=_subtract_left(loud),
        pooled=enough and repetitions >= get_limit("hands.repetitions"),
    )


def _report_hand(lags: Sequence[float], loudness: Sequence[float]) -> HandReport | None:
    lag = summarise(lags)
    if lag is None or lag.count < get_limit("level.least_strokes"):
        return None
    return HandReport(lag_ms=lag, loudness_db=summarise(loudness) if len(loudness) > 1 else None)


def _subtract_left(values: Sequence[tuple[StrokeReport, float]]) -> HandDifference | None:
    """Return right minus left within each surface and level that both hands play, weighted by certainty."""
    groups: dict[tuple[str, Level], dict[str, list[float]]] = defaultdict(lambda: {"R": [], "L": []})
    for stroke, value in values:
        groups[stroke.surface, stroke.level][stroke.hand].append(value)
    both = [(group["R"], group["L"]) for group in groups.values() if min(len(group["R"]), len(group["L"])) >= 2]
    if not both:
        return None
    residuals = [value - fmean(side) for pair in both for side in pair for value in side]
    free = len(residuals) - 2 * len(both)
    variance = sum(value**2 for value in residuals) / free
    weights = [1 / (1 / len(right) + 1 / len(left)) for right, left in both]
    mean = sum(w * (fmean(right) - fmean(left)) for w, (right, left) in zip(weights, both, strict=True))
    return HandDifference(value=mean / sum(weights), error=float(variance / sum(weights)) ** 0.5)


def compare_with_taps(strokes: Sequence[StrokeReport], level: Level) -> float | None:
    """Return how much louder strokes of a level are than taps, in dB, on drums that have both."""
    by_surface = _group_loudness(strokes)
    pairs = [
        (fmean(groups[level]) - fmean(groups[Level.TAP]), len(groups[level]))
        for groups in by_surface.values()
        if groups[level] and groups[Level.TAP]
    ]
    total = sum(count for _, count in pairs)
    if total < get_limit("level.least_strokes"):
        return None
    return sum(value * count for value, count in pairs) / total


def _group_loudness(strokes: Sequence[StrokeReport]) -> dict[str, defaultdict[Level, list[float]]]:
    """Return the loudness of main strokes, in dB, by surface and level."""
    groups: dict[str, defaultdict[Level, list[float]]] = defaultdict(lambda: defaultdict(list))
    for stroke in select_main_strokes(strokes):
        if stroke.loudness_db is not None:
            groups[stroke.surface][stroke.level].append(stroke.loudness_db)
    return groups
