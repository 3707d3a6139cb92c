"""The spectrogram of a recording in sixteen bands, and its novelty: evidence for a change in each frame."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]
Powers = npt.NDArray[np.float32]
Indices = npt.NDArray[np.intp]

_WINDOW_SECONDS = 256 / 44_100  # of an FFT; from a trial on simulated takes
_HOP_SECONDS = 48 / 44_100  # between frames; from a trial on simulated takes
_BANDS = 16  # ours, not measured
_LOWEST_HZ, _HIGHEST_HZ = 100.0, 17_000.0  # edges of the bands; from a trial on simulated takes
_NYQUIST_SHARE = 0.47  # of the rate: the highest edge at low rates; ours, not measured
_SILENT = 1e-13  # power that keeps logarithms finite
_QUIET_PERCENT, _LOUD_PERCENT = 12, 99.7  # percentiles of a band's power; from a trial on simulated takes
_DYNAMIC_DB = 9.0  # a band with less between these percentiles is left out; ours, not measured
_RANGE_DB = 60.0  # the floor added is at least this far below the loud percentile; ours, not measured
_MOST_RATIO = 10**2.4  # of powers in the novelty, 24 dB; from a trial on simulated takes
_BEFORE_MS = (
    -14.0,
    -3.0,
)  # window that a frame is compared with; ours, near that of a trial on simulated takes
_CHUNK, _LONG_CHUNK = 512, 1 << 15  # frames worked on together, for memory


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Spectrogram:
    """Powers of a signal in the bands that are not constant.

    Attributes:
        powers: shape (frames, bands), the background's floor added so that none is zero.
        sums: running sums of `powers`, shape (frames + 1, bands).
        weights: number of independent FFT bins in each band, shape (bands,).
        hop: samples between two frames; frame n is centred on sample n * hop.
        rate: samples per second.
        novelty: log likelihood ratio of a change of power since 3 to 14 ms earlier, in nats, shape (frames,).
        background: mean square of the background, before the floor was added.
    """

    powers: Powers
    sums: Floats
    weights: Powers
    hop: int
    rate: float
    novelty: Floats
    background: float

    @property
    def frames_per_ms(self) -> float:
        """Number of frames in a millisecond."""
        return self.rate / 1000 / self.hop

    def average(self, window_ms: tuple[float, float], frames: Indices) -> Floats:
        """Return mean powers in a window around some frames, shape (len(frames), bands)."""
        first, last = (round(ms * self.frames_per_ms) for ms in window_ms)
        return _average_powers(self.sums, first, last, frames)

    def find_greatest(self, window_ms: tuple[float, float], frames: Indices) -> Powers:
        """Return the greatest powers in a window around some frames, shape (len(frames), bands)."""
        first, last = (round(ms * self.frames_per_ms) for ms in window_ms)
        window = np.clip(frames[:, None] + np.arange(first, last + 1), 0, len(self.powers) - 1)
        return np.asarray(self.powers[window].max(axis=1))


def compute_spectrogram(signal: Powers, rate: float) -> Spectrogram:
    """Return the spectrogram of a signal of peak 1: sixteen bands, a frame about every millisecond."""
    hop = max(1, round(_HOP_SECONDS * rate))
    raw, weights = _measure_bands(signal, rate, hop)
    quiet, loud = np.percentile(raw[::7], (_QUIET_PERCENT, _LOUD_PERCENT), axis=0).astype(np.float32)
    dynamic = 10 * np.log10((loud + _SILENT) / (quiet + _SILENT)) > _DYNAMIC_DB
    live = dynamic if dynamic.any() else np.ones(_BANDS, bool)
    floor = np.maximum(quiet, loud * 10 ** (-_RANGE_DB / 10)) + np.float32(_SILENT)
    powers = raw[:, live]
    del raw  # memory, in a long take
    powers += floor[live]
    sums = np.zeros((len(powers) + 1, powers.shape[1]))
    np.cumsum(powers, axis=0, dtype=np.float64, out=sums[1:])
    return Spectrogram(
        powers=powers,
        sums=sums,
        weights=weights[live],
        hop=hop,
        rate=rate,
        novelty=_compute_novelty(powers, sums, weights[live], rate / 1000 / hop),
        background=float((quiet * weights).sum()) * 2 / _choose_fft_size(rate),
    )


def _measure_bands(signal: Powers, rate: float, hop: int) -> tuple[Powers, Powers]:
    """Return the mean power of a bin in each band for every frame, and the number of bins of each band."""
    size = _choose_fft_size(rate)
    count = len(signal) // hop + 1
    window = np.hanning(size).astype(np.float32)
    edges = _choose_band_edges(size, rate)
    weights = np.diff(edges).astype(np.float32)
    scale = 1 / (weights * np.square(window).sum())
    bands = np.empty((count, _BANDS), np.float32)
    for start in range(0, count, _CHUNK):
        frames = _cut_frames(signal, size, hop, start, min(start + _CHUNK, count))
        spectrum = np.fft.rfft(frames * window)[:, : edges[-1]]
        powers = np.square(spectrum.real) + np.square(spectrum.imag)
        bands[start : start + _CHUNK] = np.add.reduceat(powers, edges[:-1], axis=1) * scale
    return bands, weights


def _cut_frames(signal: Powers, size: int, hop: int, first: int, end: int) -> Powers:
    """Return some frames of a signal, silence beyond its ends; shape (end - first, size)."""
    begin, stop = first * hop - size // 2, (end - 1) * hop + size - size // 2
    piece = signal[max(0, begin) : stop]
    before = max(0, -begin)
    padded = np.pad(piece, (before, stop - begin - before - len(piece)))
    return np.lib.stride_tricks.sliding_window_view(padded, size)[::hop]


def _choose_fft_size(rate: float) -> int:
    return 2 * max(_BANDS + 2, round(_WINDOW_SECONDS * rate / 2))


def _choose_band_edges(size: int, rate: float) -> Indices:
    """Return the first bin of each band and the end of the last: logarithmic as far as bins allow.

    >>> [int(edge) for edge in _choose_band_edges(256, 44_100)]
    [1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 14, 20, 27, 38, 52, 72, 99]
    """
    hertz = np.geomspace(_LOWEST_HZ, min(_HIGHEST_HZ, _NYQUIST_SHARE * rate), _BANDS + 1)
    edges = np.maximum(1, np.round(hertz * size / rate)).astype(np.intp)
    for band in range(_BANDS):
        edges[band + 1] = max(edges[band + 1], edges[band] + 1)
    return edges


def _average_powers(sums: Floats, first: int, last: int, frames: Indices) -> Floats:
    start = np.clip(frames + first, 0, len(sums) - 2)
    end = np.maximum(np.clip(frames + last + 1, 1, len(sums) - 1), start + 1)
    return np.asarray((sums[end] - sums[start]) / (end - start)[:, None])


def _compute_novelty(powers: Powers, sums: Floats, weights: Powers, frames_per_ms: float) -> Floats:
    """Return the novelty of each frame.

    For noise whose power rises by a ratio r, the log likelihood ratio of the change is r - 1 - ln r for each
    independent bin; a beating tone has few bins and does not count for much.
    """
    first, last = (round(ms * frames_per_ms) for ms in _BEFORE_MS)
    novelty = np.empty(len(powers))
    for start in range(0, len(powers), _LONG_CHUNK):
        frames = np.arange(start, min(start + _LONG_CHUNK, len(powers)))
        ratio = np.clip(powers[frames] / _average_powers(sums, first, last, frames), 1.0, _MOST_RATIO)
        novelty[frames] = sum_change_evidence(ratio, weights)
    return novelty


def sum_change_evidence(ratio: Floats, weights: Powers) -> Floats:
    """Return ln(1 + log likelihood ratio of a change of power), all bands together; ratios are at least 1.

    Args:
        ratio: power after against power before, shape (frames, bands).
        weights: number of independent bins in each band.
    """
    return np.asarray(np.log1p(((ratio - 1 - np.log(ratio)) * weights).sum(axis=1)))


def pick_peaks(curve: Floats, least: float, apart: int) -> Indices:
    """Return the frames of a curve's peaks, ascending; of two nearer than `apart` frames, the higher.

    >>> [int(frame) for frame in pick_peaks(np.array([0, 3, 0, 5, 0, 0, 2, 0.0]), 1.0, 3)]
    [3, 6]
    """
    inner = curve[1:-1]
    tops = np.flatnonzero((inner >= curve[:-2]) & (inner > curve[2:]) & (inner >= least)) + 1
    blocked = np.zeros(len(curve) + 2 * apart, bool)
    peaks = []
    for top in tops[np.argsort(-curve[tops], kind="stable")]:
        if not blocked[top + apart]:
            peaks.append(top)
            blocked[top + 1 : top + 2 * apart] = True
    return np.sort(np.array(peaks, np.intp))
