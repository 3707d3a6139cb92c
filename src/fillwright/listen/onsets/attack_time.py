"""Where exactly an attack starts: to the sample region, from a rough place."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]
Indices = npt.NDArray[np.intp]

_BEFORE_SECONDS, _AFTER_SECONDS = 0.010, 0.005
_MARGIN = 8
_BACK_SECONDS, _AHEAD_SECONDS = 0.001, 0.005
_HUM_SECONDS = 0.006
_SHARE = 0.1
_ABOVE_HUM = 3.0
_MOST_SHARE = 0.7
_TINY = 1e-14
_AT_ONCE = 1024


def find_attack_starts(signal: npt.NDArray[np.float32], rate: float, rough: Indices) -> Indices:
    """Samples where attacks start.

    First the point where the power of the signal, its high tones lifted, changes most: the split into two
    pieces of constant variance that costs least by Akaike's criterion. From 1 ms before it, the first sample at
    a tenth of the attack's peak that also stands out from what rings there.

    Args:
        signal: mono.
        rate: samples a second.
        rough: samples within a few milliseconds of an attack.
    """
    if not len(rough):
        return rough
    before, after, back, ahead, hum = (
        round(one * rate)
        for one in (_BEFORE_SECONDS, _AFTER_SECONDS, _BACK_SECONDS, _AHEAD_SECONDS, _HUM_SECONDS)
    )
    lead = before + back + hum
    lifted = np.zeros(lead + len(signal) + after + back + ahead + 1, np.float32)
    lifted[lead] = signal[0]
    np.subtract(signal[1:], signal[:-1], out=lifted[lead + 1 : lead + len(signal)])
    made = np.empty(len(rough), np.intp)
    for start in range(0, len(rough), _AT_ONCE):
        some = slice(start, start + _AT_ONCE)
        first = rough[some] + lead - before
        split = first + _split(lifted[first[:, None] + np.arange(before + after)])
        near = np.abs(lifted[(split - back)[:, None] + np.arange(back + ahead)])
        ringing = lifted[(split - back - hum)[:, None] + np.arange(hum)]
        made[some] = split - back - lead + _reached(near, ringing)
    return np.maximum(0, made)


def _reached(near: npt.NDArray[np.float32], ringing: npt.NDArray[np.float32]) -> Indices:
    """The first sample of each row at a tenth of its peak that also stands out from what rings before it."""
    peak = near.max(axis=1)
    least = np.maximum(_SHARE * peak, _ABOVE_HUM * np.sqrt(np.square(ringing).mean(axis=1)))
    return np.asarray(np.argmax(near >= np.minimum(least, _MOST_SHARE * peak)[:, None], axis=1), np.intp)


def _split(pieces: npt.NDArray[np.float32]) -> Indices:
    """The best place to split each row into two of constant variance."""
    length = pieces.shape[1]
    energy = np.cumsum(np.square(pieces, dtype=np.float64) + _TINY, axis=1)
    left = np.arange(1, length)
    right = length - left
    rest = np.maximum(energy[:, -1:] - energy[:, :-1], _TINY)
    cost = left * np.log(energy[:, :-1] / left) + right * np.log(rest / right)
    return np.asarray(np.argmin(cost[:, _MARGIN:-_MARGIN], axis=1) + _MARGIN + 1, np.intp)
