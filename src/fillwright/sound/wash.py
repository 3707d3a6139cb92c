"""Noise whose bands die each in its own time: modes too dense to tell apart, and snare wires."""

from __future__ import annotations

import numpy as np

from fillwright.sound.bands import LOOP, MIDDLES, band_noise
from fillwright.sound.blow import Blow, pulse
from fillwright.sound.modal import RATE, Floats, along, decibels
from fillwright.sound.recipe import Wash, Wires

_FALL = np.log(1000.0)
_LASTS = 1.25  # times t60
_UNHEARD_DB = -80.0
_LAZY_SECONDS = 0.05


def wash(part: Wash, blow: Blow) -> Floats:
    """A wash's samples for one stroke, shape (samples, 2), its mean square 1 at the start of an accent."""
    hits = np.asarray(decibels(along(part.spectrum, MIDDLES)))
    hits = hits / np.sqrt(np.sum(hits**2))
    hits = hits * blow.contact(MIDDLES, part.contact_ms) / pulse(MIDDLES, part.contact_ms / 1000)
    t60 = along(part.t60, MIDDLES)
    out = np.zeros((int(_LASTS * t60.max() * RATE) + 1, 2))
    for band in np.flatnonzero(20 * np.log10(hits) > _UNHEARD_DB):
        envelope = _falling(float(t60[band]))
        envelope *= _gate(part, len(envelope))
        middle = _burst(int(band), envelope, blow) * hits[band]
        here = out[: len(envelope)]
        if part.width:
            side = _burst(int(band), envelope, blow) * (hits[band] * np.sqrt(part.width / 2))
            middle *= np.sqrt(1 - part.width / 2)
            here[:, 0] += side
            here[:, 1] -= side
        here += middle[:, None]
    return out


def _falling(t60: float) -> Floats:
    """1 at first, 60 dB less after t60, and exactly 0 at its end."""
    samples = int(_LASTS * t60 * RATE)
    block = int(np.sqrt(samples)) + 1
    rate = _FALL / (t60 * RATE)
    steps = np.arange(block)
    made = np.outer(np.exp(-rate * block * steps), np.exp(-rate * steps)).ravel()[:samples]
    return np.asarray((made - made[-1]) / (1 - made[-1]))


def _burst(band: int, envelope: Floats, blow: Blow) -> Floats:
    """A piece of a band's noise under an envelope, of the same energy whatever piece it is.

    Left to luck, strokes of one loudness would differ by decibels. The first third holds all but a hundredth.
    """
    piece = band_noise(band, len(envelope), int(blow.chance.integers(LOOP))) * envelope
    most = len(envelope) // 3 + 1
    return np.asarray(piece * np.sqrt(np.sum(envelope[:most] ** 2) / np.sum(piece[:most] ** 2)))


def _gate(part: Wash, samples: int) -> Floats | float:
    """How snare wires follow the head below them; 1 for what is no wires.

    While the head swings far they leave it and slap back once a cycle; as it calms down they lie on it
    and buzz.
    """
    if not isinstance(part, Wires):
        return 1.0
    times = np.arange(samples) / RATE - part.delay_ms / 1000
    depth = part.slap * np.exp(-np.maximum(times, 0) / _LAZY_SECONDS)
    rise = np.clip(1 + times / (part.delay_ms / 1000), 0, 1) ** 2
    return np.asarray(rise * (1 - depth * np.cos(np.pi * part.hz * times) ** 2))
