"""Timbre and loudness of an attack, less what rang before it; and the bandwidth of the recording."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]
Indices = npt.NDArray[np.intp]
Signal = npt.NDArray[np.float32]

WINDOWS_MS = ((0.0, 10.0), (10.0, 40.0), (40.0, 100.0))
"""Windows of a sound that are measured, in ms from its start; ours, not measured."""

BANDS = 12
"""Bands of each window, equally wide on a logarithmic scale; ours, not measured."""

_LOWEST_HZ, _HIGHEST_HZ = 60.0, 16_000.0  # edges of the bands; ours, not measured
_RINGING_MS = (-22.0, -2.0)  # window before the attack whose powers are subtracted; ours, not measured
_LEAST_SHARE = 0.03  # of a band's power is left at least; ours, not measured
_TAPER_MS = 1.5  # fade at both ends of a window; ours, not measured
_TAPER_START_MS = 0.2  # by which the fade in is ahead, so that an attack's first sample counts; ours
_LEAST_DB, _MOST_DB = -36.0, 12.0  # range of a feature; ours, not measured
_ENOUGH_SHARE = 0.4  # a window counts from this share before the next attack; ours, not measured
_FALL_DB = 6.0  # by which a window that does not count is below the one before; ours, not measured
_CLEAR_OF_NEXT_MS = 1.0  # windows end this long before the next attack; ours, not measured
_LOUDNESS_MS = 10.0  # in which the loudness is the peak; from a trial on simulated takes
_LOUDNESS_HZ = 1_000.0  # above which; from a trial on simulated takes
_AROUND_MS = 6.0  # added at both ends for the filter to settle; ours, not measured
_TINY, _TINY_PEAK = 1e-12, 1e-6  # power and amplitude that keep logarithms finite
_CHUNK = 512  # attacks worked on together, for memory
_CUTOFF_SIZE = 1024  # samples after an attack whose spectrum tells the bandwidth; ours, not measured
_CUTOFF_ATTACKS = 400  # attacks averaged for it, at most; ours, not measured
_CUTOFF_SHARE = 1e-6  # of the greatest power, above which a frequency comes through; ours, not measured


def measure_timbres(signal: Signal, rate: float, starts: Indices, next_starts: Indices) -> Floats:
    """Return the timbre of each attack, shape (attacks, 36): levels in dB of twelve bands in three windows.

    The power that each band had just before the attack is subtracted, so that a ringing cymbal hardly counts.
    Levels are relative to the whole of the first 10 ms, so that loudness does not count; from -36 to 12. A
    window ends where the next attack starts; with little of it left, it is the window before, 6 dB down.

    Args:
        signal: mono.
        rate: samples per second.
        starts: samples at which the attacks start.
        next_starts: for each, the sample at which the next attack starts.
    """
    return np.concatenate(
        [_measure_timbres(signal, rate, starts[chunk], next_starts[chunk]) for chunk in _list_chunks(starts)]
    )


def _list_chunks(starts: Indices) -> list[slice]:
    """Return at least one part of a list of attacks."""
    return [slice(first, first + _CHUNK) for first in range(0, max(1, len(starts)), _CHUNK)]


def _measure_timbres(signal: Signal, rate: float, starts: Indices, next_starts: Indices) -> Floats:
    free_ms = (next_starts - starts) / rate * 1000 - _CLEAR_OF_NEXT_MS
    ringing = _measure_powers(signal, rate, starts, _RINGING_MS, np.full(len(starts), np.inf))
    parts: list[Floats] = []
    for first, last in WINDOWS_MS:
        powers = _measure_powers(signal, rate, starts, (first, last), free_ms)
        clean = np.maximum(powers - ringing, _LEAST_SHARE * powers)
        enough = free_ms - first >= _ENOUGH_SHARE * (last - first)
        if parts:
            clean = np.where(enough[:, None], clean, parts[-1] * 10 ** (-_FALL_DB / 10))
        parts.append(clean)
    total = parts[0].sum(axis=1, keepdims=True) + _TINY
    levels_db = 10 * np.log10(np.concatenate(parts, axis=1) / total + _TINY)
    return np.asarray(np.clip(levels_db, _LEAST_DB, _MOST_DB))


def _measure_powers(
    signal: Signal, rate: float, starts: Indices, window_ms: tuple[float, float], free_ms: Floats
) -> Floats:
    """Return the power in each band in a window after the starts, up to the next attack."""
    pieces = _cut_pieces(signal, rate, starts, window_ms)
    length = pieces.shape[1]
    ms = window_ms[0] + np.arange(length) / rate * 1000
    fade_in = np.minimum(1.0, (ms - window_ms[0] + _TAPER_START_MS) / _TAPER_MS)
    ends = np.minimum(window_ms[1], np.maximum(free_ms, window_ms[0] + 2 * _TAPER_MS))
    window = fade_in * np.clip((ends[:, None] - ms) / _TAPER_MS, 0.0, 1.0)
    size = 1 << int(np.ceil(np.log2(max(length, rate / _LOWEST_HZ))))
    spectrum = np.abs(np.fft.rfft(pieces * window, size, axis=1)) ** 2
    hertz = np.fft.rfftfreq(size, 1 / rate)
    edges = np.geomspace(_LOWEST_HZ, _HIGHEST_HZ, BANDS + 1)
    members = (hertz >= edges[:-1, None]) & (hertz < edges[1:, None])
    return np.asarray(spectrum @ members.T * (2 / size) / np.square(window).sum(axis=1)[:, None])


def _cut_pieces(signal: Signal, rate: float, starts: Indices, window_ms: tuple[float, float]) -> Floats:
    """Return the signal in a window around the starts, silence beyond its ends; shape (starts, samples)."""
    first, last = (round(ms * rate / 1000) for ms in window_ms)
    places = starts[:, None] + np.arange(first, last)
    pieces = np.asarray(signal[np.clip(places, 0, len(signal) - 1)], np.float64)
    pieces[(places < 0) | (places >= len(signal))] = 0.0
    return pieces


def measure_loudness_db(signal: Signal, rate: float, starts: Indices) -> Floats:
    """Return the loudness of each attack: the peak of its first 10 ms above 1 kHz, in dB, shape (attacks,)."""
    return np.concatenate([_measure_loudness_db(signal, rate, starts[chunk]) for chunk in _list_chunks(starts)])


def _measure_loudness_db(signal: Signal, rate: float, starts: Indices) -> Floats:
    around = (-_AROUND_MS, _LOUDNESS_MS + _AROUND_MS)
    pieces = _cut_pieces(signal, rate, starts, around)
    edge = round(_AROUND_MS / 2 * rate / 1000)
    fade = 0.5 - 0.5 * np.cos(np.pi * np.arange(edge) / edge)
    pieces[:, :edge] *= fade
    pieces[:, -edge:] *= fade[::-1]
    size = 1 << int(np.ceil(np.log2(pieces.shape[1])))
    hertz = np.fft.rfftfreq(size, 1 / rate)
    high = np.fft.irfft(np.fft.rfft(pieces, size) * (hertz**2 / (hertz**2 + _LOUDNESS_HZ**2)), size)
    first = round(_AROUND_MS * rate / 1000)
    peak = np.abs(high[:, first : first + round(_LOUDNESS_MS * rate / 1000)]).max(axis=1)
    return np.asarray(20 * np.log10(peak + _TINY_PEAK))


def estimate_cutoff_hz(signal: Signal, rate: float, starts: Indices) -> float:
    """Return the frequency above which attacks hold nothing: half the rate, or less after a phone or codec."""
    if not len(starts):
        return rate / 2
    pieces = _cut_pieces(signal, rate, starts[:_CUTOFF_ATTACKS], (0.0, _CUTOFF_SIZE / rate * 1000))
    spectrum = np.square(np.abs(np.fft.rfft(pieces * np.hanning(pieces.shape[1]), _CUTOFF_SIZE))).mean(axis=0)
    present = np.flatnonzero(spectrum > _CUTOFF_SHARE * spectrum.max())
    return float(min(rate / 2, (present[-1] + 1) * rate / _CUTOFF_SIZE))
