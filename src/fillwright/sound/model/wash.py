"""Noise whose bands die each in its own time: modes too dense to tell apart, and snare wires."""

from __future__ import annotations

from functools import lru_cache

import numpy as np

from fillwright.sound.model.bands import BAND_HZ, LOOP_SAMPLES, make_noise_bands
from fillwright.sound.model.blow import CONTACT_POWER, Blow, compute_pulse_spectrum
from fillwright.sound.model.modal import interpolate_curve
from fillwright.sound.model.recipe import Wash, Wires
from fillwright.sound.signal import SAMPLE_RATE, Floats, db_to_amplitude

_FALL = np.log(1000.0)
_LASTS = 1.25  # times t60
_LONGEST_SECONDS = 1.4
_UNHEARD_DB = -80.0
_LAZY_SECONDS = 0.05
_STEPS = 3  # an octave of decay


def render_wash(part: Wash, blow: Blow) -> Floats:
    """A wash's samples for one stroke, shape (samples, 2), its mean square 1 at the start of an accent."""
    sounding = _layers(part, blow.velocity_halvings)
    out = np.zeros((max(len(envelope) for _, envelope in sounding), 2))
    for noise, envelope in sounding:
        middle = _burst(noise, envelope, blow)
        here = out[: len(envelope)]
        if part.width:
            side = _burst(noise, envelope, blow) * np.sqrt(part.width / 2)
            middle *= np.sqrt(1 - part.width / 2)
            here[:, 0] += side
            here[:, 1] -= side
        here += middle[:, None]
    return out


@lru_cache(maxsize=4)
def _layers(part: Wash, halvings: float) -> tuple[tuple[Floats, Floats], ...]:
    """Noise, twice round its loop, and envelope of what dies at one pace; the same for all strokes so hard."""
    levels = np.asarray(db_to_amplitude(interpolate_curve(part.spectrum, BAND_HZ)))
    levels = levels / np.sqrt(np.sum(levels**2))
    longer = 2.0 ** (CONTACT_POWER * halvings)
    levels *= compute_pulse_spectrum(BAND_HZ, part.contact_ms / 1000 * longer) / compute_pulse_spectrum(
        BAND_HZ, part.contact_ms / 1000
    )
    paces = np.round(np.log2(interpolate_curve(part.t60, BAND_HZ)) * _STEPS)
    heard = 20 * np.log10(levels) > _UNHEARD_DB
    made = []
    for pace in np.unique(paces[heard]):
        noise = (levels * (heard & (paces == pace))) @ make_noise_bands()
        envelope = _falling(2.0 ** (pace / _STEPS))
        made.append((np.concatenate([noise, noise]), envelope * _gate(part, len(envelope))))
    return tuple(made)


def _falling(t60: float) -> Floats:
    """1 at first, 60 dB less after t60, and exactly 0 at its end."""
    samples = int(min(_LASTS * t60, _LONGEST_SECONDS) * SAMPLE_RATE)
    made = np.exp(-_FALL / (t60 * SAMPLE_RATE) * np.arange(samples))
    return np.asarray((made - made[-1]) / (1 - made[-1]))


def _burst(noise: Floats, envelope: Floats, blow: Blow) -> Floats:
    """A piece of noise under an envelope, of the same energy whatever piece it is.

    Left to luck, strokes of one loudness would differ by decibels. The first third holds all but a hundredth.
    """
    start = int(blow.stroke_rng.integers(LOOP_SAMPLES))
    piece = noise[start : start + len(envelope)] * envelope
    most = len(envelope) // 3 + 1
    wanted = np.sum(envelope[:most] ** 2) * np.mean(noise[:LOOP_SAMPLES] ** 2)
    return np.asarray(piece * np.sqrt(wanted / np.sum(piece[:most] ** 2)))


def _gate(part: Wash, samples: int) -> Floats | float:
    """How snare wires follow the head below them; 1 for what is no wires.

    While the head swings far they leave it and slap back once a cycle; as it calms down they lie on it
    and buzz.
    """
    if not isinstance(part, Wires):
        return 1.0
    times = np.arange(samples) / SAMPLE_RATE - part.delay_ms / 1000
    depth = part.slap * np.exp(-np.maximum(times, 0) / _LAZY_SECONDS)
    rise = np.clip(1 + times / (part.delay_ms / 1000), 0, 1) ** 2
    return np.asarray(rise * (1 - depth * np.cos(np.pi * part.hz * times) ** 2))
