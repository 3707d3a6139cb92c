"""Noise in bands that decay at different speeds: modes too dense to separate, and snare wires."""

from __future__ import annotations

from functools import lru_cache

import numpy as np

from fillwright.sound.model.bands import BAND_HZ, LOOP_SAMPLES, make_noise_bands
from fillwright.sound.model.blow import CONTACT_POWER, Blow, compute_pulse_spectrum
from fillwright.sound.model.modal import LOG_60_DB, interpolate_curve
from fillwright.sound.model.part_types import Wash, Wires
from fillwright.sound.signal import SAMPLE_RATE, Floats, db_to_amplitude

# All ours, not measured.
_LASTS = 1.25  # times t60: length of a band
_LONGEST_SECONDS = 1.4  # longest band
_UNHEARD_DB = -80.0  # level of a band below which it is left out
_CALM_SECONDS = 0.05  # time constant with which the head stops throwing the wires
_STEPS = 3  # decays an octave of t60; bands of one decay share an envelope


def render_wash(part: Wash, blow: Blow) -> Floats:
    """Return a wash's samples for one stroke, shape (samples, 2), its mean square 1 as an accent starts."""
    layers = _build_layers(part, blow.velocity_halvings)
    out = np.zeros((max(len(envelope) for _, envelope in layers), 2))
    for noise, envelope in layers:
        middle = _cut_burst(noise, envelope, blow)
        target = out[: len(envelope)]
        if part.width:
            side = _cut_burst(noise, envelope, blow) * np.sqrt(part.width / 2)
            middle *= np.sqrt(1 - part.width / 2)
            target[:, 0] += side
            target[:, 1] -= side
        target += middle[:, None]
    return out


@lru_cache(maxsize=4)
def _build_layers(part: Wash, halvings: float) -> tuple[tuple[Floats, Floats], ...]:
    """Return noise, its loop twice, and envelope of the bands of one decay; all strokes so hard share them."""
    levels = np.asarray(db_to_amplitude(interpolate_curve(part.spectrum, BAND_HZ)))
    levels = levels / np.sqrt(np.sum(levels**2))
    longer = 2.0 ** (CONTACT_POWER * halvings)
    levels *= compute_pulse_spectrum(BAND_HZ, part.contact_ms / 1000 * longer) / compute_pulse_spectrum(
        BAND_HZ, part.contact_ms / 1000
    )
    decays = np.round(np.log2(interpolate_curve(part.t60, BAND_HZ)) * _STEPS)
    audible = 20 * np.log10(levels) > _UNHEARD_DB
    layers = []
    for decay in np.unique(decays[audible]):
        noise = (levels * (audible & (decays == decay))) @ make_noise_bands()
        envelope = _decay_envelope(2.0 ** (decay / _STEPS))
        layers.append((np.concatenate([noise, noise]), envelope * _follow_head(part, len(envelope))))
    return tuple(layers)


def _decay_envelope(t60: float) -> Floats:
    """Return an envelope: 1 at first, 60 dB less after t60, and exactly 0 at its end."""
    samples = int(min(_LASTS * t60, _LONGEST_SECONDS) * SAMPLE_RATE)
    envelope = np.exp(-LOG_60_DB / (t60 * SAMPLE_RATE) * np.arange(samples))
    return np.asarray((envelope - envelope[-1]) / (1 - envelope[-1]))


def _cut_burst(noise: Floats, envelope: Floats, blow: Blow) -> Floats:
    """Return a random piece of noise under an envelope, always of the same energy.

    By chance alone, strokes of one loudness would differ by decibels. All but a hundredth of the energy is in
    the first third.
    """
    start = int(blow.stroke_rng.integers(LOOP_SAMPLES))
    piece = noise[start : start + len(envelope)] * envelope
    third = len(envelope) // 3 + 1
    energy = np.sum(envelope[:third] ** 2) * np.mean(noise[:LOOP_SAMPLES] ** 2)
    return np.asarray(piece * np.sqrt(energy / np.sum(piece[:third] ** 2)))


def _follow_head(part: Wash, samples: int) -> Floats | float:
    """Return the envelope of snare wires on the moving head; 1 for a wash without wires.

    While the head swings far, the wires leave it and slap back once a cycle. As it calms down, they stay on it
    and buzz.
    """
    if not isinstance(part, Wires):
        return 1.0
    times = np.arange(samples) / SAMPLE_RATE - part.delay_ms / 1000
    depth = part.slap * np.exp(-np.maximum(times, 0) / _CALM_SECONDS)
    rise = np.clip(1 + times / (part.delay_ms / 1000), 0, 1) ** 2
    return np.asarray(rise * (1 - depth * np.cos(np.pi * part.hz * times) ** 2))
