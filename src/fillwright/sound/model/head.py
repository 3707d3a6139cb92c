"""A struck drum head: the modes of a membrane under the load of the air, above a second head.

The modes of an ideal membrane are at the zeros of the Bessel functions. Air that moves with it is a mass of
about 2 rho / k on each square metre, heavier for long waves: it lowers the low modes most and pulls (1, 1), (2,
1), (3, 1) towards 2 : 3 : 4. The air between two heads splits the lowest mode into two: both heads in step, and
against each other. After Rayleigh, and Fletcher and Rossing; from memory.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np
from scipy.special import jn_zeros, jv

from fillwright.sound.model.blow import Blow
from fillwright.sound.model.modal import interpolate_curve, sum_modes
from fillwright.sound.model.part_types import Membrane
from fillwright.sound.signal import SAMPLE_RATE, Floats, db_to_amplitude

# All ours, not measured, unless a line says otherwise.
_HIGHEST_ZERO = 20.0  # zeros of the Bessel functions up to here: modes up to 8 times the lowest
_WANDERS = 0.05  # parts of the head's radius by which the place of a stroke varies
_DETUNES = 0.003  # standard deviation of a stroke's pitch, as a part of it
_VARIES_DB = 1.2  # standard deviation of a mode's level from stroke to stroke
_SPLIT = 0.006  # part of its frequency by which lugs of unequal tension split a pair of modes, at most
_PHASE_SPREAD = 0.5  # radians: standard deviation of the phases, at twice the lowest frequency and above
_SETTLED = 9.0  # time constants after which the glide is over


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Modes:
    """Modes of an ideal round membrane, ascending in frequency.

    Attributes:
        diameters: number of nodal diameters of each.
        zeros: zero of the Bessel function J of that order; the frequencies are proportional to the zeros.
    """

    diameters: Floats
    zeros: Floats


@cache
def compute_membrane_modes() -> Modes:
    """Return the modes of an ideal membrane: the zeros over the first, 2.405, are 1, 1.59, 2.14, 2.30 ...

    >>> (compute_membrane_modes().zeros[:4] / compute_membrane_modes().zeros[0]).round(2).tolist()
    [1.0, 1.59, 2.14, 2.3]
    """
    modes = [
        (float(zero), m)
        for m in range(round(_HIGHEST_ZERO))
        for zero in jn_zeros(m, round(_HIGHEST_ZERO / np.pi) + 1)
        if zero < _HIGHEST_ZERO
    ]
    zeros, diameters = np.array(sorted(modes)).T
    return Modes(diameters=diameters, zeros=zeros)


def compute_mode_ratios(air: float) -> Floats:
    """Return the frequencies of the modes under the load of the air, as ratios to the lowest.

    Args:
        air: 2 rho a / sigma: density of the air over mass of the head per area, times its diameter; no unit.
    """
    zeros = compute_membrane_modes().zeros
    loaded = zeros / np.sqrt(1 + air / zeros)
    return np.asarray(loaded / loaded[0])


def compute_strike_gains(strike: float) -> Floats:
    """Return the gain of each mode: its shape at the place of the stroke, all shapes of equal energy.

    Args:
        strike: place of the stroke, 0 the centre, 1 the edge.
    """
    modes = compute_membrane_modes()
    shape = jv(modes.diameters, modes.zeros * strike)
    return np.asarray(np.abs(shape / jv(modes.diameters + 1, modes.zeros)))


def render_head(part: Membrane, blow: Blow) -> Floats:
    """Return a head's samples for one stroke, shape (samples, 1): modes that start together and glide down."""
    hz, amplitudes = _choose_modes(part, blow)
    t60 = interpolate_curve(part.t60, hz)
    phases = blow.stroke_rng.normal(0.0, _PHASE_SPREAD, len(hz)) * np.minimum(1.0, hz / hz[0] - 1)
    weights = (amplitudes * np.exp(1j * phases))[:, None]
    samples = sum_modes(hz, t60, weights)
    glide = part.glide * 0.5**blow.velocity_halvings * blow.stroke_rng.uniform(0.85, 1.15)
    return _glide_down(samples, glide, part.glide_ms / 1000)


def _choose_modes(part: Membrane, blow: Blow) -> tuple[Floats, Floats]:
    """Return frequencies, in Hz, and amplitudes of one stroke's modes; the drum's lugs split the pairs."""
    modes = compute_membrane_modes()
    strike = abs(part.strike + blow.stroke_rng.uniform(-_WANDERS, _WANDERS))
    amplitudes = compute_strike_gains(strike)
    angle = modes.diameters * blow.stroke_rng.uniform(0, 2 * np.pi)
    ratios = compute_mode_ratios(part.air)
    split = blow.drum_rng.uniform(0.3, 1.0, len(ratios)) * _SPLIT * (modes.diameters > 0)
    second_ratio, second_db = part.second
    mode_ratios = np.concatenate([ratios * (1 - split), ratios * (1 + split), [second_ratio]])
    shares = [amplitudes * np.abs(np.cos(angle)), amplitudes * np.abs(np.sin(angle))]
    gains = np.concatenate([*shares, [amplitudes[0] * db_to_amplitude(second_db)]])
    hz = part.hz * mode_ratios * blow.stroke_rng.normal(1.0, _DETUNES)
    gains *= np.asarray(db_to_amplitude(interpolate_curve(part.colour, hz))) * blow.compute_contact(
        hz, part.contact_ms
    )
    gains *= np.asarray(db_to_amplitude(blow.stroke_rng.normal(0.0, _VARIES_DB, len(hz))))
    return hz, gains / gains.sum()


def _glide_down(samples: Floats, glide: float, seconds: float) -> Floats:
    """Return samples read faster at first, so that all pitches start higher by a share `glide` and settle.

    A hard blow stretches the head, and all modes rise together (Fletcher and Rossing; from memory). In the end
    the reading is ahead by an integer number of samples, so that the settled rest needs no interpolation.
    """
    ahead = max(1, round(glide * seconds * SAMPLE_RATE))
    count = min(round(_SETTLED * seconds * SAMPLE_RATE), len(samples) - ahead - 2)
    times = np.arange(count) / (seconds * SAMPLE_RATE)
    position = np.arange(count) + ahead * (1 - np.exp(-times))
    base = position.astype(np.int64)
    part = (position - base)[:, None]
    # cubic through the four neighbours; before the blow we take the mirror image, as cosines have it
    before, here, after, beyond = (samples[np.abs(base + step)] for step in (-1, 0, 1, 2))
    slope, bend = (after - before) / 2, before - 2.5 * here + 2 * after - beyond / 2
    twist = (beyond - before) / 2 + 1.5 * (here - after)
    return np.concatenate([here + part * (slope + part * (bend + part * twist)), samples[count + ahead :]])
