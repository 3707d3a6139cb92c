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

from fillwright.sound.model.blow import Blow, compute_pulse_spectrum
from fillwright.sound.model.modal import TOP_HZ, interpolate_curve, sum_modes
from fillwright.sound.model.recipe import Plate, Stick
from fillwright.sound.signal import SAMPLE_RATE, Floats, db_to_amplitude

LONGEST_SECONDS = 3.6
"""What rings longer is faded out by then."""

_FALL = np.log(1000.0)
_HAMMERED = 0.35  # how far hammering pulls a mode, in orders
_SPLIT = 0.004  # how far the two of a pair lie apart, as a part of their frequency
_STROKE_DB = 1.5  # how much a mode differs from stroke to stroke
_LASTS = 0.1  # part of its t60 by which a mode differs from its neighbours
_UNHEARD_DB = -70.0  # of a mode against all of them
_CROWDED_HZ = 3000.0  # above it, fewer and fewer of the modes are worked out
_SHORTEST_SECONDS = 0.01
_HIGHEST_TURN = np.pi / 4
_CLICK = 1 << 10
_CLICK_STARTS = 4  # samples in which a click rises


@cache
def compute_plate_modes(cymbal: str, base_hz: float, power: float) -> Floats:
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
    hz = base_hz * (orders + body.normal(0.0, _HAMMERED, len(orders))) ** power
    hz = np.concatenate([hz, hz * body.normal(1.0, _SPLIT, len(hz))])
    return np.sort(hz[(hz < TOP_HZ) & (body.uniform(size=len(hz)) < _kept(hz))])


def _kept(hz: Floats) -> Floats:
    """The part of a cymbal's modes that is worked out: in the highs the ear is content with fewer."""
    return np.sqrt(_CROWDED_HZ / np.maximum(hz, _CROWDED_HZ))


def render_plate(part: Plate, blow: Blow) -> Floats:
    """A plate's samples for one stroke, shape (samples, 2), its mean square about 1 at the start of an accent.

    The same modes for every stroke; how much of each, and how it starts, depends on where the stick lands.
    """
    hz = compute_plate_modes(part.cymbal, part.base_hz, part.power)
    own = np.random.default_rng(zlib.crc32(part.cymbal.encode()) + 1)
    t60 = interpolate_curve(part.t60, hz) * own.uniform(1 - _LASTS, 1 + _LASTS, len(hz))
    level = np.asarray(db_to_amplitude(interpolate_curve(part.spectrum, hz))) * hz ** (-1 / part.power)
    level /= np.sqrt(_kept(hz))  # fewer of them must be louder
    level *= np.sqrt(2.0 / np.sum(level**2))
    level = level * blow.compute_dulling(hz) * db_to_amplitude(own.normal(0.0, part.uneven_db, len(hz)))
    phase = blow.stroke_rng.uniform(-np.pi, np.pi, len(hz))
    level *= db_to_amplitude(blow.stroke_rng.normal(0.0, _STROKE_DB, len(hz)))
    apart = part.width * _HIGHEST_TURN * own.choice([-1.0, 1.0], len(hz))
    turns = np.stack([np.exp(1j * (phase + apart)), np.exp(1j * (phase - apart))], axis=1)
    return _swelling(hz, t60, level[:, None] * turns, interpolate_curve(part.rise_ms, hz) / 1000)


def _swelling(hz: Floats, t60: Floats, weights: npt.NDArray[np.complex128], rise: Floats) -> Floats:
    """Modes that rise to their level as 1 - exp(-t / rise): each less one that dies sooner."""
    slow = rise > 0
    sooner = _FALL / (_FALL / t60[slow] + 1 / rise[slow])
    hz, t60 = np.concatenate([hz, hz[slow]]), np.concatenate([t60, sooner])
    weights = np.concatenate([weights, -weights[slow]])
    lasts = t60 * (20 * np.log10(np.abs(weights[:, 0])) - _UNHEARD_DB) / 60
    heard = lasts > _SHORTEST_SECONDS
    return sum_modes(hz[heard], t60[heard], weights[heard], np.minimum(lasts[heard], LONGEST_SECONDS))


def render_stick(part: Stick, blow: Blow) -> Floats:
    """A stick's click for one stroke, shape (samples, 2), its peak 1 in an accent.

    Bending waves travel as the root of their frequency, so that the highs of the blow arrive first.
    """
    hz = np.asarray(np.fft.rfftfreq(_CLICK, 1 / SAMPLE_RATE), np.float64)
    late = part.late_ms / 1000 * blow.stroke_rng.uniform(0.8, 1.25)
    usual = _click(part, hz, compute_pulse_spectrum(hz, part.contact_ms / 1000), late)
    made = _click(part, hz, blow.compute_contact(hz, part.contact_ms), late) * blow.compute_dulling(hz)
    heard = np.fft.irfft(made, _CLICK) / np.max(np.abs(np.fft.irfft(usual, _CLICK)))
    heard[-_CLICK // 4 :] = 0.0
    return np.repeat(heard[:, None], 2, axis=1)


def _click(part: Stick, hz: Floats, contact: Floats, late: float) -> npt.NDArray[np.complex128]:
    """The spectrum of a click: every frequency `late` * sqrt(1000 / hz) after the blow, the highest at 0."""
    level = np.asarray(db_to_amplitude(interpolate_curve(part.spectrum, hz))) * contact * (hz < TOP_HZ)
    first = late * np.sqrt(1000 / TOP_HZ) - _CLICK_STARTS / SAMPLE_RATE
    return np.asarray(level * np.exp(-2j * np.pi * (2 * late * np.sqrt(1000 * hz) - first * hz)))
