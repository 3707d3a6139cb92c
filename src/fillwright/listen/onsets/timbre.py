"""The colour and the loudness of an attack, with what rang before it taken out."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]
Indices = npt.NDArray[np.intp]
Signal = npt.NDArray[np.float32]

SPANS_MS = ((0.0, 10.0), (10.0, 40.0), (40.0, 100.0))
"""The parts of a sound that are looked at."""

BANDS = 12
"""Bands of each part, from 60 Hz to 16 kHz, each as wide as the others on a scale of octaves."""

_LOWEST_HZ, _HIGHEST_HZ = 60.0, 16_000.0
_RINGING_MS = (-22.0, -2.0)
_TAPER_MS = 1.5
_LEAST_DB, _MOST_DB = -36.0, 12.0
_ENOUGH = 0.4
_FALLS_DB = 6.0
_CLEAR_OF_NEXT_MS = 1.0
_LEVEL_MS, _LEVEL_AROUND_MS, _LEVEL_HZ = 10.0, 6.0, 1_000.0
_TINY = 1e-12


def measure_timbres(signal: Signal, rate: float, starts: Indices, nexts: Indices) -> Floats:
    """Colour of each attack, shape (attacks, 36): for three spans, how strong twelve bands are, in dB.

    The strength that each band had just before the attack is taken off, so that a ringing cymbal hardly counts;
    all are told against the whole of the first 10 ms, so that loudness does not count. From -36 to 12. A span
    that the next attack falls into ends there; where little of it is left, it is the span before, 6 dB down.

    Args:
        signal: mono.
        rate: samples a second.
        starts: samples where the attacks start.
        nexts: sample of the attack after each.
    """
    free_ms = (nexts - starts) / rate * 1000 - _CLEAR_OF_NEXT_MS
    ringing = _powers(signal, rate, starts, _RINGING_MS, np.full(len(starts), np.inf))
    parts: list[Floats] = []
    for first, last in SPANS_MS:
        powers = _powers(signal, rate, starts, (first, last), free_ms)
        clean = np.maximum(powers - ringing, 0.03 * powers)
        enough = free_ms - first >= _ENOUGH * (last - first)
        if parts:
            clean = np.where(enough[:, None], clean, parts[-1] * 10 ** (-_FALLS_DB / 10))
        parts.append(clean)
    whole = parts[0].sum(axis=1, keepdims=True) + _TINY
    strength = 10 * np.log10(np.concatenate(parts, axis=1) / whole + _TINY)
    return np.asarray(np.clip(strength, _LEAST_DB, _MOST_DB))


def _powers(
    signal: Signal, rate: float, starts: Indices, span_ms: tuple[float, float], free_ms: Floats
) -> Floats:
    """Power in each band over a span behind the starts, up to where the next attack leaves it free."""
    pieces = _pieces(signal, rate, starts, span_ms)
    length = pieces.shape[1]
    ms = span_ms[0] + np.arange(length) / rate * 1000
    from_start = np.minimum(1.0, (ms - span_ms[0] + 0.2) / _TAPER_MS)
    ends = np.minimum(span_ms[1], np.maximum(free_ms, span_ms[0] + 2 * _TAPER_MS))
    window = from_start * np.clip((ends[:, None] - ms) / _TAPER_MS, 0.0, 1.0)
    size = 1 << int(np.ceil(np.log2(max(length, rate / _LOWEST_HZ))))
    spectrum = np.abs(np.fft.rfft(pieces * window, size, axis=1)) ** 2
    hertz = np.fft.rfftfreq(size, 1 / rate)
    edges = np.geomspace(_LOWEST_HZ, _HIGHEST_HZ, BANDS + 1)
    members = (hertz >= edges[:-1, None]) & (hertz < edges[1:, None])
    return np.asarray(spectrum @ members.T * (2 / size) / np.square(window).sum(axis=1)[:, None])


def _pieces(signal: Signal, rate: float, starts: Indices, span_ms: tuple[float, float]) -> Floats:
    """What the signal is over a span around the starts, silence beyond its ends; shape (starts, samples)."""
    first, last = (round(one * rate / 1000) for one in span_ms)
    lead, tail = max(0, -first), max(0, last) + 1
    padded = np.concatenate([np.zeros(lead, np.float32), signal, np.zeros(tail, np.float32)])
    return np.asarray(padded[(starts + lead + first)[:, None] + np.arange(last - first)], np.float64)


def measure_loudness_db(signal: Signal, rate: float, starts: Indices) -> Floats:
    """Loudness of each attack: the peak of its first 10 ms above 1 kHz, in dB, shape (attacks,)."""
    around = (-_LEVEL_AROUND_MS, _LEVEL_MS + _LEVEL_AROUND_MS)
    pieces = _pieces(signal, rate, starts, around)
    edge = round(_LEVEL_AROUND_MS / 2 * rate / 1000)
    fade = 0.5 - 0.5 * np.cos(np.pi * np.arange(edge) / edge)
    pieces[:, :edge] *= fade
    pieces[:, -edge:] *= fade[::-1]
    size = 1 << int(np.ceil(np.log2(pieces.shape[1])))
    hertz = np.fft.rfftfreq(size, 1 / rate)
    high = np.fft.irfft(np.fft.rfft(pieces, size) * (hertz**2 / (hertz**2 + _LEVEL_HZ**2)), size)
    first = round(_LEVEL_AROUND_MS * rate / 1000)
    peak = np.abs(high[:, first : first + round(_LEVEL_MS * rate / 1000)]).max(axis=1)
    return np.asarray(20 * np.log10(peak + 1e-6))


def estimate_cutoff_hz(signal: Signal, rate: float, starts: Indices) -> float:
    """The frequency above which the attacks hold nothing: half the rate, or less after a phone or a codec."""
    if not len(starts):
        return rate / 2
    size = 1024
    pieces = _pieces(signal, rate, starts[:400], (0.0, size / rate * 1000))
    spectrum = np.square(np.abs(np.fft.rfft(pieces * np.hanning(pieces.shape[1]), size))).mean(axis=0)
    heard = np.flatnonzero(spectrum > 1e-6 * spectrum.max())
    return float(min(rate / 2, (heard[-1] + 1) * rate / size))
