import numpy as np
import pytest

from fillwright.listen.alignment.assign import FAR, Taken, assigned, time_cost

NONE = np.zeros(0)


def laid(written, heard, ahead=None, left_over=3.0, level_db=None):
    away = np.array(heard) - np.array(written)[:, None]
    costs = np.where(np.abs(away) < 0.1, time_cost(away, 0.015), FAR)
    taken = Taken(
        seconds=np.array(heard),
        left_over=np.broadcast_to(left_over, len(heard)).astype(float),
        loudness_db=np.array(level_db if level_db is not None else np.zeros(len(heard))),
        confidence=np.ones(len(heard)),
    )
    return assigned(ahead or [NONE] * len(written), taken, costs)


def test_each_takes_its_own():
    assert laid([0, 1, 2], [0.01, 0.99, 2.02]).mains == (0, 1, 2)


def test_one_left_out_and_one_added():
    assert laid([0, 1, 2], [0.0, 0.5, 2.0]).mains == (0, -1, 2)


def test_nothing_heard():
    found = laid([0, 1], [])
    assert (found.mains, found.graces, found.gain) == ((-1, -1), ((), ()), 0.0)


def test_a_flam_is_a_pair():
    found = laid([0, 1], [0.0, 0.96, 1.0], ahead=[NONE, np.array([0.025])])
    assert (found.mains, found.graces) == ((0, 2), ((), (1,)))


def test_a_drag_is_three():
    found = laid([0, 1], [0.0, 0.93, 0.97, 1.0], ahead=[NONE, np.array([0.06, 0.03])])
    assert (found.mains, found.graces) == ((0, 3), ((), (1, 2)))


def test_a_faint_moment_between_a_grace_note_and_its_main_note_is_passed_over():
    left_over = np.array([3.0, 3.0, 0.2, 3.0])
    found = laid([0, 1], [0.0, 0.965, 0.985, 1.0], ahead=[NONE, np.array([0.03])], left_over=left_over)
    assert (found.mains, found.graces) == ((0, 3), ((), (1,)))


def test_a_grace_note_is_no_louder_than_its_main_note():
    levels = [-20.0, -30.0, -18.0, -40.0]
    ahead = [NONE, np.array([0.025])]
    left_over = np.array([5.0, 5.0, 5.0, 0.2])
    found = laid([0, 1], [0.0, 0.965, 0.99, 1.015], ahead, left_over, levels)
    assert (found.mains, found.graces) == ((0, 2), ((), (1,)))


def test_what_is_too_far_ahead_is_no_grace_note():
    assert laid([0, 1], [0.0, 0.85, 1.0], ahead=[NONE, np.array([0.025])]).graces == ((), ())


def test_a_late_stroke_costs_more_than_an_even_one_and_less_than_two_faults():
    assert 0 == time_cost(np.zeros(1), 0.01)[0] < time_cost(np.array([0.02]), 0.01)[0] < 5.0


def test_the_gain_is_what_pairing_saves():
    assert laid([0.0], [0.0]).gain == pytest.approx(8.0)
