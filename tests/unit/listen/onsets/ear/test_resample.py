"""Recordings at the ear's rate."""

import numpy as np
import pytest

from fillwright.listen.onsets.ear.resample import RATE, resample_signal


def tone(hertz, rate, seconds=1.0):
    return np.sin(2 * np.pi * hertz * np.arange(round(rate * seconds)) / rate).astype(np.float32)


@pytest.mark.parametrize("rate", [8_000, 11_025, 16_000, 22_050, 32_000, 44_100, 48_000])
def test_a_tone_keeps_its_pitch_place_and_height(rate):
    resampled, new_rate = resample_signal(tone(440, rate), rate)
    assert new_rate == pytest.approx(RATE)
    assert len(resampled) == pytest.approx(RATE, abs=2)
    inner = slice(200, -200)
    assert resampled[inner] == pytest.approx(tone(440, RATE)[: len(resampled)][inner], abs=0.01)


def test_what_the_lower_rate_cannot_hold_is_removed():
    resampled, _ = resample_signal(tone(15_000, 44_100), 44_100)
    assert np.abs(resampled[200:-200]).max() < 0.01


def test_an_odd_rate_reports_the_rate_that_it_made():
    resampled, rate = resample_signal(tone(440, 44_056), 44_056)
    assert rate == pytest.approx(RATE, rel=1e-4)
    assert len(resampled) / rate == pytest.approx(1.0, abs=1e-3)


def test_a_recording_at_the_rate_itself_is_left_alone():
    signal = tone(440, RATE)
    assert resample_signal(signal, RATE)[0] is signal
