import numpy as np
import pytest

from fillwright.sound.model.bands import BAND_HZ, LOOP_SAMPLES, cut_band_noise, make_noise_bands
from fillwright.sound.signal import SAMPLE_RATE


def test_every_band_has_mean_square_1_and_is_centred_on_its_middle():
    hz = np.fft.rfftfreq(LOOP_SAMPLES, 1 / SAMPLE_RATE)
    for middle, noise in zip(BAND_HZ, make_noise_bands(), strict=True):
        assert np.mean(noise**2) == pytest.approx(1.0)
        power = np.abs(np.fft.rfft(noise)) ** 2
        assert np.sum(power * hz) / np.sum(power) == pytest.approx(middle, rel=0.15)


def test_a_stretch_goes_round_the_loop():
    piece = cut_band_noise(5, 100, LOOP_SAMPLES - 40)
    assert np.array_equal(piece, np.concatenate([make_noise_bands()[5][-40:], make_noise_bands()[5][:60]]))
    assert len(cut_band_noise(5, LOOP_SAMPLES + 10, 7)) == LOOP_SAMPLES + 10


def test_bands_can_not_be_spoilt():
    with pytest.raises(ValueError, match="read-only"):
        make_noise_bands()[0][0] = 1.0
