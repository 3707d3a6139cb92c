"""Loudness as the ear takes it: integrated and gated, after ITU-R BS.1770-4."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
from scipy.signal import sosfilt

from fillwright.sound.signal import SAMPLE_RATE, Samples

QUIETEST_LUFS = -70.0
"""What is quieter than this is not counted; silence has this loudness."""

_BLOCK, _HOP = round(0.4 * SAMPLE_RATE), round(0.1 * SAMPLE_RATE)
_GATE = -10.0
_OFFSET = -0.691
_SHELF_HZ, _SHELF_DB, _SHELF_Q, _SHELF_POWER = (
    1681.974450955533,
    3.999843853973347,
    0.7071752369554196,
    0.4996667741545416,
)
_PASS_HZ, _PASS_Q = 38.13547087602444, 0.5003270373238773


def measure_loudness(samples: Samples) -> float:
    """Integrated loudness in LUFS.

    Args:
        samples: stereo at 44.1 kHz, full scale 1, shape (samples, 2); at least 0.4 s count.
    """
    if len(samples) < _BLOCK:
        samples = np.concatenate([samples, np.zeros((_BLOCK - len(samples), 2), np.float32)])
    power = np.sum(sosfilt(_weighting(), samples.astype(np.float64), axis=0) ** 2, axis=1)
    total = np.concatenate([[0.0], np.cumsum(power)])
    starts = np.arange(0, len(samples) - _BLOCK + 1, _HOP)
    blocks = (total[starts + _BLOCK] - total[starts]) / _BLOCK
    blocks = blocks[blocks > _power(QUIETEST_LUFS)]
    if not len(blocks):
        return QUIETEST_LUFS
    loud = blocks[blocks > blocks.mean() * 10 ** (_GATE / 10)]
    return float(_OFFSET + 10 * np.log10(loud.mean()))


def _power(lufs: float) -> float:
    return float(10 ** ((lufs - _OFFSET) / 10))


def _weighting() -> npt.NDArray[np.float64]:
    """The head's shelf and the low cut, as two second-order sections at 44.1 kHz."""
    return np.array([_shelf(), _low_cut()])


def _shelf() -> list[float]:
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


def _low_cut() -> list[float]:
    k = float(np.tan(np.pi * _PASS_HZ / SAMPLE_RATE))
    norm = 1 + k / _PASS_Q + k * k
    return [1.0, -2.0, 1.0, 1.0, 2 * (k * k - 1) / norm, (1 - k / _PASS_Q + k * k) / norm]
