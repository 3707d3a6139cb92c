"""A blow: one stroke as the parts of a sound see it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from fillwright.sound.modal import Floats, decibels


@dataclass(frozen=True, slots=True, kw_only=True)
class Blow:
    """One stroke as the parts see it.

    Attributes:
        halvings: how often the velocity has been halved from an accent's.
        tilt_db: dB per octave above 1 kHz that this stroke is duller than an accent.
        chance: what differs from stroke to stroke.
        body: what is always the same of this drum or cymbal.
    """

    halvings: float
    tilt_db: float
    chance: np.random.Generator
    body: np.random.Generator

    def dull(self, hz: Floats) -> Floats:
        """Amplitude factors of frequencies: softer strokes lose the highs."""
        return np.asarray(decibels(-self.tilt_db * np.log2(np.maximum(hz, 1000.0) / 1000.0)))
