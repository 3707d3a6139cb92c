"""True peak: the highest point of the curve through the samples, which is often between two of them.

After ITU-R BS.1770-4, Annex 2: four times oversampling. Only the surroundings of loud samples are oversampled,
so that a minute of audio takes milliseconds.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from fillwright.sound.signal import SAMPLE_RATE, Samples

CEILING_DB = -1.5
"""Highest true peak of any mix, in dB of full scale: half a decibel below the usual −1 dB (common practice, no
source), because an MP3 may overshoot by 0.3 dB (tests/outside/test_playalong_files.py checks decoded files)."""

_REACH = 16  # samples on each side that a value between two samples is calculated from; ours
_OVERSAMPLING = 4  # times; ITU-R BS.1770-4, Annex 2
_LOUD = 0.5  # part of the highest sample above which a sample's surroundings are oversampled: 6 dB; ours
_KAISER_BETA = 5.0  # shape of the Kaiser window round the sinc; ours
_CHUNK = SAMPLE_RATE  # samples that are searched at a time
_WINDOWS = 20_000  # windows that are multiplied at a time, to limit memory; ours


def _compute_phases() -> npt.NDArray[np.float32]:
    """Return weights of a windowed sinc for the three points between two samples, shape (2 * reach, 3)."""
    between = np.arange(1, _OVERSAMPLING) / _OVERSAMPLING
    offsets = np.arange(-_REACH + 1, _REACH + 1)[:, None] - between
    window = np.i0(_KAISER_BETA * np.sqrt(np.maximum(0.0, 1 - (offsets / _REACH) ** 2))) / np.i0(_KAISER_BETA)
    return (np.sinc(offsets) * window).astype(np.float32)


_PHASES = _compute_phases()


def measure_true_peak(samples: Samples) -> float:
    """Return the true peak of stereo samples, full scale 1.

    It is exact for all audio whose curve rises less than 6 dB above its samples.

    Args:
        samples: shape (samples, 2).
    """
    if not len(samples):
        return 0.0
    starts = range(0, len(samples), _CHUNK)
    heights = [_peak_of(samples[start : start + _CHUNK]) for start in starts]
    highest = max(heights)
    threshold = highest * _LOUD
    for start, height in zip(starts, heights, strict=True):
        if height > threshold:
            # one more sample on the left: the curve from it to the chunk's first sample belongs here too
            highest = max(highest, _peak_between(samples, max(0, start - 1), start + _CHUNK, threshold))
    return highest


def _peak_of(chunk: Samples) -> float:
    return max(float(chunk.max()), -float(chunk.min()))


def _peak_between(samples: Samples, start: int, end: int, threshold: float) -> float:
    """Return the highest point of a chunk's curve next to samples above a threshold."""
    first = max(0, start - _REACH)
    padded = np.zeros((min(end, len(samples)) - start + 2 * _REACH, 2), np.float32)
    piece = samples[first : end + _REACH]
    padded[_REACH - (start - first) :][: len(piece)] = piece
    highest = 0.0
    for side in padded.T:
        loud = np.flatnonzero(np.abs(side[_REACH - 1 : -_REACH]) > threshold)
        for batch in range(0, len(loud), _WINDOWS):
            windows = np.lib.stride_tricks.sliding_window_view(side, 2 * _REACH)[loud[batch : batch + _WINDOWS]]
            highest = max(highest, float(np.abs(windows @ _PHASES).max()))
    return highest


def limit_peak(samples: Samples) -> Samples:
    """Return the samples, as a whole turned down if their true peak is above the ceiling.

    >>> limit_peak(np.full((100, 2), 0.25, np.float32)).max() == 0.25
    np.True_
    """
    ceiling = 10.0 ** (CEILING_DB / 20)
    peak = measure_true_peak(samples)
    return samples if peak <= ceiling else samples * np.float32(ceiling / peak)
