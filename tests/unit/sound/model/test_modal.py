import numpy as np
import pytest

from fillwright.sound.model.modal import interpolate_curve, sum_modes
from fillwright.sound.signal import SAMPLE_RATE, db_to_amplitude


def one(hz, t60, weight):
    return sum_modes(np.array([hz]), np.array([t60]), np.array([[weight]], np.complex128))[:, 0]


@pytest.mark.parametrize("t60", [0.05, 0.3, 2.5])
def test_a_mode_is_a_damped_cosine(t60):
    made = one(440.0, t60, 0.5)
    times = np.arange(len(made)) / SAMPLE_RATE
    expected = 0.5 * np.cos(2 * np.pi * 440 * times) * 10 ** (-3 * times / t60)
    whole = len(made) * 4 // 5 - 1
    np.testing.assert_allclose(made[:whole], expected[:whole], atol=1e-9)
    assert np.all(np.abs(made) <= np.abs(expected) + 1e-9)
    assert made[-1] == pytest.approx(0.0, abs=1e-12)


def test_a_weights_angle_is_the_phase():
    made = one(100.0, 0.2, -1j)
    assert made[0] == pytest.approx(0.0, abs=1e-12)
    assert made[SAMPLE_RATE // 400] > 0.9  # a quarter turn on, less the decay


def test_modes_add_up():
    hz, t60 = np.array([300.0, 5000.0]), np.array([0.5, 0.08])
    weights = np.array([[1.0, 0.2], [0.5, 1.0]], np.complex128)
    both = sum_modes(hz, t60, weights)
    for side in range(2):
        first, second = (one(hz[i], t60[i], weights[i, side]) for i in range(2))
        first[: len(second)] += second
        np.testing.assert_allclose(both[:, side], first, atol=1e-9)


def test_a_curve_is_flat_beyond_its_ends():
    curve = ((100.0, -6.0), (1000.0, 0.0))
    assert interpolate_curve(curve, np.array([0.0, 20.0, 100.0, 1000.0, 9000.0])).tolist() == [
        -6.0,
        -6.0,
        -6.0,
        0.0,
        0.0,
    ]


def test_decibels():
    assert db_to_amplitude(20.0) == pytest.approx(10.0)
    assert db_to_amplitude(-6.0206) == pytest.approx(0.5, rel=1e-5)
