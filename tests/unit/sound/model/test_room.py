import numpy as np
import pytest

from fillwright.sound.model.recipe import load_kit_recipes
from fillwright.sound.model.room import compute_pan, compute_response, compute_side_gains, render_room
from fillwright.sound.signal import SAMPLE_RATE

ROOM = load_kit_recipes().room
LEFT, RIGHT = (-0.5, 0.5), (0.5, 0.5)


def test_the_first_reflection_comes_after_the_way_to_a_wall():
    made = np.abs(compute_response(ROOM, LEFT)).max(axis=1)
    first = np.argmax(made > 0.05)
    assert 0.004 < first / SAMPLE_RATE < 0.015
    assert made[: round(0.003 * SAMPLE_RATE)].max() < 0.01 * made.max()


def test_its_energy_is_1_and_dies_away():
    made = compute_response(ROOM, LEFT)
    assert np.mean(np.sum(made**2, axis=0)) == pytest.approx(1.0)
    early, late = (np.sum(made[round(at * SAMPLE_RATE) :][: SAMPLE_RATE // 20] ** 2) for at in (0.05, 0.3))
    assert late < early / 100
    assert not made[-1].any()


def test_highs_die_first():
    def share(start):
        power = np.abs(np.fft.rfft(compute_response(ROOM, LEFT)[start:][: SAMPLE_RATE // 10], axis=0)) ** 2
        return power[len(power) // 4 :].sum() / power.sum()

    assert share(SAMPLE_RATE // 5) < share(0) / 2


def test_the_room_answers_from_the_side_of_the_drum():
    """The nearer wall is heard first and loudest."""
    first = slice(0, round(0.02 * SAMPLE_RATE))
    seat = ROOM.seat[0] / ROOM.size[0]
    assert 0.4 < seat < 0.6
    left, right = (np.sum(compute_response(ROOM, place)[first] ** 2, axis=0) for place in (LEFT, RIGHT))
    assert left[0] > left[1]
    assert right[1] > right[0]


def test_stage_directions():
    assert compute_pan(LEFT) == -compute_pan(RIGHT)
    assert compute_pan((0.1, 1.0)) < compute_pan((1.0, 1.0)) < compute_pan((1.0, 0.1))
    assert compute_side_gains(0.0) == pytest.approx([1.0, 1.0])
    assert np.sum(compute_side_gains(0.7) ** 2) == pytest.approx(2.0)
    assert compute_side_gains(1.0) == pytest.approx([0.0, np.sqrt(2)])


def test_the_answer_has_the_requested_level():
    click = np.zeros((100, 2))
    click[0] = 1.0
    wet = render_room(click, ROOM, LEFT, -20.0)
    assert np.mean(np.sum(wet**2, axis=0)) == pytest.approx(0.01, rel=0.01)


def test_a_long_sound_stirs_the_room_for_a_second_at_most():
    wet = render_room(np.ones((4 * SAMPLE_RATE, 2)), ROOM, LEFT, -20.0)
    assert len(wet) <= 1 << 16
    assert np.abs(wet[-100:]).max() < 0.01 * np.abs(wet).max()
