"""Noise in half octaves, from which washes and rooms are made."""

from __future__ import annotations

import zlib
from functools import cache

import numpy as np
from scipy.ndimage import uniform_filter1d

from fillwright.sound.model.modal import TOP_HZ
from fillwright.sound.signal import SAMPLE_RATE, Floats

BAND_HZ: Floats = 44.0 * 2.0 ** (np.arange(18) / 2)
"""The middle of each band, Hz."""

LOOP_SAMPLES = 1 << 16
"""Samples after which the noise starts again, without a seam."""

_EVEN_SECONDS, _EVEN_TURNS = 0.0012, 3.0
_EVEN_POWER = 0.45


@cache
def make_noise_bands() -> Floats:
    """Noise in half octaves, each of mean square 1, shape (bands, LOOP)."""
    chance = np.random.default_rng(zlib.crc32(b"bands"))
    white = np.fft.rfft(chance.standard_normal(LOOP_SAMPLES))
    hz = np.fft.rfftfreq(LOOP_SAMPLES, 1 / SAMPLE_RATE)
    steps = 2 * np.log2(np.maximum(hz, 1.0) / BAND_HZ[0])
    made = np.empty((len(BAND_HZ), LOOP_SAMPLES))
    for band in range(len(BAND_HZ)):
        inside = np.cos(np.pi / 2 * np.clip(steps - band, -1, 1)) * (hz < TOP_HZ)
        made[band] = _even(np.fft.irfft(white * inside, LOOP_SAMPLES), BAND_HZ[band])
    made.flags.writeable = False
    return made


def _even(noise: Floats, middle: float) -> Floats:
    """Noise of mean square 1 without swells: in a decay they would be heard as grit, and as attacks."""
    window = round(max(_EVEN_SECONDS, _EVEN_TURNS / middle) * SAMPLE_RATE)
    power = uniform_filter1d(noise**2, window, mode="wrap")
    made = noise / power**_EVEN_POWER
    return np.asarray(made / np.sqrt(np.mean(made**2)))


def cut_band_noise(band: int, samples: int, start: int) -> Floats:
    """A stretch of a band's noise, going round the loop."""
    return np.asarray(np.take(make_noise_bands()[band], np.arange(start, start + samples), mode="wrap"))
