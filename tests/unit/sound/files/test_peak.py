import numpy as np
import pytest

from fillwright.sound.files.peak import CEILING_DB, limit_peak, measure_true_peak
from fillwright.sound.signal import SAMPLE_RATE


def stereo(mono):
    return np.stack([mono, np.zeros_like(mono)], axis=1).astype(np.float32)


def quarter_rate_sine(samples=4000):
    """A sine at a quarter of the rate, 45 degrees off: its samples are all 0.707, its peaks 1."""
    return np.sin(np.pi / 2 * np.arange(samples) + np.pi / 4)


def test_peaks_between_samples_are_found():
    faded = quarter_rate_sine() * np.hanning(4000)
    assert np.abs(faded).max() < 0.708
    assert measure_true_peak(stereo(faded)) == pytest.approx(1.0, abs=0.005)


def test_a_peak_on_a_sample_counts():
    lone = np.zeros(1000)
    lone[500] = -0.8
    assert measure_true_peak(stereo(lone)) == pytest.approx(0.8)


@pytest.mark.parametrize("shift", range(-20, 21, 4))
def test_a_seam_of_the_measurement_hides_nothing(shift):
    burst = np.zeros(2 * SAMPLE_RATE)
    burst[SAMPLE_RATE + shift - 8 : SAMPLE_RATE + shift + 8] = quarter_rate_sine(16) * np.hanning(16)
    alone = np.zeros(2 * SAMPLE_RATE)
    alone[300:316] = quarter_rate_sine(16) * np.hanning(16)
    assert measure_true_peak(stereo(burst)) == pytest.approx(measure_true_peak(stereo(alone)), rel=1e-6)


def test_edges_of_the_audio_are_measured():
    loud = np.full(30, 0.5)
    assert measure_true_peak(stereo(loud)) > 0.5


def test_both_sides_are_measured():
    quiet, loud = 0.2 * quarter_rate_sine(), 0.6 * quarter_rate_sine()
    window = np.hanning(4000)
    samples = np.stack([quiet * window, loud * window], axis=1).astype(np.float32)
    assert measure_true_peak(samples) == pytest.approx(0.6, abs=0.005)


def test_silence_and_empty_audio_have_no_peak():
    assert measure_true_peak(np.zeros((100, 2), np.float32)) == 0.0
    assert measure_true_peak(np.zeros((0, 2), np.float32)) == 0.0


def test_loud_audio_is_lowered_as_a_whole_to_the_ceiling():
    loud = stereo(1.4 * quarter_rate_sine() * np.hanning(4000))
    made = limit_peak(loud)
    assert 20 * np.log10(measure_true_peak(made)) == pytest.approx(CEILING_DB, abs=0.01)
    heard = np.abs(loud) > 0.1
    np.testing.assert_allclose(made[heard] / loud[heard], made[heard][0] / loud[heard][0], rtol=1e-5)


def test_audio_below_the_ceiling_stays():
    quiet = stereo(0.8 * quarter_rate_sine() * np.hanning(4000))
    assert limit_peak(quiet) is quiet
