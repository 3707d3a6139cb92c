"""One part of a sound, worked out for one stroke."""

from __future__ import annotations

import numpy as np

from fillwright.sound.model.blow import Blow
from fillwright.sound.model.cymbals import plate, stick
from fillwright.sound.model.head import head
from fillwright.sound.model.modal import RATE, Floats, along, decibels, faded, ring
from fillwright.sound.model.recipe import Membrane, Noise, Part, Partials, Plate, Stick, Wash
from fillwright.sound.model.wash import wash

_FALL = np.log(1000.0)
_LASTS = 1.25  # times t60: what is pressed into the soft ceiling is heard for longer


def sound(part: Part, blow: Blow) -> Floats:
    """A part's samples for one stroke, shape (samples, 2), both sides alike or apart by its width."""
    match part:
        case Membrane():
            made = head(part, blow)
        case Partials():
            made = _partials(part, blow)
        case Plate():
            made = plate(part, blow)
        case Stick():
            made = stick(part, blow)
        case Noise():
            made = _noise(part, blow)
        case Wash():
            made = wash(part, blow)
        case _:
            raise TypeError(f"no synthesis for {type(part).__name__}")
    made *= decibels(part.db - part.soft_db * blow.halvings)
    rise = max(1, round(part.attack_ms * RATE / 1000))
    made[:rise] *= np.sin(np.linspace(0, np.pi / 2, rise + 1)[1:, None]) ** 2
    return made


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
