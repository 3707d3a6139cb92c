"""The assignment of onsets, against another library's matching of events and against every assignment there is.

Source: mir_eval (the largest number of pairs within a window)
"""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest
from mir_eval.util import match_events

from fillwright.listen.alignment.assign import (
    IMPOSSIBLE_COST,
    MISSING_COST,
    AssignableOnsets,
    assign_onsets,
    calculate_time_cost,
)

WINDOW = 0.05


def build_onsets(detected, extra_costs) -> AssignableOnsets:
    none = np.zeros(len(detected))
    return AssignableOnsets(seconds=detected, extra_costs=extra_costs, loudness_db=none, confidence=none + 1)


def instance(seed: int, most: int = 30):
    chance = np.random.default_rng(seed)
    written = np.sort(chance.uniform(0, 2, chance.integers(1, most)))
    played = written[chance.random(len(written)) < 0.8]
    detected = np.sort(np.concatenate([played + chance.normal(0, 0.03, len(played)), chance.uniform(0, 2, 5)]))
    return written, detected


@pytest.mark.parametrize("seed", range(60))
def test_as_many_pairs_within_a_window_as_there_can_be(seed):
    written, detected = instance(seed)
    away = np.abs(detected - written[:, None])
    costs = np.where(away <= WINDOW, 0.0, IMPOSSIBLE_COST)
    none = (np.zeros(0),) * len(written)
    assignment = assign_onsets(none, build_onsets(detected, np.ones(len(detected))), costs)
    pairs = [(place, onset) for place, onset in enumerate(assignment.mains) if onset >= 0]
    assert len(pairs) == len(match_events(written, detected, WINDOW))
    assert all(away[pair] <= WINDOW for pair in pairs)


def cheapest(costs, extra_costs) -> float:
    """The least cost over every assignment in order, tried one by one."""
    rows, columns = costs.shape
    whole = rows * MISSING_COST + extra_costs.sum()
    best = whole
    for size in range(1, min(rows, columns) + 1):
        for places in combinations(range(rows), size):
            for onsets in combinations(range(columns), size):
                paired = sum(
                    costs[p, o] - MISSING_COST - extra_costs[o] for p, o in zip(places, onsets, strict=True)
                )
                best = min(best, whole + paired)
    return best


@pytest.mark.parametrize("seed", range(30))
def test_no_assignment_in_order_is_cheaper(seed):
    written, detected = (part[:6] for part in instance(seed, most=8))
    extra_costs = np.random.default_rng(seed).uniform(0.5, 6, len(detected))
    costs = calculate_time_cost(detected - written[:, None], 0.015)
    none = (np.zeros(0),) * len(written)
    assignment = assign_onsets(none, build_onsets(detected, extra_costs), costs)
    whole = len(written) * MISSING_COST + extra_costs.sum()
    assert whole - assignment.gain == pytest.approx(cheapest(costs, extra_costs))
