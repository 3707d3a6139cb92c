"""Noise in half octaves, from which washes and rooms are made."""

from __future__ import annotations

import zlib
from functools import cache

import numpy as np

from fillwright.sound.modal import RATE, TOP_HZ, Floats

MIDDLES: Floats = 44.0 * 2.0 ** (np.arange(18) / 2)
"""The middle of each band, Hz."""

LOOP = 1 << 17
"""Samples after which the noise starts again, without a seam."""


@cache
def bands() -> Floats:
    """Noise in half octaves, each of mean square 1, shape (bands, LOOP)."""
    chance = np.random.default_rng(zlib.crc32(b"bands"))
    white = np.fft.rfft(chance.standard_normal(LOOP))
    hz = np.fft.rfftfreq(LOOP, 1 / RATE)
    steps = 2 * np.log2(np.maximum(hz, 1.0) / MIDDLES[0])
    made = np.empty((len(MIDDLES), LOOP))
    for band in range(len(MIDDLES)):
        inside = np.cos(np.pi / 2 * np.clip(steps - band, -1, 1)) * (hz < TOP_HZ)
        noise = np.fft.irfft(white * inside, LOOP)
        made[band] = noise / np.sqrt(np.mean(noise**2))
    made.flags.writeable = False
    return made


def band_noise(band: int, samples: int, start: int) -> Floats:
    """A stretch of a band's noise, going round the loop; not to be written to."""
    whole = bands()[band]
    if start + samples <= LOOP:
        return whole[start : start + samples]
    return np.asarray(np.resize(np.concatenate([whole[start:], whole[:start]]), samples))
