"""The exact start of an attack: the sample at which it begins, near a rough estimate."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]
Indices = npt.NDArray[np.intp]

_BEFORE_SECONDS, _AFTER_SECONDS = 0.010, 0.005  # searched around the estimate; from a trial on simulated takes
_MARGIN = 8  # samples at both ends of the searched piece where no split is tried; ours, not measured
_BACK_SECONDS, _AHEAD_SECONDS = 0.001, 0.005  # searched around the split for the first loud sample; ours
_RINGING_SECONDS = 0.006  # before that, heard as what still rings; ours, not measured
_PEAK_SHARE = 0.1  # of the attack's peak at which it starts; the bench measures its kits the same way
_ABOVE_RINGING = 3.0  # and at least this many times the RMS of what rings; ours, not measured
_MOST_PEAK_SHARE = 0.7  # but never more than this share of the peak; ours, not measured
_TINY = 1e-14  # power that keeps logarithms finite
_CHUNK = 1024  # attacks worked on together, for memory


def find_attack_starts(signal: npt.NDArray[np.float32], rate: float, estimates: Indices) -> Indices:
    """Find the samples at which attacks start.

    First the change point of the signal's variance, high frequencies emphasised: the split into two pieces of
    constant variance with the least Akaike information criterion. From 1 ms before it, the first sample at a
    tenth of the attack's peak that also stands out from what rings there.

    Args:
        signal: mono.
        rate: samples per second.
        estimates: samples within a few milliseconds of an attack.
    """
    if not len(estimates):
        return estimates
    before, after, back, ahead, ringing_length = (
        round(seconds * rate)
        for seconds in (_BEFORE_SECONDS, _AFTER_SECONDS, _BACK_SECONDS, _AHEAD_SECONDS, _RINGING_SECONDS)
    )
    starts = np.empty(len(estimates), np.intp)
    for begin in range(0, len(estimates), _CHUNK):
        chunk = slice(begin, begin + _CHUNK)
        first = estimates[chunk] - before
        split = first + _find_change_points(_emphasise(signal, first, before + after))
        near = np.abs(_emphasise(signal, split - back, back + ahead))
        ringing = _emphasise(signal, split - back - ringing_length, ringing_length)
        starts[chunk] = split - back + _find_first_loud(near, ringing)
    return np.maximum(0, starts)


def _emphasise(signal: npt.NDArray[np.float32], starts: Indices, length: int) -> npt.NDArray[np.float32]:
    """Return pieces of a signal, high frequencies emphasised, silent beyond its ends."""
    places = starts[:, None] + np.arange(length)
    pieces: npt.NDArray[np.float32] = signal[np.clip(places, 0, len(signal) - 1)]
    pieces -= np.where(places > 0, signal[np.clip(places - 1, 0, len(signal) - 1)], np.float32(0))
    pieces[(places < 0) | (places >= len(signal))] = 0.0
    return pieces


def _find_first_loud(near: npt.NDArray[np.float32], ringing: npt.NDArray[np.float32]) -> Indices:
    """Find in each row the first sample at a tenth of its peak that stands out from what rings before it."""
    peak = near.max(axis=1)
    least = np.maximum(_PEAK_SHARE * peak, _ABOVE_RINGING * np.sqrt(np.square(ringing).mean(axis=1)))
    return np.asarray(np.argmax(near >= np.minimum(least, _MOST_PEAK_SHARE * peak)[:, None], axis=1), np.intp)


def _find_change_points(pieces: npt.NDArray[np.float32]) -> Indices:
    """Find the best place to split each row into two pieces of constant variance."""
    length = pieces.shape[1]
    energy = np.cumsum(np.square(pieces, dtype=np.float64) + _TINY, axis=1)
    left = np.arange(1, length)
    right = length - left
    rest = np.maximum(energy[:, -1:] - energy[:, :-1], _TINY)
    criterion = left * np.log(energy[:, :-1] / left) + right * np.log(rest / right)
    return np.asarray(np.argmin(criterion[:, _MARGIN:-_MARGIN], axis=1) + _MARGIN + 1, np.intp)
