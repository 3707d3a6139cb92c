import numpy as np
import pytest

from fillwright.sound.model.bands import LOOP, MIDDLES, band_noise, bands
from fillwright.sound.model.modal import RATE


def test_every_band_has_mean_square_1_and_lies_about_its_middle():
    hz = np.fft.rfftfreq(LOOP, 1 / RATE)
    for middle, noise in zip(MIDDLES, bands(), strict=True):
        assert np.mean(noise**2) == pytest.approx(1.0)
        power = np.abs(np.fft.rfft(noise)) ** 2
        assert np.sum(power * hz) / np.sum(power) == pytest.approx(middle, rel=0.15)


def test_a_stretch_goes_round_the_loop():
    piece = band_noise(5, 100, LOOP - 40)
    assert np.array_equal(piece, np.concatenate([bands()[5][-40:], bands()[5][:60]]))
    assert len(band_noise(5, LOOP + 10, 7)) == LOOP + 10


def test_bands_can_not_be_spoilt():
    with pytest.raises(ValueError, match="read-only"):
        bands()[0][0] = 1.0
