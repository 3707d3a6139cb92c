"""Onsets inside a time through the phrase that belong to no written stroke."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np
import numpy.typing as npt

from fillwright.listen.alignment.model import Repetition
from fillwright.listen.alignment.repetitions import Ground

_BEFORE_SECONDS = 0.06
_AFTER_BEATS = 0.5
_LEAST_TRUST = 0.5
_ECHO_SECONDS = 0.03
_STILL_SECONDS, _SOFTER_DB = 0.06, 6.0


def extras(base: Ground, passes: Sequence[Repetition], used: frozenset[int]) -> tuple[int, ...]:
    """Indices among `Heard.onsets` of strokes that nobody wrote.

    Args:
        base: the phrase and the onsets.
        passes: every time through.
        used: numbers of the onsets that belong to written strokes.
    """
    ears = base.ears
    taken = np.array(sorted(used), dtype=np.intp)
    made = []
    for low, high in _spans(base, passes):
        for number in range(*np.searchsorted(ears.seconds, [low, high])):
            sure = ears.confidence[number] >= _LEAST_TRUST and not ears.faint[number] and not ears.doubtful[number]
            if number not in used and sure and not _echo(base, number, taken):
                made.append(int(ears.index[number]))
    buzzed = {number for one in passes for number in _bounces(base, one)}
    return tuple(number for number in dict.fromkeys(made) if number not in buzzed)


def _spans(base: Ground, passes: Sequence[Repetition]) -> Iterator[tuple[float, float]]:
    """Where each time through sounds: from its first moment to a little behind its last."""
    first, last = base.plan.all[0].mains[0], base.plan.all[-1].mains[0]
    for one in passes:
        beat = 60 / one.groove_tempo
        low = one.strokes[first].expected_seconds - _BEFORE_SECONDS
        yield low, one.strokes[last].expected_seconds + _AFTER_BEATS * beat


def _echo(base: Ground, number: int, taken: npt.NDArray[np.intp]) -> bool:
    """Whether it is so near to a written stroke, or so much softer, that it may be that stroke heard again."""
    ears = base.ears
    if ears.heard.from_midi or not len(taken):
        return False
    away = ears.seconds[number] - ears.seconds[taken]
    near = (away > -_ECHO_SECONDS) & (away < _ECHO_SECONDS)
    return bool(np.any(near))


def _bounces(base: Ground, one: Repetition) -> Iterator[int]:
    """Onsets behind a buzz, up to the next moment: its own bounces, and softer ones while that begins."""
    ears = base.ears
    places = np.array([one.strokes[moment.mains[0]].expected_seconds for moment in base.plan.all])
    soft = ears.loudness_db < float(np.median(ears.loudness_db)) - _SOFTER_DB
    for low, high in base.plan.bouncing(places):
        ends = np.where(soft, high + _STILL_SECONDS, high)
        inside = (ears.seconds > low) & (ears.seconds < ends)
        yield from (int(ears.index[number]) for number in np.flatnonzero(inside))
