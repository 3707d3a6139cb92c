"""Sums of damped modes: the sound of anything that is struck and left to ring."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from fillwright.sound.model.part_types import Curve
from fillwright.sound.signal import SAMPLE_RATE, Floats

TOP_HZ = 17_500.0
"""Highest mode, in Hz: few adults hear above it (from memory), and the encoders drop it; ours, not measured."""

LOG_60_DB = np.log(1000.0)
"""60 dB as a natural logarithm: exp(-LOG_60_DB * t / t60) falls by 60 dB in t60."""

# Modes that last about as long, up to these seconds, are summed together.
_GROUPS = (0.1, 0.2, 0.4, 0.7, 1.2, 2.0, 2.8, np.inf)


def interpolate_curve(curve: Curve, hz: Floats) -> Floats:
    """Return the values of a curve at some frequencies, in Hz, on straight lines over octaves.

    >>> interpolate_curve(((100.0, 0.0), (400.0, -6.0)), np.array([50.0, 200.0])).round(6).tolist()
    [0.0, -3.0]
    """
    points, values = zip(*curve, strict=True)
    return np.asarray(np.interp(np.log2(np.maximum(hz, 1.0)), np.log2(points), values))


def sum_modes(
    hz: Floats, t60: Floats, weights: npt.NDArray[np.complex128], lasts: Floats | None = None
) -> Floats:
    """Return the sum of damped modes.

    A mode's sample at i * b + j is the product of its value at i * b and its rotation over j. So the sum over
    modes is one product of matrices, and a thousand modes take milliseconds.

    Args:
        hz: frequencies, shape (modes,).
        t60: seconds in which each falls by 60 dB, shape (modes,).
        weights: amplitude and phase for each side, shape (modes, sides).
        lasts: seconds for which each is audible, shape (modes,); by default its t60.

    Returns:
        Samples, shape (samples, sides), as long as the longest mode lasts, faded to zero over the last fifth.
    """
    lasts = t60 if lasts is None else lasts
    out = np.zeros((int(np.max(lasts) * SAMPLE_RATE) + 1, weights.shape[1]))
    lower = 0.0
    for upper in _GROUPS:
        inside = (lasts > lower) & (lasts <= upper)
        lower = upper
        if inside.any():
            group = _sum_group(hz[inside], t60[inside], weights[inside], float(np.max(lasts[inside])))
            out[: len(group)] += group
    return out


def _sum_group(hz: Floats, t60: Floats, weights: npt.NDArray[np.complex128], seconds: float) -> Floats:
    """Return the sum of modes that all last that long, shape (samples, sides)."""
    samples = int(seconds * SAMPLE_RATE) + 1
    block = int(np.sqrt(samples)) + 1
    turn = (2j * np.pi * hz - LOG_60_DB / t60) / SAMPLE_RATE
    fine, coarse = _compute_powers(turn, block), _compute_powers(turn * block, block)
    right = np.concatenate([fine.real, -fine.imag])
    sides = []
    for side in weights.T:
        left = coarse * side[:, None]
        sides.append((np.concatenate([left.real, left.imag]).T @ right).ravel()[:samples])
    return fade_end(np.stack(sides, axis=1))


def _compute_powers(turn: npt.NDArray[np.complex128], count: int) -> npt.NDArray[np.complex128]:
    """Return the powers 0 to count - 1 of exp(turn), shape (modes, count), from few calls of the slow exp."""
    few = int(np.sqrt(count)) + 1
    ones, steps = (np.exp(turn[:, None] * np.arange(few) * size) for size in (1, few))
    return np.asarray((steps[:, :, None] * ones[:, None, :]).reshape(len(turn), -1)[:, :count])


def fade_end(samples: Floats) -> Floats:
    """Fade the last fifth of the samples to zero, in place: an end 60 dB down is still an audible tick."""
    fade = len(samples) // 5
    if fade:
        samples[-fade:] *= np.cos(np.linspace(0, np.pi / 2, fade))[:, None] ** 2
    return samples
