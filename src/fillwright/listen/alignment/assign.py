"""The cheapest monotone one-to-one assignment of onsets to written moments.

Dynamic programming over moments and onsets. A missing moment has a cost, an extra onset has one that grows with
its strength, and a pair costs by its distance in time (a logarithm, so that a stroke far off is not hopeless)
and by what the caller adds. Grace notes are assigned together with their main note, by their distance before
it.

Costs have no unit: a log likelihood, roughly.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from itertools import combinations

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.intp]

MISSING_COST = 5.0
"""Cost of a missing moment; from a trial on simulated takes."""

GRACE_MISSING_COST = 2.5
"""Cost of a missing grace note, before its share; from a trial on simulated takes."""

IMPOSSIBLE_COST = 1e6
"""Cost of a pair that can't be."""

GRACE_MOST_SECONDS = 0.11
"""Longest time from a grace note to its main note; ours, not measured."""

_TIME_COST = 2.0  # factor of the logarithm of the distance in time; ours, not measured
_GRACE_LEAST_SECONDS = 0.004  # shortest time from a grace note to its main note; ours, not measured
_GRACE_USUAL_SECONDS = (
    0.02,
    0.07,
)  # range of the times that are usual, whatever is written; ours, not measured
_GRACE_SPREAD = 0.7  # standard deviation of the logarithm of that time; ours, not measured
_GRACE_SHARE = 0.6  # of GRACE_MISSING_COST that a missing grace note costs; ours, not measured
_CONFIDENCE_COST = 6.0  # of a grace note surer than its main note, per unit of confidence; ours, not measured
_LOUD_COST_PER_DB = 0.2  # of a grace note that is loud; ours, not measured
_SOFTER_DB = 2.0  # by which a grace note is softer than its main note at no cost; ours, not measured
_MOST_LOUD_COST = 4.0  # of a loud grace note; ours, not measured
_MOST_GRACES, _MOST_BETWEEN = 3, 3  # grace notes of a moment, and extra onsets among them, at most; ours


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class AssignableOnsets:
    """Onsets as the assignment needs them.

    Attributes:
        seconds: ascending.
        extra_costs: cost of each if it is assigned to nothing.
        loudness_db: a grace note is softer than its main note.
        confidence: a main note is no less sure than its grace note.
    """

    seconds: Floats
    extra_costs: Floats
    loudness_db: Floats
    confidence: Floats


@dataclass(frozen=True, slots=True, kw_only=True)
class OnsetAssignment:
    """The onset of each moment.

    Attributes:
        mains: for each moment the index of its onset, or -1.
        graces: for each moment the indices of its grace notes' onsets, ascending; the last grace notes' if
            there are fewer onsets than grace notes.
        gain: cost saved against assigning nothing.
    """

    mains: tuple[int, ...]
    graces: tuple[tuple[int, ...], ...]
    gain: float


def calculate_time_cost(away: Floats, deviation_seconds: Floats | float) -> Floats:
    """Return the cost of distances in time.

    Args:
        away: distances in seconds.
        deviation_seconds: standard deviation of the player.
    """
    return np.asarray(_TIME_COST * np.log1p(0.5 * (away / deviation_seconds) ** 2))


def assign_onsets(grace_leads: Sequence[Floats], onsets: AssignableOnsets, costs: Floats) -> OnsetAssignment:
    """Return the cheapest assignment.

    Args:
        grace_leads: for each moment, seconds from its grace notes to the main note, the longest first.
        onsets: of the take.
        costs: of every pair, shape (moments, onsets); `IMPOSSIBLE_COST` or more if it can't be.
    """
    if not len(onsets.seconds):
        return OnsetAssignment(mains=(-1,) * len(grace_leads), graces=((),) * len(grace_leads), gain=0.0)
    extra = np.insert(np.cumsum(onsets.extra_costs), 0, 0.0)
    total = extra.copy()
    steps: list[tuple[Ints, Ints]] = []
    for moment_costs, leads in zip(costs, grace_leads, strict=True):
        total, step = _add_moment(total, moment_costs, (onsets, extra), leads)
        steps.append(step)
    nothing = len(grace_leads) * MISSING_COST + extra[-1]
    return _trace_back(steps, [len(leads) for leads in grace_leads], nothing - float(total[-1]))


def _add_moment(
    before: Floats, costs: Floats, assignable: tuple[AssignableOnsets, Floats], leads: Floats
) -> tuple[Floats, tuple[Ints, Ints]]:
    """Return the least totals with one moment more, by the number of onsets used, and the step to each.

    Args:
        before: least totals without the moment, shape (onsets + 1,).
        costs: of the moment with each onset.
        assignable: the onsets, and running sums of their extra costs.
        leads: seconds from the moment's grace notes to its main note.

    Returns:
        The totals; and for each the number of its grace pattern, -1 if the moment is missing, with the number
        of onsets used before the extra ones after it.
    """
    onsets, extra = assignable
    totals = before + MISSING_COST
    pattern = np.full(len(totals), -1, dtype=np.intp)
    last = len(onsets.seconds)
    for number, back in enumerate(_list_grace_patterns(len(leads))):
        first = back[-1] if back else 0
        if first >= len(costs):
            continue
        price = costs[first:] + (len(leads) - len(back)) * GRACE_MISSING_COST * _GRACE_SHARE
        for nth, steps in enumerate(back, start=1):
            grace = slice(first - steps, last - steps)
            gap = onsets.seconds[first:] - onsets.seconds[grace]
            louder = onsets.loudness_db[grace] - onsets.loudness_db[first:]
            price = price + _calculate_grace_cost(gap, float(leads[-nth])) + _calculate_loud_cost(louder)
            surer = onsets.confidence[grace] - onsets.confidence[first:]
            price = price + _CONFIDENCE_COST * np.maximum(surer, 0.0)
            price = price - onsets.extra_costs[grace]
        price = price + extra[first:last] - extra[: last - first]
        score = before[: last - first] + price
        better = score < totals[first + 1 :]
        np.copyto(totals[first + 1 :], score, where=better)
        np.copyto(pattern[first + 1 :], number, where=better)
    without_extra = totals - extra
    least = np.minimum.accumulate(without_extra)
    used = np.maximum.accumulate(np.where(without_extra <= least, np.arange(len(without_extra)), 0))
    return least + extra, (pattern, used)


@cache
def _list_grace_patterns(graces: int) -> tuple[tuple[int, ...], ...]:
    """List where grace notes may be, in onsets back from the main note; those between are extra."""
    return tuple(
        back
        for number in range(min(graces, _MOST_GRACES) + 1)
        for back in combinations(range(1, number + _MOST_BETWEEN + 1), number)
    )


def _calculate_grace_cost(gap: Floats, lead: float) -> Floats:
    """Return the cost of a grace note by its time before the main note."""
    shortest, longest = _GRACE_USUAL_SECONDS
    usual = min(max(lead, shortest), longest)
    cost = 0.5 * (np.log(np.maximum(gap, 1e-4) / usual) / _GRACE_SPREAD) ** 2
    return np.where((gap < _GRACE_LEAST_SECONDS) | (gap > GRACE_MOST_SECONDS), IMPOSSIBLE_COST, cost)


def _calculate_loud_cost(louder_db: Floats) -> Floats:
    """Return the cost of a grace note that is hardly softer than its main note, or louder."""
    return np.clip(_LOUD_COST_PER_DB * (louder_db + _SOFTER_DB), 0.0, _MOST_LOUD_COST)


def _trace_back(steps: list[tuple[Ints, Ints]], grace_counts: Sequence[int], gain: float) -> OnsetAssignment:
    mains: list[int] = []
    graces: list[tuple[int, ...]] = []
    count = len(steps[0][0]) - 1 if steps else 0
    for (pattern, used), grace_count in zip(reversed(steps), reversed(grace_counts), strict=True):
        count = int(used[count])
        number = int(pattern[count])
        if number < 0:
            mains.append(-1)
            graces.append(())
            continue
        back = _list_grace_patterns(grace_count)[number]
        mains.append(count - 1)
        graces.append(tuple(count - 1 - places for places in reversed(back)))
        count -= 1 + (back[-1] if back else 0)
    return OnsetAssignment(mains=tuple(mains[::-1]), graces=tuple(graces[::-1]), gain=gain)
