import numpy as np
import pytest

from fillwright.listen.alignment.assign import (
    IMPOSSIBLE_COST,
    AssignableOnsets,
    assign_onsets,
    calculate_time_cost,
)

NONE = np.zeros(0)


def assign(written, detected, leads=None, extra_cost=3.0, loudness_db=None):
    away = np.array(detected) - np.array(written)[:, None]
    costs = np.where(np.abs(away) < 0.1, calculate_time_cost(away, 0.015), IMPOSSIBLE_COST)
    onsets = AssignableOnsets(
        seconds=np.array(detected),
        extra_costs=np.broadcast_to(extra_cost, len(detected)).astype(float),
        loudness_db=np.array(loudness_db if loudness_db is not None else np.zeros(len(detected))),
        confidence=np.ones(len(detected)),
    )
    return assign_onsets(leads or [NONE] * len(written), onsets, costs)


def test_each_moment_gets_its_onset():
    assert assign([0, 1, 2], [0.01, 0.99, 2.02]).mains == (0, 1, 2)


def test_one_stroke_missing_and_one_extra():
    assert assign([0, 1, 2], [0.0, 0.5, 2.0]).mains == (0, -1, 2)


def test_no_onsets():
    found = assign([0, 1], [])
    assert (found.mains, found.graces, found.gain) == ((-1, -1), ((), ()), 0.0)


def test_a_flam_is_a_pair():
    found = assign([0, 1], [0.0, 0.96, 1.0], leads=[NONE, np.array([0.025])])
    assert (found.mains, found.graces) == ((0, 2), ((), (1,)))


def test_a_drag_is_three():
    found = assign([0, 1], [0.0, 0.93, 0.97, 1.0], leads=[NONE, np.array([0.06, 0.03])])
    assert (found.mains, found.graces) == ((0, 3), ((), (1, 2)))


def test_a_faint_onset_between_a_grace_note_and_its_main_note_is_skipped():
    extra_costs = np.array([3.0, 3.0, 0.2, 3.0])
    found = assign([0, 1], [0.0, 0.965, 0.985, 1.0], leads=[NONE, np.array([0.03])], extra_cost=extra_costs)
    assert (found.mains, found.graces) == ((0, 3), ((), (1,)))


def test_a_grace_note_is_not_louder_than_its_main_note():
    levels = [-20.0, -30.0, -18.0, -40.0]
    leads = [NONE, np.array([0.025])]
    extra_costs = np.array([5.0, 5.0, 5.0, 0.2])
    found = assign([0, 1], [0.0, 0.965, 0.99, 1.015], leads, extra_costs, levels)
    assert (found.mains, found.graces) == ((0, 2), ((), (1,)))


def test_an_onset_too_far_ahead_is_not_a_grace_note():
    assert assign([0, 1], [0.0, 0.85, 1.0], leads=[NONE, np.array([0.025])]).graces == ((), ())


def test_a_late_stroke_costs_more_than_an_even_one_and_less_than_two_faults():
    even, late = calculate_time_cost(np.array([0.0, 0.02]), 0.01)
    assert 0 == even < late < 5.0


def test_the_gain_is_the_cost_saved():
    assert assign([0.0], [0.0]).gain == pytest.approx(8.0)
