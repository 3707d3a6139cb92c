"""Cymbals: the dense modes of a thin bronze plate, each louder or softer by where the stick lands.

A plate of that size has hundreds of modes, all out of tune with each other. A blow starts the low ones at once;
a hard one bends the plate so far that energy climbs from mode to mode, and the highs swell up for some
milliseconds after the stick has left. All die away, the highs first.
"""

from __future__ import annotations

import zlib
from functools import cache

import numpy as np
import numpy.typing as npt

from fillwright.sound.blow import Blow
from fillwright.sound.modal import TOP_HZ, Floats, along, decibels, ring
from fillwright.sound.recipe import Plate

LONGEST_SECONDS = 4.0
"""What rings longer is faded out by then."""

_FALL = np.log(1000.0)
_HAMMERED, _SPLIT = 0.03, 0.004  # parts of a frequency
_BODY_DB, _STROKE_DB = 1.5, 2.0
_LASTS = 0.1  # part of its t60 by which a mode differs from its neighbours
_UNHEARD_DB = -70.0
_HIGHEST_TURN = np.pi / 4


@cache
def plate_modes(cymbal: str, base_hz: float, power: float) -> Floats:
    """Frequencies of a cymbal's modes, ascending.

    Chladni's law f = base * (m + 2n) ^ power, m nodal diameters and n nodal circles, the power below 2 for
    cymbals (after Fletcher and Rossing, The Physics of Musical Instruments; from memory). Hammering pulls
    every mode a little off, and those with diameters are two, their nodes turned against each other, which a
    plate that is not quite round keeps apart: they beat.

    Args:
        cymbal: whose modes they are; another one has others.
        base_hz: as above.
        power: as above.
    """
    body = np.random.default_rng(zlib.crc32(cymbal.encode()))
    highest = int((TOP_HZ / base_hz) ** (1 / power))
    orders = np.array([m + 2 * n for m in range(2, highest + 1) for n in range((highest - m) // 2 + 1)])
    hz = base_hz * orders**power * body.normal(1.0, _HAMMERED, len(orders))
    hz = np.concatenate([hz, hz * body.normal(1.0, _SPLIT, len(hz))])
    return np.sort(hz[hz < TOP_HZ])


def plate(part: Plate, blow: Blow) -> Floats:
    """A plate's samples for one stroke, shape (samples, 2), its mean square about 1 at the start of an accent.

    The same modes for every stroke; how much of each, and how it starts, depends on where the stick lands.
    """
    hz = plate_modes(part.cymbal, part.base_hz, part.power)
    own = np.random.default_rng(zlib.crc32(part.cymbal.encode()) + 1)
    t60 = along(part.t60, hz) * own.uniform(1 - _LASTS, 1 + _LASTS, len(hz))
    level = np.asarray(decibels(along(part.spectrum, hz))) * hz ** (-1 / part.power)  # fewer of them lower down
    level *= np.sqrt(2.0 / np.sum(level**2))
    level = level * blow.dull(hz) * decibels(own.normal(0.0, _BODY_DB, len(hz)))
    level *= decibels(blow.chance.normal(0.0, _STROKE_DB, len(hz)))
    phase = blow.chance.uniform(-np.pi, np.pi, len(hz))
    apart = part.width * _HIGHEST_TURN * own.choice([-1.0, 1.0], len(hz))
    turns = np.stack([np.exp(1j * (phase + apart)), np.exp(1j * (phase - apart))], axis=1)
    return _swelling(hz, t60, level[:, None] * turns, along(part.rise_ms, hz) / 1000)


def _swelling(hz: Floats, t60: Floats, weights: npt.NDArray[np.complex128], rise: Floats) -> Floats:
    """Modes that rise to their level as 1 - exp(-t / rise): each less one that dies sooner."""
    heard = np.abs(weights[:, 0]) > decibels(_UNHEARD_DB) * np.abs(weights).max()
    hz, t60, weights, rise = hz[heard], t60[heard], weights[heard], rise[heard]
    slow = rise > 0
    sooner = _FALL / (_FALL / t60[slow] + 1 / rise[slow])
    return ring(
        np.concatenate([hz, hz[slow]]),
        np.concatenate([t60, sooner]),
        np.concatenate([weights, -weights[slow]]),
        LONGEST_SECONDS,
    )
