"""A recording at the rate that the ear hears at."""

from __future__ import annotations

from fractions import Fraction
from functools import cache

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float32]

RATE = 24_000
"""Samples per second that the ear hears at; from a trial."""

_CROSSINGS = 12  # zero crossings of the filter on each side; ours, not measured
_PASSED = 0.92  # share of the lower half rate at which the filter lets half of the amplitude through; ours
_MOST_PARTS = 500  # largest numerator and denominator of the ratio of rates; finer ratios change the time
_CHUNK = 1 << 18  # samples that are worked on together, for memory
_SHAPE = 6.0  # of the Kaiser window: about 65 dB below the passed band; its formula, from memory


def resample_signal(signal: Floats, rate: float) -> tuple[Floats, float]:
    """Return a mono signal at about `RATE` and its exact new rate.

    A row of the filter matrix makes one output sample of a period in which both rates have whole numbers of
    samples, so that all of it is one matrix product.

    Args:
        signal: shape (samples,).
        rate: samples per second.
    """
    ratio = Fraction(RATE / rate).limit_denominator(_MOST_PARTS)
    after, before = ratio.numerator, ratio.denominator
    if ratio == 1:
        return signal, rate
    return apply_taps(signal, build_taps(after, before), before)[: round(len(signal) * ratio)], rate * float(
        ratio
    )


def apply_taps(signal: Floats, taps: Floats, used: int) -> Floats:
    """Return a signal at another rate; silence is assumed before and after it.

    Args:
        signal: shape (samples,).
        taps: as `build_taps` returns them.
        used: samples of a period before.
    """
    outputs, length = taps.shape
    reach = (length - used) // 2
    periods = -(-len(signal) // used)
    resampled = np.empty((periods, outputs), np.float32)
    step = max(1, _CHUNK // length)
    for first in range(0, periods, step):
        last = min(periods, first + step)
        piece = np.zeros((last - first - 1) * used + length, np.float32)
        begin = first * used - reach
        inside = signal[max(0, begin) : begin + len(piece)]
        piece[max(0, -begin) : max(0, -begin) + len(inside)] = inside
        views = np.lib.stride_tricks.sliding_window_view(piece, length)[::used]
        np.matmul(views, taps.T, out=resampled[first:last])
    return resampled.ravel()


@cache
def build_taps(after: int, before: int) -> Floats:
    """Return the filters of one period, shape (after, before + twice the filter's reach).

    Each row makes one sample: a sine divided by its argument, in a Kaiser window.

    Args:
        after: samples of a period after.
        before: samples of a period before.
    """
    cutoff = _PASSED * min(1.0, after / before)
    reach = int(np.ceil(_CROSSINGS / cutoff))
    at = np.arange(after)[:, None] * (before / after)
    away = np.arange(-reach, before + reach)[None, :] - at
    window = np.i0(_SHAPE * np.sqrt(np.maximum(0, 1 - (away / reach) ** 2))) / np.i0(_SHAPE)
    taps = np.sinc(cutoff * away) * np.where(np.abs(away) <= reach, window, 0)
    weights = np.asarray(taps / taps.sum(axis=1, keepdims=True), np.float32)
    weights.flags.writeable = False
    return weights
