"""Whether a take ends before the fill: the groove alone explains it better than the whole phrase does."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from fillwright.listen.alignment.moments import moments
from fillwright.listen.alignment.repetitions import Ground, Laid, found, ground, refined

_WHOLE = 0.9
_GROOVE, _CLEAN = 0.9, 0.95
_COUNTED_BEATS = 0.75
_BEHIND_SHARE = 0.25
_SLACK_SECONDS = 0.06
_LEAST_MOMENTS = 8


def ends_before_fill(base: Ground, kept: Sequence[Laid]) -> bool:
    """Whether all of the groove was played and next to nothing behind it.

    Args:
        base: the phrase and the onsets.
        kept: the times through that were accepted; where one is nearly whole, nothing else is tried.
    """
    plan = base.plan
    if any(one.matched >= _WHOLE * len(plan.all) for one in kept):
        return False
    fill = [one for one in plan.all if one.in_fill]
    before = [one for one in plan.all if fill and one.seconds < fill[0].seconds]
    if len(before) < _LEAST_MOMENTS:
        return False
    groove = _groove_ground(base, before[-1].bar, fill[0].seconds)
    tried = [refined(groove, one) for one in found(groove)]
    return any(_is_all(groove, one, fill[0].seconds, len(fill)) for one in tried)


def _groove_ground(base: Ground, last_bar: int, fill_seconds: float) -> Ground:
    """The same take against the groove before the fill alone."""
    expected = base.plan.expected
    first = next(number for number, one in enumerate(expected.strokes) if one.in_fill)
    strokes = tuple(one for one in expected.strokes[:first] if one.grace_of is None or one.grace_of < first)
    cut = replace(
        expected,
        strokes=strokes,
        bar_starts=expected.bar_starts[: last_bar + 2],
        beats=tuple(beat for beat in expected.beats if beat < fill_seconds),
    )
    return ground(moments(cut), base.ears)


def _is_all(groove: Ground, one: Laid, fill_seconds: float, fill_moments: int) -> bool:
    """Whether a groove is whole and clean, and the take is over with it."""
    if one.matched < _GROOVE * len(groove.plan.all):
        return False
    ears = groove.ears
    start, end = one.map.groove(np.array([groove.plan.at[0], fill_seconds]))
    sure = ~ears.faint & ~ears.doubtful & (ears.confidence >= 0.5)
    inside = sure & (ears.seconds > start - _SLACK_SECONDS) & (ears.seconds < end - _SLACK_SECONDS)
    behind = sure & (ears.seconds >= end - _SLACK_SECONDS)
    beat = 60 / groove.plan.expected.tempo * one.map.pace(groove.layout.bounds[0], groove.layout.bounds[-1])
    ahead = ears.seconds[sure & (ears.seconds <= start - _SLACK_SECONDS) & (ears.seconds > start - 4 * beat)]
    if np.any(np.diff(ahead) < _COUNTED_BEATS * beat):  # no count-in: the groove began before
        return False
    clean = one.matched >= _CLEAN * np.count_nonzero(inside)
    return bool(clean and np.count_nonzero(behind) <= _BEHIND_SHARE * fill_moments)
