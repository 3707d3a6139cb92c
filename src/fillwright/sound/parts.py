"""One part of a sound, worked out for one stroke."""

from __future__ import annotations

import numpy as np

from fillwright.sound.blow import Blow
from fillwright.sound.cymbals import plate
from fillwright.sound.modal import RATE, Floats, along, decibels, faded, membrane, ring
from fillwright.sound.recipe import Membrane, Noise, Part, Partials, Plate

_FALL = np.log(1000.0)
_UNHEARD = 3e-5
_LASTS = 1.25  # times t60: what is pressed into the soft ceiling is heard for longer


def sound(part: Part, blow: Blow) -> Floats:
    """A part's samples for one stroke, shape (samples, 2), both sides alike or apart by its width."""
    match part:
        case Membrane():
            made = _membrane(part, blow)
        case Partials():
            made = _partials(part, blow)
        case Plate():
            made = plate(part, blow)
        case Noise():
            made = _noise(part, blow)
        case _:
            raise TypeError(f"no synthesis for {type(part).__name__}")
    made *= decibels(part.db - part.soft_db * blow.halvings)
    rise = max(1, round(part.attack_ms * RATE / 1000))
    made[:rise] *= np.sin(np.linspace(0, np.pi / 2, rise + 1)[1:, None]) ** 2
    return made


def _membrane(part: Membrane, blow: Blow) -> Floats:
    """Modes that start together, as a blow makes them, and glide down as the head's tension falls back."""
    strike = part.strike + blow.chance.uniform(-0.025, 0.025)
    ratios, amplitudes = membrane(abs(strike))
    hz = part.hz * ratios * blow.chance.normal(1.0, 0.0015)
    bright = part.bright_hz * 2.0**-blow.halvings
    amplitudes = amplitudes / (1 + (hz / bright) ** 2)
    times = np.arange(int(_LASTS * part.t60 * RATE)) / RATE
    glide = part.glide * 0.5**blow.halvings * blow.chance.uniform(0.92, 1.08)
    slide = part.glide_ms / 1000
    warped = times + glide * slide * (1 - np.exp(-times / slide))
    decay = _FALL / (part.t60 * ratios**-part.damping)
    made = np.zeros(len(times))
    heard = amplitudes > _UNHEARD * amplitudes.max()
    for one_hz, amplitude, fall in zip(hz[heard], amplitudes[heard], decay[heard], strict=True):
        count = min(len(times), int(_LASTS * _FALL / fall * RATE) + 1)
        made[:count] += amplitude * np.cos(2 * np.pi * one_hz * warped[:count]) * np.exp(-fall * times[:count])
    return faded(np.stack([made, made], axis=1))


def _partials(part: Partials, blow: Blow) -> Floats:
    hz, db, t60 = np.array(part.tones).T
    amplitudes = np.asarray(decibels(db))
    amplitudes = amplitudes / amplitudes.sum() * blow.dull(hz)
    amplitudes *= decibels(blow.chance.normal(0.0, 1.0, len(hz)))
    return ring(hz, t60, np.stack([amplitudes, amplitudes], axis=1).astype(np.complex128))


def _noise(part: Noise, blow: Blow) -> Floats:
    """Noise of a colour, its mean square 1 at the start of an accent.

    Strokes of one loudness get the same energy: left to luck, a click as short as a stick's would vary.
    """
    samples = int(_LASTS * part.t60 * RATE)
    envelope = np.exp(-_FALL * np.arange(samples) / (part.t60 * RATE))
    size = 1 << (samples - 1).bit_length()
    hz = np.asarray(np.fft.rfftfreq(size, 1 / RATE), np.float64)
    colour = np.asarray(decibels(along(part.spectrum, hz)))
    colour = colour / np.sqrt(np.mean(colour**2)) * blow.dull(hz)
    wanted = np.mean(colour**2) * np.sum(envelope**2)
    sides = []
    for share in (1 - part.width / 2, part.width / 2):
        white = np.fft.rfft(blow.chance.standard_normal(size))
        made = np.fft.irfft(white * colour, size)[:samples] * envelope
        sides.append(made * np.sqrt(share * wanted / np.sum(made**2)))
    return faded(np.stack([sides[0] + sides[1], sides[0] - sides[1]], axis=1))
