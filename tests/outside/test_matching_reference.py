"""The assignment of onsets, against another library's matching of events and against every assignment there is.

Source: mir_eval (the largest number of pairs within a window)
"""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest
from mir_eval.util import match_events

from fillwright.listen.alignment.assign import FAR, MISS, Taken, assigned, time_cost

WINDOW = 0.05


def taken(heard, left_over) -> Taken:
    none = np.zeros(len(heard))
    return Taken(seconds=heard, left_over=left_over, loudness_db=none, confidence=none + 1)


def instance(seed: int, most: int = 30):
    chance = np.random.default_rng(seed)
    written = np.sort(chance.uniform(0, 2, chance.integers(1, most)))
    kept = written[chance.random(len(written)) < 0.8]
    heard = np.sort(np.concatenate([kept + chance.normal(0, 0.03, len(kept)), chance.uniform(0, 2, 5)]))
    return written, heard


@pytest.mark.parametrize("seed", range(60))
def test_as_many_pairs_within_a_window_as_there_can_be(seed):
    written, heard = instance(seed)
    away = np.abs(heard - written[:, None])
    costs = np.where(away <= WINDOW, 0.0, FAR)
    none = (np.zeros(0),) * len(written)
    found = assigned(none, taken(heard, np.ones(len(heard))), costs)
    pairs = [(place, onset) for place, onset in enumerate(found.mains) if onset >= 0]
    assert len(pairs) == len(match_events(written, heard, WINDOW))
    assert all(away[pair] <= WINDOW for pair in pairs)


def cheapest(costs, left_over) -> float:
    """The least cost over every assignment in order, tried one by one."""
    rows, columns = costs.shape
    whole = rows * MISS + left_over.sum()
    best = whole
    for size in range(1, min(rows, columns) + 1):
        for places in combinations(range(rows), size):
            for onsets in combinations(range(columns), size):
                paired = sum(costs[p, o] - MISS - left_over[o] for p, o in zip(places, onsets, strict=True))
                best = min(best, whole + paired)
    return best


@pytest.mark.parametrize("seed", range(30))
def test_no_assignment_in_order_is_cheaper(seed):
    written, heard = (part[:6] for part in instance(seed, most=8))
    left_over = np.random.default_rng(seed).uniform(0.5, 6, len(heard))
    costs = time_cost(heard - written[:, None], 0.015)
    none = (np.zeros(0),) * len(written)
    found = assigned(none, taken(heard, left_over), costs)
    whole = len(written) * MISS + left_over.sum()
    assert whole - found.gain == pytest.approx(cheapest(costs, left_over))
