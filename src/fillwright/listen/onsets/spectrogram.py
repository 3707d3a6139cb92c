"""A take as powers in bands over time, and how surprising each moment is."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]
Powers = npt.NDArray[np.float32]
Indices = npt.NDArray[np.intp]

_WINDOW_SECONDS = 256 / 44_100
_HOP_SECONDS = 48 / 44_100
_BANDS = 16
_LOWEST_HZ, _HIGHEST_HZ = 100.0, 17_000.0
_SILENT = 1e-13
_DYNAMIC_DB = 9.0
_RANGE_DB = 60.0
_CHUNK = 512
_LONG_CHUNK = 1 << 15
_MOST = 10**2.4
_BEFORE_MS = (-14.0, -3.0)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Spectrogram:
    """Powers of a signal in the bands that carry something.

    Attributes:
        powers: shape (frames, bands), the background's floor added so that none is zero.
        sums: running sums of `powers`, shape (frames + 1, bands).
        weights: how many independent looks at the signal a band holds, shape (bands,).
        hop: samples between two frames; frame n is centred on sample n * hop.
        rate: samples a second.
        surprise: how much each frame stands out from those 3 to 14 ms earlier, shape (frames,): the logarithm
            of 1 and the likelihood ratio of a change of power, in nats.
        rise_db: the mean rise of the bands over the same, shape (frames,).
        background: mean square of the background, before the floor was added.
    """

    powers: Powers
    sums: Floats
    weights: Powers
    hop: int
    rate: float
    surprise: Floats
    rise_db: Floats
    background: float

    @property
    def frames_a_ms(self) -> float:
        """How many frames a millisecond has."""
        return self.rate / 1000 / self.hop

    def mean(self, span_ms: tuple[float, float], at: Indices) -> Floats:
        """Mean powers over a span around some frames, shape (len(at), bands)."""
        first, last = (round(one * self.frames_a_ms) for one in span_ms)
        return _mean(self.sums, first, last, at)

    def most(self, span_ms: tuple[float, float], at: Indices) -> Powers:
        """Greatest powers over a span around some frames, shape (len(at), bands)."""
        first, last = (round(one * self.frames_a_ms) for one in span_ms)
        frames = np.clip(at[:, None] + np.arange(first, last + 1), 0, len(self.powers) - 1)
        return np.asarray(self.powers[frames].max(axis=1))


def compute_spectrogram(signal: Powers, rate: float) -> Spectrogram:
    """Powers of a signal of peak 1 in sixteen bands, every millisecond or so."""
    hop = max(1, round(_HOP_SECONDS * rate))
    raw, weights = _banded(signal, rate, hop)
    quiet, loud = np.percentile(raw[::7], (12, 99.7), axis=0).astype(np.float32)
    dynamic = 10 * np.log10((loud + _SILENT) / (quiet + _SILENT)) > _DYNAMIC_DB
    live = dynamic if dynamic.any() else np.ones(_BANDS, bool)
    floor = np.maximum(quiet, loud * 10 ** (-_RANGE_DB / 10)) + np.float32(_SILENT)
    powers = (raw + floor)[:, live]
    sums = np.zeros((len(powers) + 1, powers.shape[1]))
    np.cumsum(powers, axis=0, dtype=np.float64, out=sums[1:])
    surprise, rise = _surprise(powers, sums, weights[live], rate / 1000 / hop)
    return Spectrogram(
        powers=powers,
        sums=sums,
        weights=weights[live],
        hop=hop,
        rate=rate,
        surprise=surprise,
        rise_db=rise,
        background=float((quiet * weights).sum()) * 2 / _size(rate),
    )


def _banded(signal: Powers, rate: float, hop: int) -> tuple[Powers, Powers]:
    """Mean power of a bin in each band for every frame, and the number of bins of each band."""
    size = _size(rate)
    padded = np.concatenate([np.zeros(size // 2, np.float32), signal, np.zeros(size // 2, np.float32)])
    frames = np.lib.stride_tricks.sliding_window_view(padded, size)[::hop]
    window = np.hanning(size).astype(np.float32)
    edges = _edges(size, rate)
    weights = np.diff(edges).astype(np.float32)
    scale = 1 / (weights * np.square(window).sum())
    made = np.empty((len(frames), _BANDS), np.float32)
    for start in range(0, len(frames), _CHUNK):
        spectrum = np.fft.rfft(frames[start : start + _CHUNK] * window)[:, : edges[-1]]
        powers = np.square(spectrum.real) + np.square(spectrum.imag)
        made[start : start + _CHUNK] = np.add.reduceat(powers, edges[:-1], axis=1) * scale
    return made, weights


def _size(rate: float) -> int:
    return 2 * max(_BANDS + 2, round(_WINDOW_SECONDS * rate / 2))


def _edges(size: int, rate: float) -> Indices:
    """The first bin of each band and the end of the last: on a scale of octaves as far as bins allow.

    >>> [int(edge) for edge in _edges(256, 44_100)]
    [1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 14, 20, 27, 38, 52, 72, 99]
    """
    hertz = np.geomspace(_LOWEST_HZ, min(_HIGHEST_HZ, 0.47 * rate), _BANDS + 1)
    edges = np.maximum(1, np.round(hertz * size / rate)).astype(np.intp)
    for band in range(_BANDS):
        edges[band + 1] = max(edges[band + 1], edges[band] + 1)
    return edges


def _mean(sums: Floats, first: int, last: int, at: Indices) -> Floats:
    start = np.clip(at + first, 0, len(sums) - 2)
    end = np.maximum(np.clip(at + last + 1, 1, len(sums) - 1), start + 1)
    return np.asarray((sums[end] - sums[start]) / (end - start)[:, None])


def _surprise(powers: Powers, sums: Floats, weights: Powers, frames_a_ms: float) -> tuple[Floats, Floats]:
    """How surprising each frame is, and the mean rise in dB.

    For noise whose power goes up by a ratio r, the likelihood ratio of the change is r - 1 - ln r for each
    independent look; a tone's beating has few looks and does not count for much.
    """
    first, last = (round(one * frames_a_ms) for one in _BEFORE_MS)
    surprise, rise = np.empty(len(powers)), np.empty(len(powers))
    for start in range(0, len(powers), _LONG_CHUNK):
        at = np.arange(start, min(start + _LONG_CHUNK, len(powers)))
        ratio = np.clip(powers[at] / _mean(sums, first, last, at), 1.0, _MOST)
        surprise[at] = sum_change_evidence(ratio, weights)
        rise[at] = 10 * np.log10(ratio).mean(axis=1)
    return surprise, rise


def sum_change_evidence(ratio: Floats, weights: Powers) -> Floats:
    """Logarithm of 1 and the likelihood ratio of a change, all bands together; ratios at least 1."""
    return np.asarray(np.log1p(((ratio - 1 - np.log(ratio)) * weights).sum(axis=1)))


def pick_peaks(curve: Floats, least: float, apart: int) -> Indices:
    """Frames of the peaks of a curve, the greater one of two that stand nearer than `apart`; ascending.

    >>> [int(frame) for frame in peaks(np.array([0, 3, 0, 5, 0, 0, 2, 0.0]), 1.0, 3)]
    [3, 6]
    """
    inner = curve[1:-1]
    tops = np.flatnonzero((inner >= curve[:-2]) & (inner > curve[2:]) & (inner >= least)) + 1
    taken = np.zeros(len(curve) + 2 * apart, bool)
    kept = []
    for top in tops[np.argsort(-curve[tops], kind="stable")]:
        if not taken[top + apart]:
            kept.append(top)
            taken[top + 1 : top + 2 * apart] = True
    return np.sort(np.array(kept, np.intp))
