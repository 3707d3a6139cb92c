"""Cymbals: the dense modes of a thin bronze plate, each louder or softer with the place of the stroke.

A plate of that size has hundreds of modes, all out of tune with each other. A blow starts the low ones at once.
A hard blow bends the plate so far that energy climbs from mode to mode, and high frequencies swell for some
milliseconds after the stick has left. All modes decay, the high ones first.
"""

from __future__ import annotations

import zlib
from functools import cache

import numpy as np
import numpy.typing as npt

from fillwright.sound.model.blow import Blow, compute_pulse_spectrum
from fillwright.sound.model.modal import LOG_60_DB, TOP_HZ, interpolate_curve, sum_modes
from fillwright.sound.model.part_types import Plate, Stick
from fillwright.sound.signal import SAMPLE_RATE, Floats, db_to_amplitude

LONGEST_SECONDS = 3.6
"""Longest ring of a mode, in seconds; longer ones are faded out by then. Ours, not measured."""

# All ours, not measured, unless a line says otherwise.
_HAMMERED = 0.35  # orders: standard deviation of a mode from its law, by hammering
_SPLIT = 0.004  # part of its frequency: standard deviation between the two modes of a pair
_STROKE_DB = 1.5  # standard deviation of a mode's level from stroke to stroke
_LASTS = 0.1  # part of its t60 by which a mode differs from its neighbours, at most
_UNHEARD_DB = -70.0  # level of a mode against all of them below which it counts as over
_CROWDED_HZ = 3000.0  # above it, fewer and fewer of the modes are calculated
_SHORTEST_SECONDS = 0.01  # modes that are over sooner are left out
_MOST_TURN = np.pi / 4  # radians: phase of a mode on each side, in opposite directions, at width 1
_CLICK = 1 << 10  # samples of a stick's click: 23 ms
_CLICK_STARTS = 4  # samples in which a click rises


@cache
def compute_plate_modes(cymbal: str, base_hz: float, power: float) -> Floats:
    """Return the frequencies of a cymbal's modes, in Hz, ascending.

    Chladni's law f = base * (m + 2n) ^ power, m nodal diameters and n nodal circles, the power below 2 for
    cymbals (after Fletcher and Rossing, The Physics of Musical Instruments; from memory). Hammering moves
    every mode a little. Modes with diameters come in pairs, their nodes turned against each other; a plate that
    is not quite round splits the pair, and the two beat.

    Args:
        cymbal: name of the cymbal; another name gives other modes.
        base_hz: base of the law.
        power: exponent of the law.
    """
    rng = np.random.default_rng(zlib.crc32(cymbal.encode()))
    highest = int((TOP_HZ / base_hz) ** (1 / power))
    orders = np.array([m + 2 * n for m in range(2, highest + 1) for n in range((highest - m) // 2 + 1)])
    hz = base_hz * (orders + rng.normal(0.0, _HAMMERED, len(orders))) ** power
    hz = np.concatenate([hz, hz * rng.normal(1.0, _SPLIT, len(hz))])
    return np.sort(hz[(hz < TOP_HZ) & (rng.uniform(size=len(hz)) < _share_of_modes(hz))])


def _share_of_modes(hz: Floats) -> Floats:
    """Return the share of a cymbal's modes that is calculated: at high frequencies fewer sound the same."""
    return np.sqrt(_CROWDED_HZ / np.maximum(hz, _CROWDED_HZ))


def render_plate(part: Plate, blow: Blow) -> Floats:
    """Return a plate's samples for one stroke, shape (samples, 2), its mean square about 1 as an accent starts.

    Every stroke has the same modes. Their levels and phases depend on the place of the stroke.
    """
    hz = compute_plate_modes(part.cymbal, part.base_hz, part.power)
    cymbal_rng = np.random.default_rng(zlib.crc32(part.cymbal.encode()) + 1)
    t60 = interpolate_curve(part.t60, hz) * cymbal_rng.uniform(1 - _LASTS, 1 + _LASTS, len(hz))
    level = np.asarray(db_to_amplitude(interpolate_curve(part.spectrum, hz))) * hz ** (-1 / part.power)
    level /= np.sqrt(_share_of_modes(hz))  # where fewer are calculated they are louder
    level *= np.sqrt(2.0 / np.sum(level**2))
    level = level * blow.compute_dulling(hz) * db_to_amplitude(cymbal_rng.normal(0.0, part.uneven_db, len(hz)))
    phase = blow.stroke_rng.uniform(-np.pi, np.pi, len(hz))
    level *= db_to_amplitude(blow.stroke_rng.normal(0.0, _STROKE_DB, len(hz)))
    apart = part.width * _MOST_TURN * cymbal_rng.choice([-1.0, 1.0], len(hz))
    turns = np.stack([np.exp(1j * (phase + apart)), np.exp(1j * (phase - apart))], axis=1)
    return _sum_swelling(hz, t60, level[:, None] * turns, interpolate_curve(part.rise_ms, hz) / 1000)


def _sum_swelling(hz: Floats, t60: Floats, weights: npt.NDArray[np.complex128], rise: Floats) -> Floats:
    """Return the sum of modes that rise as 1 - exp(-t / rise): each is itself minus one that decays sooner."""
    slow = rise > 0
    sooner = LOG_60_DB / (LOG_60_DB / t60[slow] + 1 / rise[slow])
    hz, t60 = np.concatenate([hz, hz[slow]]), np.concatenate([t60, sooner])
    weights = np.concatenate([weights, -weights[slow]])
    lasts = t60 * (20 * np.log10(np.abs(weights[:, 0])) - _UNHEARD_DB) / 60
    audible = lasts > _SHORTEST_SECONDS
    return sum_modes(hz[audible], t60[audible], weights[audible], np.minimum(lasts[audible], LONGEST_SECONDS))


def render_stick(part: Stick, blow: Blow) -> Floats:
    """Return a stick's click for one stroke, shape (samples, 2), its peak 1 in an accent.

    The speed of bending waves grows with the root of their frequency, so high frequencies of the blow arrive
    first.
    """
    hz = np.asarray(np.fft.rfftfreq(_CLICK, 1 / SAMPLE_RATE), np.float64)
    late = part.late_ms / 1000 * blow.stroke_rng.uniform(0.8, 1.25)
    accent = _click_spectrum(part, hz, compute_pulse_spectrum(hz, part.contact_ms / 1000), late)
    spectrum = _click_spectrum(part, hz, blow.compute_contact(hz, part.contact_ms), late)
    spectrum = spectrum * blow.compute_dulling(hz)
    click = np.fft.irfft(spectrum, _CLICK) / np.max(np.abs(np.fft.irfft(accent, _CLICK)))
    click[-_CLICK // 4 :] = 0.0
    return np.repeat(click[:, None], 2, axis=1)


def _click_spectrum(part: Stick, hz: Floats, contact: Floats, late: float) -> npt.NDArray[np.complex128]:
    """Return the spectrum of a click: each frequency comes `late` * sqrt(1000 / hz) after the highest."""
    level = np.asarray(db_to_amplitude(interpolate_curve(part.spectrum, hz))) * contact * (hz < TOP_HZ)
    first = late * np.sqrt(1000 / TOP_HZ) - _CLICK_STARTS / SAMPLE_RATE
    return np.asarray(level * np.exp(-2j * np.pi * (2 * late * np.sqrt(1000 * hz) - first * hz)))
