"""A player's looseness: small deviations of time and level, the same for the same seed.

Hands that play together drift together, and each limb adds its own. The sizes are those of a good player with a
click (common practice, no source): about 5 ms and 1 dB, seldom twice that.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise

import numpy as np

from fillwright.music.timing import TimedHit

MOST_SECONDS = 0.012
"""No stroke is further off than this."""

MOST_DB = 2.5

_TOGETHER_SECONDS, _LIMB_SECONDS = 0.003, 0.004
_LEVEL_DB = 1.0
_OF_GAP = 0.2
"""Of the time to the nearest other stroke, so that none overtakes it."""


def loosen(timed: Sequence[TimedHit], *seed: int) -> tuple[tuple[TimedHit, ...], tuple[float, ...]]:
    """A timeline as a good player plays it.

    Args:
        timed: from `music.timing.timeline`.
        seed: numbers from 0 that the deviations depend on.

    Returns:
        The same hits where they are really played, grace notes moved along with their stroke; and for each a
        factor to its amplitude.
    """
    chance = np.random.default_rng(seed)
    most = _room(timed)
    moved, gains = [], []
    together, place = 0.0, None
    for one in timed:
        if one.hit.at != place:
            place, together = one.hit.at, float(chance.normal(0.0, _TOGETHER_SECONDS))
        shift = together + float(chance.normal(0.0, _LIMB_SECONDS))
        shift = min(max(shift, -most[one.onset_seconds]), most[one.onset_seconds])
        level_db = min(max(float(chance.normal(0.0, _LEVEL_DB)), -MOST_DB), MOST_DB)
        moved.append(
            replace(
                one,
                onset_seconds=one.onset_seconds + shift,
                grace_seconds=tuple(grace + shift for grace in one.grace_seconds),
            )
        )
        gains.append(10 ** (level_db / 20))
    return tuple(moved), tuple(gains)


def _room(timed: Sequence[TimedHit]) -> dict[float, float]:
    """How far the strokes at each onset may move."""
    onsets = sorted({one.onset_seconds for one in timed})
    room = dict.fromkeys(onsets, MOST_SECONDS)
    for one, following in pairwise(onsets):
        most = _OF_GAP * (following - one)
        room[one] = min(room[one], most)
        room[following] = min(room[following], most)
    return room
