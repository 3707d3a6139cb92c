"""True peak: the highest point of the curve through the samples, which lies between them as often as on them.

After ITU-R BS.1770-4, Annex 2: four times oversampling. Only neighbourhoods of loud samples are oversampled,
so that a minute costs milliseconds.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from fillwright.sound.signal import SAMPLE_RATE, Samples

CEILING_DB = -1.5
"""No mix has a true peak above this, in dB of full scale: under -1, since an MP3 may overshoot by 0.3."""

_REACH = 16
_TIMES = 4
_LOUD = 0.5
_CHUNK = SAMPLE_RATE
_WINDOWS = 20_000


def _phases() -> npt.NDArray[np.float32]:
    """Weights of a windowed sinc for the three places between two samples, shape (2 * reach, 3)."""
    between = np.arange(1, _TIMES) / _TIMES
    offsets = np.arange(-_REACH + 1, _REACH + 1)[:, None] - between
    window = np.i0(5.0 * np.sqrt(np.maximum(0.0, 1 - (offsets / _REACH) ** 2))) / np.i0(5.0)
    return (np.sinc(offsets) * window).astype(np.float32)


_PHASES = _phases()


def measure_true_peak(samples: Samples) -> float:
    """The true peak of stereo samples, full scale 1.

    Exact for all audio whose curve rises less than 6 dB above its samples.

    Args:
        samples: shape (samples, 2).
    """
    if not len(samples):
        return 0.0
    starts = range(0, len(samples), _CHUNK)
    heights = [_height(samples[start : start + _CHUNK]) for start in starts]
    highest = max(heights)
    threshold = highest * _LOUD
    for start, height in zip(starts, heights, strict=True):
        if height > threshold:
            # one sample more on the left: the curve between it and the chunk's first belongs here too
            highest = max(highest, _between(samples, max(0, start - 1), start + _CHUNK, threshold))
    return highest


def _height(chunk: Samples) -> float:
    return max(float(chunk.max()), -float(chunk.min()))


def _between(samples: Samples, start: int, end: int, threshold: float) -> float:
    """The highest point between the samples of a chunk, beside those above a threshold."""
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
    """The samples, made quieter as a whole where their true peak would pass the ceiling.

    >>> held(np.full((100, 2), 0.25, np.float32)).max() == 0.25
    np.True_
    """
    ceiling = 10.0 ** (CEILING_DB / 20)
    peak = measure_true_peak(samples)
    return samples if peak <= ceiling else samples * np.float32(ceiling / peak)
