"""Measures of a take: spread, drift, the fill's scatter, flams, rolls, accents, hands.

Each takes the strokes of all passes and gives None, or nothing, where there are too few to say anything.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Sequence
from itertools import pairwise
from statistics import fmean, stdev

from fillwright.listen.alignment.model import Outcome
from fillwright.listen.limits import limit
from fillwright.listen.report.model import (
    HandDifference,
    GraceReport,
    HandReport,
    HandsReport,
    RollReport,
    Statistics,
    StrokeReport,
)
from fillwright.listen.written import Expected
from fillwright.music.stroke import Level

_HANDS = ("R", "L")
_SAME_INTERVAL_SECONDS = 0.0005


def select_main_strokes(strokes: Iterable[StrokeReport]) -> list[StrokeReport]:
    """The strokes that are no grace notes."""
    return [stroke for stroke in strokes if not stroke.grace]


def summarise(values: Sequence[float]) -> Statistics | None:
    """Mean and standard deviation of some values; None of none.

    >>> spread([1.0, 3.0])
    Spread(mean=2.0, deviation=1.4142135623730951, count=2)
    """
    if not values:
        return None
    return Statistics(mean=fmean(values), deviation=stdev(values) if len(values) > 1 else None, count=len(values))


def average_by_certainty(values: Iterable[tuple[float | None, float | None]]) -> tuple[float, float | None] | None:
    """The mean of values with standard errors, the surer the heavier, and its own standard error.

    Where a value has no error, all count alike and the mean has none.

    >>> weighted([(1.0, 1.0), (3.0, 1.0), (1.0, 1.0), (3.0, 1.0)])
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
    """How much faster the last bar is than the first, by a line through all; None for fewer than two.

    >>> round(drift_percent([100.0, 101.0, 102.0]), 6)
    2.0
    """
    if len(bpm) < 2:
        return None
    slope, first = _line(list(range(len(bpm))), bpm)
    return 100 * slope * (len(bpm) - 1) / first


def measure_fill_unevenness(strokes: Sequence[StrokeReport]) -> Statistics | None:
    """How far the fill's main strokes scatter round a line through each pass's fill; None with too few."""
    off = remove_rush(strokes)
    rest = [lag for _, lag in off]
    if len(rest) < 4:
        return None
    free = len(rest) - 2 * len({stroke.turn for stroke, _ in off})
    return Statistics(mean=0.0, deviation=float(sum(lag**2 for lag in rest) / free) ** 0.5, count=len(rest))


def remove_rush(strokes: Sequence[StrokeReport]) -> list[tuple[StrokeReport, float]]:
    """The fill's main strokes with what is left of their lags once each pass's rush is taken out."""
    by_turn: dict[int, list[tuple[StrokeReport, float]]] = defaultdict(list)
    for stroke in select_main_strokes(strokes):
        if stroke.in_fill and stroke.lag_ms is not None:
            by_turn[stroke.turn].append((stroke, stroke.lag_ms))
    made = []
    for own in by_turn.values():
        if len(own) < 4:
            continue
        times = [stroke.written_seconds for stroke, _ in own]
        slope, first = _line([time - times[0] for time in times], [lag for _, lag in own])
        made += [(stroke, lag - first - slope * (stroke.written_seconds - times[0])) for stroke, lag in own]
    return made


def _line(places: Sequence[float], values: Sequence[float]) -> tuple[float, float]:
    """Slope and value at 0 of the line nearest to some points."""
    x, y = fmean(places), fmean(values)
    below = sum((place - x) ** 2 for place in places)
    if below == 0:
        return 0.0, y
    slope = sum((place - x) * (value - y) for place, value in zip(places, values, strict=True)) / below
    return slope, y - slope * x


def measure_graces(expected: Expected, strokes: Sequence[StrokeReport]) -> tuple[GraceReport, ...]:
    """Every flam and every grace note of a drag whose notes were all heard, and how far ahead it was."""
    by_place = {(stroke.turn, stroke.index): stroke for stroke in strokes}
    made = []
    for turn in dict.fromkeys(stroke.turn for stroke in strokes):
        own: dict[int, list[int]] = defaultdict(list)
        for index, written in enumerate(expected.strokes):
            if written.grace_of is not None:
                own[written.grace_of].append(index)
        for main_index, indices in own.items():
            main = by_place.get((turn, main_index))
            for place, index in enumerate(sorted(indices, key=lambda i: expected.strokes[i].seconds), start=1):
                grace = by_place.get((turn, index))
                if not (grace and main and grace.outcome is main.outcome is Outcome.PLAYED):
                    continue
                if grace.played_seconds is None or main.played_seconds is None:
                    continue
                ahead = expected.strokes[main_index].seconds - expected.strokes[index].seconds
                made.append(
                    GraceReport(
                        turn=turn,
                        bar=main.bar,
                        beat=main.beat,
                        surface=main.surface,
                        kind="flam" if len(indices) == 1 else "drag",
                        place=place,
                        written_gap_ms=ahead * 1000,
                        gap_ms=(main.played_seconds - grace.played_seconds) * 1000,
                    )
                )
    return tuple(made)


def measure_rolls(expected: Expected, strokes: Sequence[StrokeReport]) -> tuple[RollReport, ...]:
    """Rows of the fill's strokes at one written interval, with how even they were played."""
    made = []
    for turn in dict.fromkeys(stroke.turn for stroke in strokes):
        own = [
            stroke
            for stroke in select_main_strokes(strokes)
            if stroke.turn == turn and stroke.in_fill and not stroke.hand.endswith("foot")
        ]
        for row in _rows(expected, own):
            gaps = [
                (after.played_seconds - before.played_seconds) * 1000
                for before, after in pairwise(row)
                if before.lag_ms is not None and after.lag_ms is not None
                if before.played_seconds is not None and after.played_seconds is not None
            ]
            interval = summarise(gaps)
            if interval is None or interval.count + 1 < limit("roll.strokes"):
                continue
            taps = [s.level_db for s in row if s.level is Level.TAP and s.level_db is not None]
            made.append(
                RollReport(
                    turn=turn,
                    bar=row[0].bar,
                    strokes=len(row),
                    interval_ms=interval,
                    level_db=summarise(taps) if len(taps) >= limit("level.least_strokes") else None,
                )
            )
    return tuple(made)


def _rows(expected: Expected, own: Sequence[StrokeReport]) -> list[list[StrokeReport]]:
    """Strokes cut wherever the written interval changes; two at once are no row."""
    rows: list[list[StrokeReport]] = []
    gap = -1.0
    for before, after in pairwise(own):
        now = expected.strokes[after.index].seconds - expected.strokes[before.index].seconds
        if rows and gap > 0 and abs(now - gap) < _SAME_INTERVAL_SECONDS:
            rows[-1].append(after)
        else:
            rows.append([before, after] if now > 0 else [])
            gap = now
    return [row for row in rows if len(row) >= limit("roll.strokes")]


def compare_with_taps(strokes: Sequence[StrokeReport], level: Level) -> float | None:
    """How much louder strokes of a level are than taps, in dB, within the drums that have enough of both."""
    by_surface = _by_surface(strokes, lambda stroke: stroke.level.value)
    pairs = [
        (fmean(groups[level.value]) - fmean(groups[Level.TAP.value]), len(groups[level.value]))
        for groups in by_surface.values()
        if groups[level.value] and groups[Level.TAP.value]
    ]
    total = sum(count for _, count in pairs)
    if total < limit("level.least_strokes"):
        return None
    return sum(value * count for value, count in pairs) / total


def _by_surface(
    strokes: Sequence[StrokeReport], group: Callable[[StrokeReport], str]
) -> dict[str, defaultdict[str, list[float]]]:
    """Levels of main strokes by surface and by what a function says of each."""
    made: dict[str, defaultdict[str, list[float]]] = defaultdict(lambda: defaultdict(list))
    for stroke in select_main_strokes(strokes):
        if stroke.level_db is not None:
            made[stroke.surface][group(stroke)].append(stroke.level_db)
    return made


def compare_hands(strokes: Sequence[StrokeReport]) -> HandsReport | None:
    """The hands in the fill beside each other; None where nobody says which hand plays.

    A lag counts from the fill's own line, so that a rush is no hand's. Differences are taken within the drums
    and levels that both hands play, since each sound has an attack of its own.
    """
    off = [(stroke, lag) for stroke, lag in remove_rush(strokes) if stroke.hand in _HANDS]
    if not off:
        return None
    taps = [
        (stroke, stroke.level_db)
        for stroke in select_main_strokes(strokes)
        if stroke.in_fill and stroke.hand in _HANDS and stroke.level_db is not None
    ]
    sides = {side: [lag for stroke, lag in off if stroke.hand == side] for side in _HANDS}
    levels = {side: [level for stroke, level in taps if stroke.hand == side] for side in _HANDS}
    made = [_hand(sides[side], levels[side]) for side in _HANDS]
    turns = len({stroke.turn for stroke, _ in off})
    enough = min(len(lags) for lags in sides.values()) >= limit("hands.strokes")
    return HandsReport(
        right=made[0],
        left=made[1],
        lag_ms=_difference(off),
        level_db=_difference(taps),
        pooled=enough and turns >= limit("hands.passes"),
    )


def _hand(lags: Sequence[float], levels: Sequence[float]) -> HandReport | None:
    lag = summarise(lags)
    if lag is None or lag.count < limit("level.least_strokes"):
        return None
    return HandReport(lag_ms=lag, level_db=summarise(levels) if len(levels) > 1 else None)


def _difference(values: Sequence[tuple[StrokeReport, float]]) -> HandDifference | None:
    """Right less left, within each surface and level that both hands play, weighted by its certainty."""
    groups: dict[tuple[str, Level], dict[str, list[float]]] = defaultdict(lambda: {"R": [], "L": []})
    for stroke, value in values:
        groups[stroke.surface, stroke.level][stroke.hand].append(value)
    both = [(group["R"], group["L"]) for group in groups.values() if min(len(group["R"]), len(group["L"])) >= 2]
    if not both:
        return None
    rest = [value - fmean(side) for pair in both for side in pair for value in side]
    free = len(rest) - 2 * len(both)
    variance = sum(value**2 for value in rest) / free
    weights = [1 / (1 / len(right) + 1 / len(left)) for right, left in both]
    mean = sum(w * (fmean(right) - fmean(left)) for w, (right, left) in zip(weights, both, strict=True))
    return HandDifference(value=mean / sum(weights), error=float(variance / sum(weights)) ** 0.5)
