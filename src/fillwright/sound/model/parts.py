"""The parts of a sound: each kind of part as samples, for one stroke."""

from __future__ import annotations

import numpy as np

from fillwright.sound.model.blow import Blow
from fillwright.sound.model.cymbals import render_plate, render_stick
from fillwright.sound.model.head import render_head
from fillwright.sound.model.modal import LOG_60_DB, fade_end, interpolate_curve, sum_modes
from fillwright.sound.model.part_types import Membrane, Noise, Partials, Plate, SoundPart, Stick, Wash
from fillwright.sound.model.wash import render_wash
from fillwright.sound.signal import SAMPLE_RATE, Floats, db_to_amplitude

_LASTS = 1.25  # times t60: the soft ceiling makes the end of a sound audible for longer; ours, not measured


def render_part(part: SoundPart, blow: Blow) -> Floats:
    """Return a part's samples for one stroke, shape (samples, 2), both sides alike or apart by its width."""
    match part:
        case Membrane():
            samples = render_head(part, blow)
        case Partials():
            samples = _render_partials(part, blow)
        case Plate():
            samples = render_plate(part, blow)
        case Stick():
            samples = render_stick(part, blow)
        case Noise():
            samples = _render_noise(part, blow)
        case Wash():
            samples = render_wash(part, blow)
        case _:
            raise TypeError(f"no synthesis for {type(part).__name__}")
    samples *= db_to_amplitude(part.db - part.soft_db * blow.velocity_halvings)
    rise = max(1, round(part.attack_ms * SAMPLE_RATE / 1000))
    samples[:rise] *= np.sin(np.linspace(0, np.pi / 2, rise + 1)[1:, None]) ** 2
    return samples


def _render_partials(part: Partials, blow: Blow) -> Floats:
    """Return separate tones, their amplitudes together 1 in an accent."""
    hz, db, t60 = np.array(part.tones).T
    amplitudes = np.asarray(db_to_amplitude(db))
    amplitudes = amplitudes / amplitudes.sum() * blow.compute_dulling(hz)
    amplitudes *= db_to_amplitude(blow.stroke_rng.normal(0.0, 1.0, len(hz)))
    return sum_modes(hz, t60, np.stack([amplitudes, amplitudes], axis=1).astype(np.complex128))


def _render_noise(part: Noise, blow: Blow) -> Floats:
    """Return noise of a spectrum, its mean square 1 at the start of an accent.

    Strokes of one loudness get the same energy: by chance alone, a click as short as a stick's would vary.
    """
    samples = int(_LASTS * part.t60 * SAMPLE_RATE)
    envelope = np.exp(-LOG_60_DB * np.arange(samples) / (part.t60 * SAMPLE_RATE))
    size = 1 << (samples - 1).bit_length()
    hz = np.asarray(np.fft.rfftfreq(size, 1 / SAMPLE_RATE), np.float64)
    colour = np.asarray(db_to_amplitude(interpolate_curve(part.spectrum, hz)))
    colour = colour / np.sqrt(np.mean(colour**2)) * blow.compute_dulling(hz)
    energy = np.mean(colour**2) * np.sum(envelope**2)
    sides = []
    for share in (1 - part.width / 2, part.width / 2):
        white = np.fft.rfft(blow.stroke_rng.standard_normal(size))
        side = np.fft.irfft(white * colour, size)[:samples] * envelope
        sides.append(side * np.sqrt(share * energy / np.sum(side**2)))
    return fade_end(np.stack([sides[0] + sides[1], sides[0] - sides[1]], axis=1))
