"""A blow: the properties of one stroke that the parts of a sound depend on."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from fillwright.sound.signal import Floats, db_to_amplitude

CONTACT_POWER = 0.35
"""Exponent: the stick of a stroke half as hard touches 2 ^ this times as long. Ours, not measured: above the
0.2 of Hertz's law for hard bodies (from memory), since a head is soft."""

_CONTACTS = np.linspace(0.75, 1.25, 7)  # contact times that are averaged, as parts of the nominal one; ours


@dataclass(frozen=True, slots=True, kw_only=True)
class Blow:
    """Properties of one stroke.

    Attributes:
        velocity_halvings: binary logarithm of an accent's velocity over this stroke's.
        tilt_db: dB per octave above 1 kHz that this stroke is duller than an accent.
        stroke_rng: random numbers that differ from stroke to stroke.
        drum_rng: random numbers that are the same for every stroke on this drum or cymbal.
    """

    velocity_halvings: float
    tilt_db: float
    stroke_rng: np.random.Generator
    drum_rng: np.random.Generator

    def compute_dulling(self, hz: Floats) -> Floats:
        """Return amplitude factors of frequencies, in Hz: softer strokes lose their high frequencies."""
        return np.asarray(db_to_amplitude(-self.tilt_db * np.log2(np.maximum(hz, 1000.0) / 1000.0)))

    def compute_contact(self, hz: Floats, accent_ms: float) -> Floats:
        """Return amplitude factors of frequencies for the contact time: a harder stroke touches for less time.

        Args:
            hz: frequencies.
            accent_ms: contact time in an accent.
        """
        return compute_pulse_spectrum(hz, accent_ms / 1000 * 2.0 ** (CONTACT_POWER * self.velocity_halvings))


def compute_pulse_spectrum(hz: Floats, seconds: float) -> Floats:
    """Return the spectrum of a half-sine push of that length, 1 at 0 Hz.

    No two contacts last equally long. The mean square over times up to a quarter shorter and longer fills the
    zeros between lobes.
    """
    turns = hz * (seconds * _CONTACTS[:, None])
    off = np.where(np.abs(turns - 0.5) < 1e-6, 1e-6, 0.0)  # the fraction below is 0 / 0 at half a turn
    squares = (np.cos(np.pi * (turns + off)) / (1 - 4 * (turns + off) ** 2)) ** 2
    return np.asarray(np.sqrt(np.mean(squares, axis=0)))
