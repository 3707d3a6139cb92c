"""Measures of a take: drift, unevenness, flams, rolls, accents, hands.

Each takes the strokes of all repetitions and returns None, or nothing, with too few to measure.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from statistics import fmean, stdev

from fillwright.listen.report.values.statistics import Statistics
from fillwright.listen.report.values.strokes import StrokeReport

_SAME_INTERVAL_SECONDS = 0.0005  # written intervals this near are the same; ours: far above rounding
_LEAST_FILL_STROKES = 4  # fewer don't show a line and the unevenness round it; ours


def select_main_strokes(strokes: Iterable[StrokeReport]) -> list[StrokeReport]:
    """Return the strokes that are not grace notes."""
    return [stroke for stroke in strokes if not stroke.grace]


def summarise(values: Sequence[float]) -> Statistics | None:
    """Return mean and standard deviation of some values; None without values.

    >>> summarise([1.0, 3.0])
    Statistics(mean=2.0, deviation=1.4142135623730951, count=2)
    """
    if not values:
        return None
    return Statistics(
        mean=fmean(values), deviation=stdev(values) if len(values) > 1 else None, count=len(values)
    )


def average_by_certainty(
    values: Iterable[tuple[float | None, float | None]],
) -> tuple[float, float | None] | None:
    """Return the mean of values weighted by the inverse square of their standard errors, and its own error.

    If a value has no error, all count alike and the mean has none.

    >>> average_by_certainty([(1.0, 1.0), (3.0, 1.0), (1.0, 1.0), (3.0, 1.0)])
    (2.0, 0.5)
    """
    known = [(value, error) for value, error in values if value is not None]
    if not known:
        return None
    errors = [error for _, error in known if error]
    if len(errors) < len(known):
        return fmean(value for value, _ in known), None
    weights = [error**-2 for error in errors]
    mean = sum(w * value for w, (value, _) in zip(weights, known, strict=True)) / sum(weights)
    return mean, float(sum(weights)) ** -0.5


def measure_drift(bpm: Sequence[float]) -> float | None:
    """Return how much faster the last bar is than the first, in percent, by a line through all.

    None for fewer than two bars.

    >>> round(measure_drift([100.0, 101.0, 102.0]), 6)
    2.0
    """
    if len(bpm) < 2:
        return None
    slope, first = _fit_line(list(range(len(bpm))), bpm)
    return 100 * slope * (len(bpm) - 1) / first


def measure_fill_unevenness(strokes: Sequence[StrokeReport]) -> Statistics | None:
    """Return the unevenness of the fill's main strokes against its own tempo, in ms; None with too few."""
    steady = remove_rush(strokes)
    lags = [lag for _, lag in steady]
    if len(lags) < _LEAST_FILL_STROKES:
        return None
    free = len(lags) - 2 * len({stroke.repetition for stroke, _ in steady})
    return Statistics(mean=0.0, deviation=float(sum(lag**2 for lag in lags) / free) ** 0.5, count=len(lags))


def remove_rush(strokes: Sequence[StrokeReport]) -> list[tuple[StrokeReport, float]]:
    """Return the fill's main strokes with their lags against the fill's own tempo, in ms.

    A line fitted through the lags of each repetition's fill is subtracted.
    """
    by_repetition: dict[int, list[tuple[StrokeReport, float]]] = defaultdict(list)
    for stroke in select_main_strokes(strokes):
        if stroke.in_fill and stroke.lag_ms is not None:
            by_repetition[stroke.repetition].append((stroke, stroke.lag_ms))
    steady = []
    for pairs in by_repetition.values():
        if len(pairs) < _LEAST_FILL_STROKES:
            continue
        times = [stroke.written_seconds for stroke, _ in pairs]
        slope, first = _fit_line([time - times[0] for time in times], [lag for _, lag in pairs])
        steady += [(stroke, lag - first - slope * (stroke.written_seconds - times[0])) for stroke, lag in pairs]
    return steady


def _fit_line(places: Sequence[float], values: Sequence[float]) -> tuple[float, float]:
    """Return slope and value at 0 of the least-squares line through some points."""
    x, y = fmean(places), fmean(values)
    below = sum((px - x) ** 2 for px in places)
    if below == 0:
        return 0.0, y
    slope = sum((px - x) * (value - y) for px, value in zip(places, values, strict=True)) / below
    return slope, y - slope * x
