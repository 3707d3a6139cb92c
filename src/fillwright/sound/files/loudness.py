"""Integrated loudness, weighted as the ear hears and gated, after ITU-R BS.1770-4."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
from scipy.signal import sosfilt

from fillwright.sound.signal import SAMPLE_RATE, Samples

QUIETEST_LUFS = -70.0
"""Absolute gate, in LUFS: quieter blocks don't count, and silence has this loudness; BS.1770-4."""

_BLOCK, _HOP = (
    round(0.4 * SAMPLE_RATE),
    round(0.1 * SAMPLE_RATE),
)  # samples: 400 ms, overlapping by 75 %; BS.1770-4
_GATE = -10.0  # LU: relative gate, below the mean of the blocks above the absolute gate; BS.1770-4
_OFFSET = -0.691  # dB: makes a 1 kHz sine read its level; BS.1770-4
# The K weighting's two filters, as analogue designs whose coefficients at 48 kHz are those that BS.1770-4
# prints (from memory; tests/outside/test_sound_levels.py compares with pyloudnorm): first the shelf of the head
# ...
_SHELF_HZ, _SHELF_DB, _SHELF_Q, _SHELF_POWER = (
    1681.974450955533,
    3.999843853973347,
    0.7071752369554196,
    0.4996667741545416,
)
# ... then the low cut: Hz, and quality
_PASS_HZ, _PASS_Q = 38.13547087602444, 0.5003270373238773


def measure_loudness(samples: Samples) -> float:
    """Return the integrated loudness, in LUFS.

    Args:
        samples: stereo at 44.1 kHz, full scale 1, shape (samples, 2); below 0.4 s, silence is added.
    """
    if len(samples) < _BLOCK:
        samples = np.concatenate([samples, np.zeros((_BLOCK - len(samples), 2), np.float32)])
    power = np.sum(sosfilt(_design_weighting(), samples.astype(np.float64), axis=0) ** 2, axis=1)
    total = np.concatenate([[0.0], np.cumsum(power)])
    starts = np.arange(0, len(samples) - _BLOCK + 1, _HOP)
    blocks = (total[starts + _BLOCK] - total[starts]) / _BLOCK
    blocks = blocks[blocks > _lufs_to_power(QUIETEST_LUFS)]
    if not len(blocks):
        return QUIETEST_LUFS
    loud = blocks[blocks > blocks.mean() * 10 ** (_GATE / 10)]
    return float(_OFFSET + 10 * np.log10(loud.mean()))


def _lufs_to_power(lufs: float) -> float:
    return float(10 ** ((lufs - _OFFSET) / 10))


def _design_weighting() -> npt.NDArray[np.float64]:
    """Return the shelf and the low cut, as two second-order sections at 44.1 kHz."""
    return np.array([_design_shelf(), _design_low_cut()])


def _design_shelf() -> list[float]:
    k = float(np.tan(np.pi * _SHELF_HZ / SAMPLE_RATE))
    high = 10 ** (_SHELF_DB / 20)
    band = high**_SHELF_POWER
    norm = 1 + k / _SHELF_Q + k * k
    return [
        (high + band * k / _SHELF_Q + k * k) / norm,
        2 * (k * k - high) / norm,
        (high - band * k / _SHELF_Q + k * k) / norm,
        1.0,
        2 * (k * k - 1) / norm,
        (1 - k / _SHELF_Q + k * k) / norm,
    ]


def _design_low_cut() -> list[float]:
    k = float(np.tan(np.pi * _PASS_HZ / SAMPLE_RATE))
    norm = 1 + k / _PASS_Q + k * k
    return [1.0, -2.0, 1.0, 1.0, 2 * (k * k - 1) / norm, (1 - k / _PASS_Q + k * k) / norm]
