"""Features of the ear: two spectrograms on a logarithmic scale, a frame every 5 ms.

A frame is centred on its time. The short window shows when something starts, the long one which pitch it has;
it is computed of a slower signal, without its highest bands. Powers are relative to the level of the whole
take, so that the volume of a recording does not matter.
"""

from __future__ import annotations

from functools import cache

import numpy as np
import numpy.typing as npt

from fillwright.listen.onsets.ear.resample import RATE, apply_taps, build_taps

Floats = npt.NDArray[np.float32]

HOP = 120
"""Samples between frames: 5 ms; from a trial."""

BANDS = 64
"""Bands of each spectrogram; from a trial."""

WINDOW = 512
"""Samples of both windows: 21 ms, and 85 ms of a signal at a quarter of the rate; from a trial."""

SLOWER = 4
"""Factor by which the long window's signal is slower; ours: long spectra take four times as long."""

LOW_BANDS = 46
"""Bands of the long window, up to 2.6 kHz; its other bands are those of the short one."""

SLOW_PERIOD = 64
"""Samples of the slower signal that are made together; ours, for speed."""

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
    blocks = signal[: count * BLOCK].reshape(count, BLOCK)
    energies = np.einsum("ij,ij->i", blocks, blocks) / BLOCK
    loud = energies[energies >= QUIET_RATIO * energies.max()]
    return float(np.sqrt(np.quantile(loud, LOUD_SHARE)))


@cache
def build_filterbank(bands: int, rate: float) -> Floats:
    """Return the weights of the lowest triangular bands, each row adding up to 1; shape (bands, frequencies).

    Args:
        bands: number of bands.
        rate: samples per second of the signal.
    """
    edges = np.exp(np.linspace(np.log(_LOWEST_HZ), np.log(_HIGHEST_HZ), BANDS + 2))[: bands + 2]
    hertz = np.fft.rfftfreq(WINDOW, 1 / rate)
    low = np.minimum(edges[:-2], edges[1:-1] - hertz[1])[:, None]
    high = np.maximum(edges[2:], edges[1:-1] + hertz[1])[:, None]
    middle = edges[1:-1, None]
    weights = np.minimum((hertz - low) / (middle - low), (high - hertz) / (high - middle)).clip(0)
    filterbank = np.asarray(weights / weights.sum(axis=1, keepdims=True), np.float32)
    filterbank.flags.writeable = False
    return filterbank


@cache
def build_window() -> Floats:
    """Return a periodic Hann window."""
    values = (0.5 - 0.5 * np.cos(2 * np.pi * np.arange(WINDOW) / WINDOW)).astype(np.float32)
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
    taps = build_taps(SLOW_PERIOD, SLOW_PERIOD * SLOWER)
    half = WINDOW * SLOWER // 2
    reach = (taps.shape[1] - SLOW_PERIOD * SLOWER) // 2 // SLOWER * SLOWER + SLOWER
    begin, end = first * HOP - half - reach, (last - 1) * HOP + half + reach
    piece = np.zeros(end - begin, np.float32)
    inside = signal[max(0, begin) : max(0, end)]
    piece[max(0, -begin) : max(0, -begin) + len(inside)] = inside
    piece *= np.float32(LEVEL / level)
    slow = apply_taps(piece, taps, SLOW_PERIOD * SLOWER)[reach // SLOWER :]
    features = np.empty((2, BANDS, last - first), np.float32)
    features[0] = _compute_bands(piece[reach + half - WINDOW // 2 :], BANDS, RATE, HOP, last - first)
    features[1, :LOW_BANDS] = _compute_bands(slow, LOW_BANDS, RATE / SLOWER, HOP // SLOWER, last - first)
    features[1, LOW_BANDS:] = features[0, LOW_BANDS:]
    return features


def _compute_bands(signal: Floats, bands: int, rate: float, hop: int, count: int) -> Floats:
    shape = build_window()
    frames = np.lib.stride_tricks.sliding_window_view(signal, WINDOW)[::hop][:count]
    spectrum = np.fft.rfft(frames * shape, axis=1)
    powers = np.square(spectrum.real) + np.square(spectrum.imag)
    levels = build_filterbank(bands, rate) @ powers.T.astype(np.float32) / np.square(shape.sum())
    return np.asarray((np.log10(levels * SCALE + FLOOR) + 2) * 0.5, np.float32)
