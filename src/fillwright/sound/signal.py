"""Sampled sound: the sample rate, the array types, and decibels as amplitudes."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

SAMPLE_RATE = 44_100
"""Samples a second of everything that the project plays: the rate of the audio CD (IEC 60908)."""

Samples = npt.NDArray[np.float32]
"""Stereo samples, full scale 1, shape (samples, 2)."""

Floats = npt.NDArray[np.float64]
"""Numbers that a calculation works with: frequencies, amplitudes, samples before they are rounded."""


def db_to_amplitude(level_db: float | Floats) -> float | Floats:
    """Return the amplitude of a level in decibels, 1 for 0 dB.

    >>> db_to_amplitude(-20.0)
    0.1
    """
    return 10.0 ** (level_db / 20.0)
