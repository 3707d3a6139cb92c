"""Features of the ear: two spectrograms on a logarithmic scale, a frame every 5 ms.

A frame is centred on its time. The short window shows when something starts, the long one which pitch it has.
Powers are relative to the level of the whole take, so that the volume of a recording does not matter.
"""

from __future__ import annotations

from functools import cache

import numpy as np
import numpy.typing as npt

from fillwright.listen.onsets.ear.resample import RATE

Floats = npt.NDArray[np.float32]

HOP = 120
"""Samples between frames: 5 ms; from a trial."""

BANDS = 64
"""Bands of each spectrogram; from a trial."""

WINDOWS = (512, 2048)
"""Samples of the two windows; from a trial."""

LEVEL = 0.1
"""Root mean square that the loud parts of a take are brought to; ours, not measured."""

BLOCK = 2400
"""Samples over which a take's level is measured: 0.1 s; ours, not measured."""

LOUD_SHARE = 0.9
"""Quantile of the blocks' energies that is the level; ours, not measured."""

QUIET_RATIO = 1e-4
"""Energy against the loudest block's, below which a block doesn't count: 40 dB; ours, not measured."""

SCALE, FLOOR = (
    1e3,
    1e-5,
)  # of powers, before the logarithm: a feature is -1.5 in silence and about 1 in a stroke
_LOWEST_HZ, _HIGHEST_HZ = 40.0, 11_800.0  # middle of the bands lies between; from a trial


def measure_level(signal: Floats) -> float:
    """Return the root mean square of a take's loud blocks; blocks of silence don't count."""
    count = len(signal) // BLOCK
    if not count:
        return float(np.sqrt(np.mean(np.square(signal))))
    energies = np.square(signal[: count * BLOCK].reshape(count, BLOCK)).mean(axis=1)
    loud = energies[energies >= QUIET_RATIO * energies.max()]
    return float(np.sqrt(np.quantile(loud, LOUD_SHARE)))


@cache
def build_filterbank(window: int) -> Floats:
    """Return the weights of triangular bands, each row adding up to 1; shape (bands, window / 2 + 1)."""
    edges = np.exp(np.linspace(np.log(_LOWEST_HZ), np.log(_HIGHEST_HZ), BANDS + 2))
    hertz = np.fft.rfftfreq(window, 1 / RATE)
    low = np.minimum(edges[:-2], edges[1:-1] - hertz[1])[:, None]
    high = np.maximum(edges[2:], edges[1:-1] + hertz[1])[:, None]
    middle = edges[1:-1, None]
    weights = np.minimum((hertz - low) / (middle - low), (high - hertz) / (high - middle)).clip(0)
    filterbank = np.asarray(weights / weights.sum(axis=1, keepdims=True), np.float32)
    filterbank.flags.writeable = False
    return filterbank


@cache
def build_window(window: int) -> Floats:
    """Return a periodic Hann window."""
    values = (0.5 - 0.5 * np.cos(2 * np.pi * np.arange(window) / window)).astype(np.float32)
    values.flags.writeable = False
    return values


def compute_features(signal: Floats, level: float, first: int, last: int) -> Floats:
    """Return the features of some frames, shape (2, bands, frames).

    Args:
        signal: mono, at `RATE`.
        level: as `measure_level` returns it.
        first: number of the first frame; its middle is sample `first * HOP`.
        last: number after the last frame.
    """
    half = max(WINDOWS) // 2
    begin, end = first * HOP - half, (last - 1) * HOP + half
    piece = np.zeros(end - begin, np.float32)
    inside = signal[max(0, begin) : max(0, end)]
    piece[max(0, -begin) : max(0, -begin) + len(inside)] = inside
    piece *= np.float32(LEVEL / level)
    return np.stack([_compute_bands(piece, window, half, last - first) for window in WINDOWS])


def _compute_bands(piece: Floats, window: int, half: int, count: int) -> Floats:
    shape = build_window(window)
    frames = np.lib.stride_tricks.sliding_window_view(piece[half - window // 2 :], window)[::HOP][:count]
    spectrum = np.fft.rfft(frames * shape, axis=1)
    powers = np.square(spectrum.real) + np.square(spectrum.imag)
    bands = build_filterbank(window) @ powers.T.astype(np.float32) / np.square(shape.sum())
    return np.asarray((np.log10(bands * SCALE + FLOOR) + 2) * 0.5, np.float32)
