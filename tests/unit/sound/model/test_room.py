import numpy as np
import pytest

from fillwright.sound.model.modal import RATE
from fillwright.sound.model.recipe import kit
from fillwright.sound.model.room import in_room, pan, response, sides

ROOM = kit().room
LEFT, RIGHT = (-0.5, 0.5), (0.5, 0.5)


def test_nothing_comes_back_before_a_wall_has_been_reached():
    made = np.abs(response(ROOM, LEFT)).max(axis=1)
    first = np.argmax(made > 0.05)
    assert 0.004 < first / RATE < 0.015
    assert made[: round(0.003 * RATE)].max() < 0.01 * made.max()


def test_its_energy_is_1_and_dies_away():
    made = response(ROOM, LEFT)
    assert np.mean(np.sum(made**2, axis=0)) == pytest.approx(1.0)
    early, late = (np.sum(made[round(at * RATE) :][: RATE // 20] ** 2) for at in (0.05, 0.3))
    assert late < early / 100
    assert not made[-1].any()


def test_highs_die_first():
    def share(start):
        power = np.abs(np.fft.rfft(response(ROOM, LEFT)[start:][: RATE // 10], axis=0)) ** 2
        return power[len(power) // 4 :].sum() / power.sum()

    assert share(RATE // 5) < share(0) / 2


def test_a_place_answers_from_its_own_side():
    """The nearer wall is heard first and loudest."""
    first = slice(0, round(0.02 * RATE))
    seat = ROOM.seat[0] / ROOM.size[0]
    assert 0.4 < seat < 0.6
    left, right = (np.sum(response(ROOM, place)[first] ** 2, axis=0) for place in (LEFT, RIGHT))
    assert left[0] > left[1]
    assert right[1] > right[0]


def test_stage_directions():
    assert pan(LEFT) == -pan(RIGHT)
    assert pan((0.1, 1.0)) < pan((1.0, 1.0)) < pan((1.0, 0.1))
    assert sides(0.0) == pytest.approx([1.0, 1.0])
    assert np.sum(sides(0.7) ** 2) == pytest.approx(2.0)
    assert sides(1.0) == pytest.approx([0.0, np.sqrt(2)])


def test_the_answer_has_the_level_asked():
    click = np.zeros((100, 2))
    click[0] = 1.0
    wet = in_room(click, ROOM, LEFT, -20.0)
    assert np.mean(np.sum(wet**2, axis=0)) == pytest.approx(0.01, rel=0.01)


def test_a_long_sound_stirs_the_room_for_a_second_at_most():
    wet = in_room(np.ones((4 * RATE, 2)), ROOM, LEFT, -20.0)
    assert len(wet) <= 1 << 16
    assert np.abs(wet[-100:]).max() < 0.01 * np.abs(wet).max()
