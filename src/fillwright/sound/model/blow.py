"""A blow: one stroke as the parts of a sound see it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from fillwright.sound.signal import Floats, db_to_amplitude

CONTACT_POWER = 0.35
"""A stroke half as hard touches 2 ^ this as long (between Hertz's law, 0.2, and what soft heads do)."""

_CONTACTS = np.linspace(0.75, 1.25, 7)


@dataclass(frozen=True, slots=True, kw_only=True)
class Blow:
    """One stroke as the parts see it.

    Attributes:
        velocity_halvings: how often the velocity has been halved from an accent's.
        tilt_db: dB per octave above 1 kHz that this stroke is duller than an accent.
        stroke_rng: what differs from stroke to stroke.
        drum_rng: what is always the same of this drum or cymbal.
    """

    velocity_halvings: float
    tilt_db: float
    stroke_rng: np.random.Generator
    drum_rng: np.random.Generator

    def compute_dulling(self, hz: Floats) -> Floats:
        """Amplitude factors of frequencies: softer strokes lose the highs."""
        return np.asarray(db_to_amplitude(-self.tilt_db * np.log2(np.maximum(hz, 1000.0) / 1000.0)))

    def compute_contact(self, hz: Floats, accent_ms: float) -> Floats:
        """Amplitude factors of frequencies after the time that stick and head touch: shorter when harder.

        Args:
            hz: frequencies.
            accent_ms: the time of contact in an accent.
        """
        return compute_pulse_spectrum(hz, accent_ms / 1000 * 2.0 ** (CONTACT_POWER * self.velocity_halvings))


def compute_pulse_spectrum(hz: Floats, seconds: float) -> Floats:
    """Spectrum of a half-sine push of that length, 1 at 0 Hz.

    No two contacts last equally long: the mean square over times a quarter apart fills the zeros between lobes.
    """
    turns = hz * (seconds * _CONTACTS[:, None])
    off = np.where(np.abs(turns - 0.5) < 1e-6, 1e-6, 0.0)
    squares = (np.cos(np.pi * (turns + off)) / (1 - 4 * (turns + off) ** 2)) ** 2
    return np.asarray(np.sqrt(np.mean(squares, axis=0)))
