"""Noise in half octaves: the raw material of washes and of the room's tail."""

from __future__ import annotations

import zlib
from functools import cache

import numpy as np
from scipy.ndimage import uniform_filter1d

from fillwright.sound.model.modal import TOP_HZ
from fillwright.sound.signal import SAMPLE_RATE, Floats

BAND_HZ: Floats = 44.0 * 2.0 ** (np.arange(18) / 2)
"""Middle of each band, in Hz: half octaves from 44 Hz; ours."""

LOOP_SAMPLES = 1 << 16
"""Samples after which the noise repeats, without a seam: 1.5 s."""

_EVEN_SECONDS, _EVEN_CYCLES = 0.0012, 3.0  # window in which power is evened: the longer of the two; ours
_EVEN_POWER = 0.45  # share of the swells that is taken out, 0.5 for all of them; ours


@cache
def make_noise_bands() -> Floats:
    """Return noise in half octaves, each of mean square 1, read-only, shape (bands, LOOP_SAMPLES)."""
    rng = np.random.default_rng(zlib.crc32(b"bands"))
    white = np.fft.rfft(rng.standard_normal(LOOP_SAMPLES))
    hz = np.fft.rfftfreq(LOOP_SAMPLES, 1 / SAMPLE_RATE)
    steps = 2 * np.log2(np.maximum(hz, 1.0) / BAND_HZ[0])
    noise = np.empty((len(BAND_HZ), LOOP_SAMPLES))
    for band in range(len(BAND_HZ)):
        inside = np.cos(np.pi / 2 * np.clip(steps - band, -1, 1)) * (hz < TOP_HZ)
        noise[band] = _even_out(np.fft.irfft(white * inside, LOOP_SAMPLES), BAND_HZ[band])
    noise.flags.writeable = False
    return noise


def _even_out(noise: Floats, middle: float) -> Floats:
    """Return noise of mean square 1 with its swells evened out: in a decay they sound like grit and attacks."""
    window = round(max(_EVEN_SECONDS, _EVEN_CYCLES / middle) * SAMPLE_RATE)
    power = uniform_filter1d(noise**2, window, mode="wrap")
    even = noise / power**_EVEN_POWER
    return np.asarray(even / np.sqrt(np.mean(even**2)))


def cut_band_noise(band: int, samples: int, start: int) -> Floats:
    """Return a stretch of a band's noise, wrapped round the loop, shape (samples,)."""
    return np.asarray(np.take(make_noise_bands()[band], np.arange(start, start + samples), mode="wrap"))
