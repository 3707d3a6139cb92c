"""A player's looseness: small deviations of time and level, the same for the same seed.

Strokes at the same time share a deviation, and each limb adds one of its own. The sizes are those of a good
player with a click (common practice, no source): about 5 ms and 1 dB, seldom twice that.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise

import numpy as np

from fillwright.music.timing import TimedHit

MOST_SECONDS = 0.012
"""Largest deviation of a stroke, in seconds; ours, not measured."""

MOST_DB = 2.5
"""Largest deviation of a stroke's level, in dB; ours, not measured."""

_SHARED_SECONDS, _LIMB_SECONDS = 0.003, 0.004  # standard deviations, together 5 ms; common practice, no source
_LEVEL_DB = 1.0  # standard deviation; common practice, no source
_OF_GAP = (
    0.2  # part of the gap to the nearest other stroke that a stroke may move: none overtakes another; ours
)


def loosen(timed: Sequence[TimedHit], *seed: int) -> tuple[tuple[TimedHit, ...], tuple[float, ...]]:
    """Return a timeline as a good player plays it.

    Args:
        timed: timeline of a phrase, from `music.timing`.
        seed: numbers from 0 that the deviations depend on.

    Returns:
        The same strokes at the times when they are played, grace notes moved with their stroke; and for each
        stroke a factor to its amplitude.
    """
    rng = np.random.default_rng(seed)
    limits = _find_limits(timed)
    moved, gains = [], []
    shared, previous_at = 0.0, None
    for stroke in timed:
        if stroke.hit.at != previous_at:
            previous_at, shared = stroke.hit.at, float(rng.normal(0.0, _SHARED_SECONDS))
        shift = shared + float(rng.normal(0.0, _LIMB_SECONDS))
        shift = min(max(shift, -limits[stroke.onset_seconds]), limits[stroke.onset_seconds])
        level_db = min(max(float(rng.normal(0.0, _LEVEL_DB)), -MOST_DB), MOST_DB)
        moved.append(
            replace(
                stroke,
                onset_seconds=stroke.onset_seconds + shift,
                grace_seconds=tuple(grace + shift for grace in stroke.grace_seconds),
            )
        )
        gains.append(10 ** (level_db / 20))
    return tuple(moved), tuple(gains)


def _find_limits(timed: Sequence[TimedHit]) -> dict[float, float]:
    """Return the largest deviation of the strokes at each onset, in seconds."""
    onsets = sorted({stroke.onset_seconds for stroke in timed})
    limits = dict.fromkeys(onsets, MOST_SECONDS)
    for onset, following in pairwise(onsets):
        limit = _OF_GAP * (following - onset)
        limits[onset] = min(limits[onset], limit)
        limits[following] = min(limits[following], limit)
    return limits
