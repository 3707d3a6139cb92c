"""A struck drum head: the modes of a membrane that the air loads, over a second head.

An ideal membrane's modes lie at the zeros of the Bessel functions. Air that swings along is a mass of about
2 rho / k on each square metre, heavier for long waves: it lowers the low modes most and pulls (1, 1), (2, 1),
(3, 1) towards 2 : 3 : 4. The air between two heads splits the lowest mode into two, both heads in step and
against each other. After Rayleigh, and Fletcher and Rossing; from memory.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np
from scipy.special import jn_zeros, jv

from fillwright.sound.model.blow import Blow
from fillwright.sound.model.modal import interpolate_curve, sum_modes
from fillwright.sound.model.recipe import Membrane
from fillwright.sound.signal import SAMPLE_RATE, Floats, db_to_amplitude

_HIGHEST_ZERO = 20.0
_WANDERS = 0.05  # of the head's radius, from stroke to stroke
_DETUNES = 0.003
_VARIES_DB = 1.2
_SPLIT = 0.006  # no lug is tuned quite like its neighbour: two modes where theory has a pair
_PHASE_SPREAD = 0.5
_SETTLED = 9.0  # time constants


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Modes:
    """Modes of an ideal round membrane, ascending in frequency.

    Attributes:
        diameters: nodal diameters of each.
        zeros: the zero of the Bessel function J of that order; the frequencies go as the zeros.
    """

    diameters: Floats
    zeros: Floats


@cache
def compute_membrane_modes() -> Modes:
    """Modes of an ideal membrane: divide the zeros by the first (2.405) for the ratios 1, 1.59, 2.14, 2.30 ...

    >>> (membrane_modes().zeros[:4] / membrane_modes().zeros[0]).round(2).tolist()
    [1.0, 1.59, 2.14, 2.3]
    """
    found = [
        (float(zero), m)
        for m in range(round(_HIGHEST_ZERO))
        for zero in jn_zeros(m, round(_HIGHEST_ZERO / np.pi) + 1)
        if zero < _HIGHEST_ZERO
    ]
    zeros, diameters = np.array(sorted(found)).T
    return Modes(diameters=diameters, zeros=zeros)


def compute_mode_ratios(air: float) -> Floats:
    """Frequencies of the modes under the air's load, as ratios to the lowest.

    Args:
        air: 2 rho a / sigma: the air's density over the head's mass per area, times its diameter.
    """
    zeros = compute_membrane_modes().zeros
    made = zeros / np.sqrt(1 + air / zeros)
    return np.asarray(made / made[0])


def compute_strike_gains(strike: float) -> Floats:
    """How strongly a blow wakes each mode: its shape where the stick lands, at equal energy of all shapes.

    Args:
        strike: 0 the centre, 1 the edge.
    """
    modes = compute_membrane_modes()
    shape = jv(modes.diameters, modes.zeros * strike)
    return np.asarray(np.abs(shape / jv(modes.diameters + 1, modes.zeros)))


def render_head(part: Membrane, blow: Blow) -> Floats:
    """A head's samples for one stroke, shape (samples, 1): modes that start together and glide down."""
    hz, amplitudes = _modes(part, blow)
    t60 = interpolate_curve(part.t60, hz)
    phases = blow.stroke_rng.normal(0.0, _PHASE_SPREAD, len(hz)) * np.minimum(1.0, hz / hz[0] - 1)
    weights = (amplitudes * np.exp(1j * phases))[:, None]
    made = sum_modes(hz, t60, weights)
    glide = part.glide * 0.5**blow.velocity_halvings * blow.stroke_rng.uniform(0.85, 1.15)
    return _slid(made, glide, part.glide_ms / 1000)


def _modes(part: Membrane, blow: Blow) -> tuple[Floats, Floats]:
    """Frequencies and amplitudes of one stroke's modes; pairs lie apart as this drum's lugs have it."""
    modes = compute_membrane_modes()
    strike = abs(part.strike + blow.stroke_rng.uniform(-_WANDERS, _WANDERS))
    amplitudes = compute_strike_gains(strike)
    angle = modes.diameters * blow.stroke_rng.uniform(0, 2 * np.pi)
    ratios = compute_mode_ratios(part.air)
    split = blow.drum_rng.uniform(0.3, 1.0, len(ratios)) * _SPLIT * (modes.diameters > 0)
    second_ratio, second_db = part.second
    every = np.concatenate([ratios * (1 - split), ratios * (1 + split), [second_ratio]])
    shares = [amplitudes * np.abs(np.cos(angle)), amplitudes * np.abs(np.sin(angle))]
    struck_by = np.concatenate([*shares, [amplitudes[0] * db_to_amplitude(second_db)]])
    hz = part.hz * every * blow.stroke_rng.normal(1.0, _DETUNES)
    struck_by *= np.asarray(db_to_amplitude(interpolate_curve(part.colour, hz))) * blow.compute_contact(
        hz, part.contact_ms
    )
    struck_by *= np.asarray(db_to_amplitude(blow.stroke_rng.normal(0.0, _VARIES_DB, len(hz))))
    return hz, struck_by / struck_by.sum()


def _slid(made: Floats, glide: float, slide: float) -> Floats:
    """Samples read ahead of time at first, so that all pitches start higher by `glide` and settle.

    A hard blow stretches the head: all modes rise together (Fletcher and Rossing; from memory). In the end the
    reading is ahead by a whole number of samples, so that what has settled need not be read between them.
    """
    ahead = max(1, round(glide * slide * SAMPLE_RATE))
    count = min(round(_SETTLED * slide * SAMPLE_RATE), len(made) - ahead - 2)
    times = np.arange(count) / (slide * SAMPLE_RATE)
    at = np.arange(count) + ahead * (1 - np.exp(-times))
    whole = at.astype(np.int64)
    part = (at - whole)[:, None]
    # cubic through the four neighbours; before the blow the head is taken as a mirror image, which cosines are
    before, here, after, beyond = (made[np.abs(whole + step)] for step in (-1, 0, 1, 2))
    slope, bend = (after - before) / 2, before - 2.5 * here + 2 * after - beyond / 2
    twist = (beyond - before) / 2 + 1.5 * (here - after)
    return np.concatenate([here + part * (slope + part * (bend + part * twist)), made[count + ahead :]])
