"""Which onset is which moment: the cheapest way to lay onsets along the writing, in order and one to one.

Idea: dynamic programming over moments and onsets. A moment left out has a price, an onset left over has one
that grows with its strength, and a pair costs by its distance in time (a logarithm, so that a stroke far off is
not hopeless) and by whatever else speaks against it. Grace notes are taken together with their main note, by
their distance ahead of it.
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

MISS = 5.0
GRACE_MISS = 2.5
FAR = 1e6
_TIME_PRICE = 2.0
GRACE_MOST_SECONDS = 0.11
"""How far ahead of its main note a grace note may lie."""

_GRACE_LEAST_SECONDS = 0.004
_GRACE_SPREAD = 0.7
_GRACE_PRICE = 0.6
_PER_SURER = 6.0
_PER_LOUDER_DB, _SOFTER_DB, _MOST_FOR_LOUD = 0.2, 2.0, 4.0
_MOST_GRACES, _MOST_BETWEEN = 3, 3


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Taken:
    """Onsets as the assignment sees them.

    Attributes:
        seconds: ascending.
        left_over: what each costs where it belongs to nothing.
        loudness_db: how loud each is: a grace note is softer than its main note.
        confidence: how sure each is a stroke: a main note is no less sure than its grace note.
    """

    seconds: Floats
    left_over: Floats
    loudness_db: Floats
    confidence: Floats


@dataclass(frozen=True, slots=True, kw_only=True)
class Pairs:
    """An assignment.

    Attributes:
        mains: for each moment the index of its onset, or -1.
        graces: for each moment the indices of the onsets of its grace notes, ascending; the last ones where
            there are fewer onsets than grace notes.
        gain: how much better it is than leaving everything out.
    """

    mains: tuple[int, ...]
    graces: tuple[tuple[int, ...], ...]
    gain: float


def time_cost(away: Floats, scatter_seconds: Floats | float) -> Floats:
    """What a distance in time costs."""
    return np.asarray(_TIME_PRICE * np.log1p(0.5 * (away / scatter_seconds) ** 2))


def assigned(ahead: Sequence[Floats], onsets: Taken, costs: Floats) -> Pairs:
    """The cheapest assignment.

    Args:
        ahead: of every moment, how many seconds its grace notes lie ahead of it, the farthest first.
        onsets: of the take.
        costs: of every pair, shape (moments, onsets); `FAR` or more where it can't be.
    """
    if not len(onsets.seconds):
        return Pairs(mains=(-1,) * len(ahead), graces=((),) * len(ahead), gain=0.0)
    spent = np.insert(np.cumsum(onsets.left_over), 0, 0.0)
    total = spent.copy()
    kept: list[tuple[Ints, Ints]] = []
    for own, against in zip(costs, ahead, strict=True):
        total, how = _with_moment(total, own, (onsets, spent), against)
        kept.append(how)
    end = len(ahead) * MISS + spent[-1]
    return _traced(kept, [len(one) for one in ahead], end - float(total[-1]))


def _with_moment(
    before: Floats, costs: Floats, taken: tuple[Taken, Floats], ahead: Floats
) -> tuple[Floats, tuple[Ints, Ints]]:
    """Cheapest totals once a moment more is dealt with, by how many onsets are; and how each came about.

    How: which of `_ways` its grace notes were taken in, -1 where the moment is left out; and the number of
    onsets dealt with before the ones left over behind it.
    """
    onsets, spent = taken
    made = before + MISS
    chosen = np.full(len(made), -1, dtype=np.intp)
    for way, back in enumerate(_ways(len(ahead))):
        first = back[-1] if back else 0
        if first >= len(costs):
            continue
        last = len(onsets.seconds)
        price = costs[first:] + (len(ahead) - len(back)) * GRACE_MISS * _GRACE_PRICE
        for nth, steps in enumerate(back, start=1):
            gap = onsets.seconds[first:] - onsets.seconds[first - steps : last - steps]
            louder = onsets.loudness_db[first - steps : last - steps] - onsets.loudness_db[first:]
            price = price + _grace_cost(gap, float(ahead[-nth])) + _loud_cost(louder)
            surer = onsets.confidence[first - steps : last - steps] - onsets.confidence[first:]
            price = price + _PER_SURER * np.maximum(surer, 0.0)
            price = price - onsets.left_over[first - steps : last - steps]
        price = price + spent[first:last] - spent[: last - first]
        score = before[: last - first] + price
        better = score < made[first + 1 :]
        np.copyto(made[first + 1 :], score, where=better)
        np.copyto(chosen[first + 1 :], way, where=better)
    rest = made - spent
    low = np.minimum.accumulate(rest)
    came = np.maximum.accumulate(np.where(rest <= low, np.arange(len(rest)), 0))
    return low + spent, (chosen, came)


@cache
def _ways(graces: int) -> tuple[tuple[int, ...], ...]:
    """How many onsets before a main note its grace notes may lie, nearest first; some between are left over."""
    return tuple(
        back
        for number in range(min(graces, _MOST_GRACES) + 1)
        for back in combinations(range(1, number + _MOST_BETWEEN + 1), number)
    )


def _grace_cost(gap: Floats, ahead: float) -> Floats:
    """What a grace note costs by how far ahead of its main note it lies."""
    usual = min(max(ahead, 0.02), 0.07)
    cost = 0.5 * (np.log(np.maximum(gap, 1e-4) / usual) / _GRACE_SPREAD) ** 2
    return np.where((gap < _GRACE_LEAST_SECONDS) | (gap > GRACE_MOST_SECONDS), FAR, cost)


def _loud_cost(louder_db: Floats) -> Floats:
    """What a grace note costs that is hardly softer than its main note, or louder."""
    return np.clip(_PER_LOUDER_DB * (louder_db + _SOFTER_DB), 0.0, _MOST_FOR_LOUD)


def _traced(kept: list[tuple[Ints, Ints]], counts: Sequence[int], gain: float) -> Pairs:
    mains: list[int] = []
    graces: list[tuple[int, ...]] = []
    done = len(kept[0][0]) - 1 if kept else 0
    for (chosen, came), count in zip(reversed(kept), reversed(counts), strict=True):
        done = int(came[done])
        way = int(chosen[done])
        if way < 0:
            mains.append(-1)
            graces.append(())
            continue
        back = _ways(count)[way]
        mains.append(done - 1)
        graces.append(tuple(done - 1 - steps for steps in reversed(back)))
        done -= 1 + (back[-1] if back else 0)
    return Pairs(mains=tuple(mains[::-1]), graces=tuple(graces[::-1]), gain=gain)
