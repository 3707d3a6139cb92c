"""The modelled kit against facts about real drums and cymbals.

Source: Rayleigh, The Theory of Sound (from memory)
Source: Fletcher and Rossing, The Physics of Musical Instruments (from memory)
Source: Common practice (tuning of drums, strokes of a roll; no source)
Source: scipy (Bessel functions and their zeros)
"""

import numpy as np
import pytest
from scipy.special import jn_zeros, jv

from fillwright.sound.model.bank import default_bank
from fillwright.sound.model.head import compute_membrane_modes, compute_mode_ratios
from fillwright.sound.model.instrument import make_one_shot
from fillwright.sound.model.recipe import load_kit_recipes
from fillwright.sound.signal import SAMPLE_RATE


def mode(diameters, circle):
    """The index of a mode by its nodal diameters and circles."""
    return np.flatnonzero(compute_membrane_modes().diameters == diameters)[circle - 1]


def test_membrane_ratios():
    """Ideal membrane: Rayleigh, The Theory of Sound, and Fletcher and Rossing, The Physics of Musical
    Instruments; the ratios recalled from memory."""
    zeros = compute_membrane_modes().zeros
    ratios = zeros[:9] / zeros[0]
    assert ratios == pytest.approx([1, 1.594, 2.136, 2.296, 2.653, 2.918, 3.156, 3.500, 3.600], abs=0.002)


def test_membrane_modes_are_zeros_of_bessel_functions():
    """Every one of them, and none left out below the highest: scipy's own functions and zeros."""
    modes = compute_membrane_modes()
    assert np.abs(jv(modes.diameters, modes.zeros)).max() < 1e-12
    expected = sorted(zero for m in range(40) for zero in jn_zeros(m, 20) if zero <= modes.zeros[-1])
    assert modes.zeros == pytest.approx(np.array(expected))


def test_air_pulls_the_ring_modes_towards_a_harmonic_series():
    """(1, 1), (2, 1), (3, 1), (4, 1) lie at 1 : 1.34 : 1.66 : 1.98 in a vacuum, on kettledrums near
    2 : 3 : 4 : 5 (Fletcher and Rossing, from memory)."""
    ring = [mode(m, 1) for m in (1, 2, 3, 4)]

    def ratios(air):
        hz = compute_mode_ratios(air)[ring]
        return hz / hz[0]

    assert ratios(0.0) == pytest.approx([1, 1.340, 1.665, 1.980], abs=0.002)
    harmonic = np.array([1, 1.5, 2.0, 2.5])
    off = [np.abs(ratios(air) - harmonic).max() for air in (0, 1, 3, 9)]
    assert off == sorted(off, reverse=True)
    assert ratios(9.0) == pytest.approx(harmonic, rel=0.04)


def test_air_lowers_the_low_modes_most():
    """The mass of air that swings along falls with the wave number (Fletcher and Rossing, from memory)."""
    against_the_lowest = compute_mode_ratios(1.5) / compute_mode_ratios(0.0)
    assert np.all(np.diff(against_the_lowest) >= 0)
    assert against_the_lowest[-1] > 1.2


@pytest.mark.parametrize(
    ("name", "low", "high"),
    [
        ("kick", 45, 75),
        ("second floor tom", 65, 95),
        ("floor tom", 80, 115),
        ("mid tom", 105, 150),
        ("high tom", 140, 200),
        ("snare", 160, 240),
    ],
)
def test_drums_are_tuned_as_drummers_tune_them(name, low, high):
    """Common practice, no source."""
    body = make_one_shot(load_kit_recipes(), name, 112, 0)[SAMPLE_RATE // 10 :][: SAMPLE_RATE // 4].mean(axis=1)
    spectrum = np.abs(np.fft.rfft(body * np.hanning(len(body)), 1 << 17))
    assert low < np.argmax(spectrum) * SAMPLE_RATE / (1 << 17) < high


@pytest.mark.parametrize("name", ["crash", "second crash", "china", "splash", "open hi-hat"])
def test_cymbals_have_no_pitch(name):
    """Among their many modes no single tone dominates (common practice, no source)."""
    power = np.abs(np.fft.rfft(make_one_shot(load_kit_recipes(), name, 112, 0).mean(axis=1))) ** 2
    assert power.max() / power.sum() < 0.05


def test_snare_wires_are_heard_above_2_khz():
    """A snare drum without them is a tom (common practice, no source)."""

    def share(name):
        power = np.abs(np.fft.rfft(make_one_shot(load_kit_recipes(), name, 112, 0)[441:4410].mean(axis=1))) ** 2
        return power[len(power) * 2000 // 22050 :].sum() / power.sum()

    assert share("snare") > 0.08
    assert share("snare") > 4 * share("high tom")


def likeness(first, second):
    """Correlation of two sounds over what both last."""
    length = min(len(first), len(second))
    return np.corrcoef(first[:length].sum(axis=1), second[:length].sum(axis=1))[0, 1]


@pytest.mark.parametrize("velocities", [(112, 112), (80, 80), (45, 45), (38, 38), (80, 45), (112, 80)])
@pytest.mark.parametrize("name", ["snare", "snare ghost", "snare buzz", "high tom", "floor tom", "kick"])
def test_strokes_of_a_roll_differ(name, velocities):
    """No two strokes of a drummer's are the same: neighbours differ, and those next but one, also where two
    velocities alternate (common practice, no source)."""
    roll = [default_bank().get_shot(name, velocities[index % 2], index) for index in range(24)]
    for apart in (1, 2):
        alike = [likeness(first, second) for first, second in zip(roll, roll[apart:], strict=False)]
        assert max(alike) < 0.98
