"""Variations of a recorded stroke: a recording that repeats exactly sounds like a machine.

A drummer's stick lands a little harder or softer, nearer the edge or the middle, on a head that still moves. So
each stroke of a recording gets its own level, brightness and pitch. All are smaller than a careful drummer's
(common practice, no source), and the same on every run.
"""

from __future__ import annotations

import numpy as np
from scipy.signal import lfilter, resample_poly

from fillwright.sound.signal import SAMPLE_RATE, Samples

_VARIATIONS = (
    # level in dB, brightness in dB above 2.5 kHz, pitch in 400ths: 4 cents; ours, not measured
    (0.0, 0.0, 0),
    (-0.45, 0.7, 1),
    (0.3, -0.5, -1),
    (-0.2, 0.4, 0),
    (0.45, -0.8, 1),
    (-0.55, 0.2, -1),
    (0.15, -0.3, 0),
)
VARIATIONS = len(_VARIATIONS)
"""Number of variations: a prime, so that a bar sounds different when it repeats."""

_PITCH_STEPS = 400  # a step of pitch is a 400th of the frequency, 4 cents; ours, not measured
_CORNER_HZ = 2500.0  # frequency above which brightness applies; ours, not measured


def vary_stroke(samples: Samples, variation: int) -> Samples:
    """Return a recorded stroke a little louder or softer, brighter or duller, higher or lower.

    Args:
        samples: recording from its attack on, shape (samples, 2).
        variation: 0, the recording as it is, to `VARIATIONS` − 1.
    """
    level_db, bright_db, pitch = _VARIATIONS[variation]
    varied = samples
    if pitch:
        varied = resample_poly(varied, _PITCH_STEPS, _PITCH_STEPS + pitch, axis=0)
    if bright_db:
        varied = varied + (10.0 ** (bright_db / 20) - 1) * (varied - _low_pass(varied))
    return np.asarray(varied * 10.0 ** (level_db / 20), np.float32)


def _low_pass(samples: Samples) -> Samples:
    """Return the part below the corner frequency, by a one-pole filter."""
    pole = float(np.exp(-2 * np.pi * _CORNER_HZ / SAMPLE_RATE))
    return np.asarray(lfilter([1 - pole], [1, -pole], samples, axis=0), np.float32)
