"""The modelled kit against what is known of real drums and cymbals.

Source: Rayleigh, The Theory of Sound (from memory)
Source: Fletcher and Rossing, The Physics of Musical Instruments (from memory)
Source: Common practice (tuning of drums; no source)
"""

import numpy as np
import pytest

from fillwright.sound.instrument import one_shot
from fillwright.sound.modal import RATE, membrane_modes
from fillwright.sound.recipe import kit


def test_membrane_ratios():
    """Ideal membrane: Rayleigh, The Theory of Sound, and Fletcher and Rossing, The Physics of Musical
    Instruments; the ratios recalled from memory."""
    zeros = [zero for _, zero in membrane_modes()]
    ratios = [zero / zeros[0] for zero in zeros[:9]]
    assert ratios == pytest.approx([1, 1.594, 2.136, 2.296, 2.653, 2.918, 3.156, 3.500, 3.600], abs=0.002)


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
    body = one_shot(kit(), name, 112, 0)[RATE // 10 :][: RATE // 4].mean(axis=1)
    spectrum = np.abs(np.fft.rfft(body * np.hanning(len(body)), 1 << 17))
    assert low < np.argmax(spectrum) * RATE / (1 << 17) < high


@pytest.mark.parametrize("name", ["crash", "second crash", "china", "splash", "open hi-hat"])
def test_cymbals_have_no_pitch(name):
    """Their many modes leave no single tone in charge (common practice, no source)."""
    power = np.abs(np.fft.rfft(one_shot(kit(), name, 112, 0).mean(axis=1))) ** 2
    assert power.max() / power.sum() < 0.05


def test_snare_wires_are_heard_above_2_khz():
    """A snare drum without them is a tom (common practice, no source)."""

    def share(name):
        power = np.abs(np.fft.rfft(one_shot(kit(), name, 112, 0)[441:4410].mean(axis=1))) ** 2
        return power[len(power) * 2000 // 22050 :].sum() / power.sum()

    assert share("snare") > 0.1
    assert share("snare") > 20 * share("high tom")
