"""Small differences between strokes: a recording that is played twice alike sounds like a machine.

A drummer's stick falls a little harder or softer, nearer the edge or the middle, on a head still moving.
So each stroke of a recording gets its own level, brightness and pitch, all smaller than what a careful drummer
does (common practice, no source), and the same ones on every run.
"""

from __future__ import annotations

import numpy as np
from scipy.signal import lfilter, resample_poly

from fillwright.sound.signal import SAMPLE_RATE, Samples

_WAYS = (
    # level in dB, brightness in dB above 2.5 kHz, pitch in 400ths: 4 cents
    (0.0, 0.0, 0),
    (-0.45, 0.7, 1),
    (0.3, -0.5, -1),
    (-0.2, 0.4, 0),
    (0.45, -0.8, 1),
    (-0.55, 0.2, -1),
    (0.15, -0.3, 0),
)
VARIATIONS = len(_WAYS)
"""So many strokes in a row differ; a prime, so that a bar does not meet the same ones when it repeats."""

_STEP = 400
_CORNER_HZ = 2500.0


def vary_stroke(samples: Samples, way: int) -> Samples:
    """A recorded stroke a little louder or softer, brighter or duller, higher or lower.

    Args:
        samples: the recording from its attack on, shape (samples, 2).
        way: 0 for the recording as it is, to `VARIATIONS` − 1.
    """
    level_db, bright_db, pitch = _WAYS[way]
    made = samples
    if pitch:
        made = resample_poly(made, _STEP, _STEP + pitch, axis=0)
    if bright_db:
        made = made + (10.0 ** (bright_db / 20) - 1) * (made - _low(made))
    return np.asarray(made * 10.0 ** (level_db / 20), np.float32)


def _low(samples: Samples) -> Samples:
    """What lies below the corner, by one pole."""
    pole = float(np.exp(-2 * np.pi * _CORNER_HZ / SAMPLE_RATE))
    return np.asarray(lfilter([1 - pole], [1, -pole], samples, axis=0), np.float32)
