"""How late the attack of each sound is heard: learned from a take, and taken out of its times.

A slow attack makes a sound late by up to some milliseconds, always the same; a hand's scatter goes either way.
The median lag of one sound is believed the more, the more strokes it has against that scatter, as sounds differ
by a millisecond or two (from trials).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from fillwright.listen.alignment.moments import Moment

_SOUNDS_DIFFER_SECONDS = 0.0012
_MOST_SECONDS = 0.009
_LEAST = 4

Sound = frozenset[str]


def attack_lags(met: Sequence[tuple[Moment, float]], scatter_seconds: float) -> dict[Sound, float]:
    """By what is struck, how late its attack is heard in seconds, against the average sound.

    Args:
        met: moments, and how late each was against the fitted map.
        scatter_seconds: standard deviation of the hand.
    """
    by_sound: dict[Sound, list[float]] = {}
    for moment, late in met:
        by_sound.setdefault(moment.surfaces, []).append(late)
    made = {}
    for sound, own in by_sound.items():
        if len(own) >= _LEAST:
            doubt = (1.25 * scatter_seconds / _SOUNDS_DIFFER_SECONDS) ** 2 / len(own)
            middle = float(np.clip(np.median(own), -_MOST_SECONDS, _MOST_SECONDS))
            made[sound] = middle / (1 + doubt)
    counts = [len(by_sound[sound]) for sound in made]
    mean = float(np.average(list(made.values()), weights=counts)) if made else 0.0
    return {sound: lag - mean for sound, lag in made.items()}


def late(lags: Mapping[Sound, float], moment: Moment) -> float:
    """How late a moment's sound is heard; 0 where that was not learned."""
    return lags.get(moment.surfaces, 0.0)
