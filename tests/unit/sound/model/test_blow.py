import numpy as np
import pytest

from fillwright.sound.model.blow import CONTACT_POWER, Blow, compute_pulse_spectrum

HZ = np.array([0.0, 100.0, 1000.0, 4000.0, 12000.0])


def blow(halvings):
    chance = np.random.default_rng(1)
    return Blow(velocity_halvings=halvings, tilt_db=3.0, stroke_rng=chance, drum_rng=chance)


def test_a_push_passes_the_lows_and_stops_the_highs():
    made = compute_pulse_spectrum(HZ, 0.001)
    assert made[0] == pytest.approx(1.0)
    assert np.all(np.diff(made) < 0)
    assert made[-1] < 0.02


def test_a_push_is_a_half_sine():
    """Its spectrum against that of the curve itself, averaged over lengths a quarter apart."""
    lengths = 0.002 * np.linspace(0.75, 1.25, 7)
    times = np.arange(0, 0.004, 1e-6)
    curves = [np.where(times < each, np.sin(np.pi * times / each), 0) for each in lengths]
    turns = np.exp(-2j * np.pi * HZ[:4, None] * times)
    expected = np.sqrt(np.mean([np.abs(turns @ curve / curve.sum()) ** 2 for curve in curves], axis=0))
    assert compute_pulse_spectrum(HZ[:4], 0.002) == pytest.approx(expected, abs=1e-3)


def test_a_soft_stroke_touches_longer():
    assert blow(1.0).compute_contact(HZ, 1.0) == pytest.approx(
        compute_pulse_spectrum(HZ, 0.001 * 2**CONTACT_POWER)
    )
    assert blow(1.0).compute_contact(HZ, 1.0)[3] < blow(0.0).compute_contact(HZ, 1.0)[3]


def test_half_a_turn_does_not_divide_by_zero():
    assert np.isfinite(compute_pulse_spectrum(np.array([500.0]), 0.001)).all()


def test_a_tilt_lowers_high_frequencies_only():
    made = blow(0.0).compute_dulling(HZ)
    assert made[:3] == pytest.approx([1, 1, 1])
    assert made[3] == pytest.approx(10 ** (-6 / 20))
