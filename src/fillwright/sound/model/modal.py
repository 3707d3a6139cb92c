"""Sums of damped modes."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from fillwright.sound.model.recipe import Curve

Floats = npt.NDArray[np.float64]

SAMPLE_RATE = 44_100
"""Samples a second of everything the project plays."""

TOP_HZ = 17_500.0
"""No mode lies higher: few adults hear it, and the encoders drop it."""

_FALL = np.log(1000.0)  # 60 dB as a natural logarithm
_BANDS = (0.1, 0.2, 0.4, 0.7, 1.2, 2.0, 2.8, np.inf)


def db_to_amplitude(value: float | Floats) -> float | Floats:
    """An amplitude from dB."""
    return 10.0 ** (value / 20.0)


def interpolate_curve(curve: Curve, hz: Floats) -> Floats:
    """The values of a curve at some frequencies, on straight lines over octaves.

    >>> along(((100.0, 0.0), (400.0, -6.0)), np.array([50.0, 200.0])).round(6).tolist()
    [0.0, -3.0]
    """
    at, values = zip(*curve, strict=True)
    return np.asarray(np.interp(np.log2(np.maximum(hz, 1.0)), np.log2(at), values))


def sum_modes(
    hz: Floats, t60: Floats, weights: npt.NDArray[np.complex128], lasts: Floats | None = None
) -> Floats:
    """Damped modes, summed.

    A mode's sample at i * b + j is the product of its value at i * b and its turn over j, so the sum over modes
    is one product of matrices: a thousand modes cost milliseconds.

    Args:
        hz: frequencies, shape (modes,).
        t60: seconds in which each falls by 60 dB, shape (modes,).
        weights: amplitude and phase for each side, shape (modes, sides).
        lasts: seconds for which each is worth hearing, shape (modes,); by default its t60.

    Returns:
        Samples, shape (samples, sides), as long as what lasts longest, faded to zero over the last fifth.
    """
    lasts = t60 if lasts is None else lasts
    out = np.zeros((int(np.max(lasts) * SAMPLE_RATE) + 1, weights.shape[1]))
    lower = 0.0
    for upper in _BANDS:
        inside = (lasts > lower) & (lasts <= upper)
        lower = upper
        if inside.any():
            made = _ring_band(hz[inside], t60[inside], weights[inside], float(np.max(lasts[inside])))
            out[: len(made)] += made
    return out


def _ring_band(hz: Floats, t60: Floats, weights: npt.NDArray[np.complex128], seconds: float) -> Floats:
    samples = int(seconds * SAMPLE_RATE) + 1
    block = int(np.sqrt(samples)) + 1
    turn = (2j * np.pi * hz - _FALL / t60) / SAMPLE_RATE
    fine, coarse = _powers(turn, block), _powers(turn * block, block)
    right = np.concatenate([fine.real, -fine.imag])
    sides = []
    for side in weights.T:
        left = coarse * side[:, None]
        sides.append((np.concatenate([left.real, left.imag]).T @ right).ravel()[:samples])
    return fade_end(np.stack(sides, axis=1))


def _powers(turn: npt.NDArray[np.complex128], count: int) -> npt.NDArray[np.complex128]:
    """The powers 0 to count - 1 of exp(turn), shape (modes, count): products of few, since exp takes long."""
    few = int(np.sqrt(count)) + 1
    ones, steps = (np.exp(turn[:, None] * np.arange(few) * size) for size in (1, few))
    return np.asarray((steps[:, :, None] * ones[:, None, :]).reshape(len(turn), -1)[:, :count])


def fade_end(samples: Floats) -> Floats:
    """The samples with their last fifth faded to zero, in place: what ends 60 dB down still ticks."""
    fade = len(samples) // 5
    if fade:
        samples[-fade:] *= np.cos(np.linspace(0, np.pi / 2, fade))[:, None] ** 2
    return samples
