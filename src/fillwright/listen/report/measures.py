"""Measures of a take: drift, unevenness, flams, rolls, accents, hands.

Each takes the strokes of all repetitions and returns None, or nothing, with too few to measure.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from itertools import pairwise
from statistics import fmean, stdev

from fillwright.listen.alignment.model import Outcome
from fillwright.listen.limits import get_limit
from fillwright.listen.report.model import (
    GraceReport,
    HandDifference,
    HandReport,
    HandsReport,
    RollReport,
    Statistics,
    StrokeReport,
)
from fillwright.listen.written import WrittenPhrase
from fillwright.music.stroke import Level

_HANDS = ("R", "L")
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


def measure_graces(phrase: WrittenPhrase, strokes: Sequence[StrokeReport]) -> tuple[GraceReport, ...]:
    """Return how far ahead each grace note was played, for those detected with their main note."""
    graces_of: dict[int, list[int]] = defaultdict(list)
    for index, written in enumerate(phrase.strokes):
        if written.grace_of is not None:
            graces_of[written.grace_of].append(index)
    by_index = {(stroke.repetition, stroke.index): stroke for stroke in strokes}
    reports = []
    for repetition in dict.fromkeys(stroke.repetition for stroke in strokes):
        for main_index, indices in graces_of.items():
            main = by_index.get((repetition, main_index))
            in_order = sorted(indices, key=lambda index: phrase.strokes[index].seconds)
            for number, index in enumerate(in_order, start=1):
                gap_ms = _measure_gap(by_index.get((repetition, index)), main)
                if main is None or gap_ms is None:
                    continue
                ahead = phrase.strokes[main_index].seconds - phrase.strokes[index].seconds
                reports.append(
                    GraceReport(
                        repetition=repetition,
                        bar=main.bar,
                        beat=main.beat,
                        surface=main.surface,
                        kind="flam" if len(indices) == 1 else "drag",
                        number=number,
                        written_gap_ms=ahead * 1000,
                        gap_ms=gap_ms,
                    )
                )
    return tuple(reports)


def _measure_gap(grace: StrokeReport | None, main: StrokeReport | None) -> float | None:
    """Return how far ahead of its main note a grace note was played, in ms; None if either is uncertain."""
    if grace is None or main is None or not grace.outcome is main.outcome is Outcome.PLAYED:
        return None
    if grace.played_seconds is None or main.played_seconds is None:
        return None
    return (main.played_seconds - grace.played_seconds) * 1000


def measure_rolls(phrase: WrittenPhrase, strokes: Sequence[StrokeReport]) -> tuple[RollReport, ...]:
    """Return the rows of the fill's strokes at one written interval, with how evenly they were played."""
    reports = []
    for repetition in dict.fromkeys(stroke.repetition for stroke in strokes):
        in_hands = [
            stroke
            for stroke in select_main_strokes(strokes)
            if stroke.repetition == repetition and stroke.in_fill and not stroke.hand.endswith("foot")
        ]
        for row in _cut_rows(phrase, in_hands):
            interval = summarise(_gaps_ms(row))
            if interval is None or interval.count + 1 < get_limit("roll.strokes"):
                continue
            taps = [
                stroke.loudness_db
                for stroke in row
                if stroke.level is Level.TAP and stroke.loudness_db is not None
            ]
            reports.append(
                RollReport(
                    repetition=repetition,
                    bar=row[0].bar,
                    strokes=len(row),
                    interval_ms=interval,
                    loudness_db=summarise(taps) if len(taps) >= get_limit("level.least_strokes") else None,
                )
            )
    return tuple(reports)


def _gaps_ms(row: Sequence[StrokeReport]) -> list[float]:
    """Return the played gaps between neighbours whose timing is certain, in ms."""
    return [
        (after.played_seconds - before.played_seconds) * 1000
        for before, after in pairwise(row)
        if before.lag_ms is not None and after.lag_ms is not None
        if before.played_seconds is not None and after.played_seconds is not None
    ]


def _cut_rows(phrase: WrittenPhrase, strokes: Sequence[StrokeReport]) -> list[list[StrokeReport]]:
    """Cut strokes into rows of one written interval each; two at once don't belong to a row."""
    rows: list[list[StrokeReport]] = []
    gap = -1.0
    for before, after in pairwise(strokes):
        now = phrase.strokes[after.index].seconds - phrase.strokes[before.index].seconds
        if rows and gap > 0 and abs(now - gap) < _SAME_INTERVAL_SECONDS:
            rows[-1].append(after)
        else:
            rows.append([before, after] if now > 0 else [])
            gap = now
    return [row for row in rows if len(row) >= get_limit("roll.strokes")]


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
