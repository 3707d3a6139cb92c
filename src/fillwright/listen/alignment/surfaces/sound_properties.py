"""Attack latency and loudness of each sound, learned from the take.

A slow attack makes a sound late by up to some milliseconds, always the same; a player's deviation goes either
way. The median lag of one sound is trusted more, the more strokes it has against that deviation, as sounds
differ by a millisecond or two (from a trial on simulated takes).

The loudness of strokes at one moment is that of the loudest of them; the others' can't be measured.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping, Sequence
from functools import cache
from importlib.resources import files

import numpy as np

from fillwright.listen.alignment.moments import Moment
from fillwright.listen.written import WrittenPhrase
from fillwright.music.stroke import Level

Sound = frozenset[str]
"""Drums and cymbals struck at one moment."""

_LATENCIES_DIFFER_SECONDS = 0.0012  # standard deviation of latencies between sounds; ours, not measured
_MOST_LATENCY_SECONDS = 0.009  # the slowest attack measured in a trial on simulated takes
_LEAST_STROKES = 4  # of a sound, for its latency; ours, not measured
_MEDIAN_ERROR = 1.25  # standard error of a median against that of a mean, for a normal distribution
_LEAST_TAPS = 2  # of a surface, for its usual tap; ours, not measured
_CLEAR_DB = 4.0  # by which a surface must be the loudest of a moment; ours, not measured


def estimate_latencies(lags: Sequence[tuple[Moment, float]], deviation_seconds: float) -> dict[Sound, float]:
    """Return the attack latency of each sound in seconds, against the average sound.

    Args:
        lags: moments, and how late each was against the fitted tempo map, in seconds.
        deviation_seconds: standard deviation of the player.
    """
    by_sound: dict[Sound, list[float]] = {}
    for moment, lag in lags:
        by_sound.setdefault(moment.surfaces, []).append(lag)
    latencies = {}
    for sound, sound_lags in by_sound.items():
        if len(sound_lags) >= _LEAST_STROKES:
            doubt = (_MEDIAN_ERROR * deviation_seconds / _LATENCIES_DIFFER_SECONDS) ** 2 / len(sound_lags)
            median = float(np.clip(np.median(sound_lags), -_MOST_LATENCY_SECONDS, _MOST_LATENCY_SECONDS))
            latencies[sound] = median / (1 + doubt)
    counts = [len(by_sound[sound]) for sound in latencies]
    mean = float(np.average(list(latencies.values()), weights=counts)) if latencies else 0.0
    return {sound: latency - mean for sound, latency in latencies.items()}


def get_latency(latencies: Mapping[Sound, float], moment: Moment) -> float:
    """Return the attack latency of a moment's sound in seconds; 0 if it was not learned."""
    return latencies.get(moment.surfaces, 0.0)


@cache
def load_surface_loudness() -> dict[str, dict[str, float]]:
    """Read how loud surfaces come through before the take says, from `surface_loudness.toml`."""
    table: dict[str, dict[str, float]] = tomllib.loads(
        files(__package__).joinpath("surface_loudness.toml").read_text("utf-8")
    )
    return table


def estimate_surface_loudness(loudness: Sequence[tuple[Moment, float]]) -> dict[str, float]:
    """Return by surface how loud it comes through in this take, from moments where it is alone.

    Args:
        loudness: moments, and the loudness of their onsets in dB.
    """
    usual = load_surface_loudness()["decibels"]
    alone: dict[str, list[float]] = {}
    for moment, onset_db in loudness:
        if len(moment.surfaces) == 1:
            alone.setdefault(next(iter(moment.surfaces)), []).append(onset_db)
    measured = {name: float(np.median(levels)) for name, levels in alone.items()}
    differences = [measured[name] - usual.get(name, 0.0) for name in measured]
    middle = float(np.median(differences)) if measured else 0.0
    names = {name for moment, _ in loudness for name in moment.surfaces}
    return {name: measured.get(name, middle + usual.get(name, 0.0)) for name in names}


def find_loudest(moment: Moment, written: WrittenPhrase, surface_loudness: Mapping[str, float]) -> int | None:
    """Return the written stroke whose loudness a moment's onset has; None if another surface's is near."""
    loudest = max(moment.mains, key=lambda index: surface_loudness.get(written.strokes[index].surface, 0.0))
    surface = written.strokes[loudest].surface
    limit = surface_loudness.get(surface, 0.0) - _CLEAR_DB
    near = any(surface_loudness.get(name, 0.0) > limit for name in moment.surfaces - {surface})
    return None if near else loudest


def estimate_tap_loudness(
    written: WrittenPhrase, loudness: Sequence[tuple[Moment, float]], surface_loudness: Mapping[str, float]
) -> dict[str, float]:
    """Return by surface the median loudness of its taps in dB; only for surfaces with some."""
    taps: dict[str, list[float]] = {}
    for moment, onset_db in loudness:
        loudest = find_loudest(moment, written, surface_loudness)
        if loudest is not None and written.strokes[loudest].level is Level.TAP:
            taps.setdefault(written.strokes[loudest].surface, []).append(onset_db)
    return {name: float(np.median(levels)) for name, levels in taps.items() if len(levels) >= _LEAST_TAPS}
