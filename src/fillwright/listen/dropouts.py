"""Dropouts: short pieces of a recording that were lost, so that the sound stops dead and goes on."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

# All ours, not measured.
_SILENT = 2e-4  # of the peak: below is silence
_SOUNDING = 30.0  # times that: sound just before a dropout; a drum does not fall so far at once
_BEFORE_SECONDS = 0.002  # in which that sound is
_SHORTEST_SECONDS, _LONGEST_SECONDS = 0.006, 0.25  # of a dropout
_BLOCK = 1_000_000  # samples compared at a time, so that little memory is needed


def count_dropouts(samples: npt.NDArray[np.float32], rate: int) -> int:
    """Return the number of dropouts of a recording.

    Args:
        samples: shape (n,) or (n, channels).
        rate: samples per second.
    """
    mono = samples if samples.ndim == 1 else samples[:, 0]
    if not len(mono):
        return 0
    peak = max(float(np.abs(mono[start : start + _BLOCK]).max()) for start in range(0, len(mono), _BLOCK))
    if peak == 0:
        return 0
    starts, ends = _find_silences(mono, _SILENT * peak)
    before = max(1, round(_BEFORE_SECONDS * rate))
    dropouts = 0
    for start, end in zip(starts, ends, strict=True):
        seconds = (end - start) / rate
        if _SHORTEST_SECONDS <= seconds <= _LONGEST_SECONDS and start >= before and end < len(mono):
            sounding = float(np.abs(mono[start - before : start]).mean())
            dropouts += sounding > _SOUNDING * _SILENT * peak
    return dropouts


def _find_silences(
    mono: npt.NDArray[np.float32], limit: float
) -> tuple[npt.NDArray[np.intp], npt.NDArray[np.intp]]:
    """Return start and end of every run of samples below a limit."""
    silent = np.concatenate(
        [np.abs(mono[start : start + _BLOCK]) <= limit for start in range(0, len(mono), _BLOCK)]
    )
    edges = np.diff(silent.view(np.int8), prepend=np.int8(0), append=np.int8(0))
    return np.flatnonzero(edges == 1), np.flatnonzero(edges == -1)
