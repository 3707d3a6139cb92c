"""Extra strokes: onsets in a repetition that belong to no written stroke."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np
import numpy.typing as npt

from fillwright.listen.alignment.model import Repetition
from fillwright.listen.alignment.repetitions import AlignmentProblem

_BEFORE_SECONDS = 0.06  # before a repetition's first moment, still in it; ours, not measured
_AFTER_BEATS = 0.5  # after its last moment, still in it; ours, not measured
_LEAST_CONFIDENCE = 0.5  # of an extra stroke; ours, not measured
_SAME_STROKE_SECONDS = 0.03  # an onset nearer than this to a written stroke may be part of it; ours
_FLAT_FLAM_SECONDS = 0.005  # on an electronic kit's pad, a grace note so near is a flat flam's; ours
_BUZZ_TAIL_SECONDS = 0.06  # soft bounces of a buzz after the next moment has begun; ours, not measured
_SOFTER_DB = 6.0  # than the median onset: a soft bounce; ours, not measured


def find_extras(
    problem: AlignmentProblem, repetitions: Sequence[Repetition], used: frozenset[int]
) -> tuple[int, ...]:
    """Return the indices in `DetectedTake.onsets` of extra strokes.

    Args:
        problem: the phrase and the take.
        repetitions: all of the take.
        used: numbers of the onsets that belong to written strokes.
    """
    onsets = problem.onsets
    assigned = np.array(sorted(used), dtype=np.intp)
    extra = []
    for low, high in _list_spans(problem, repetitions):
        for number in range(*np.searchsorted(onsets.seconds, [low, high])):
            likely = onsets.confidence[number] >= _LEAST_CONFIDENCE
            sure = likely and not onsets.faint[number] and not onsets.doubtful[number]
            if number not in used and sure and not _may_be_written(problem, number, assigned):
                extra.append(int(onsets.index[number]))
    bounces = {number for repetition in repetitions for number in _find_bounces(problem, repetition)}
    return tuple(number for number in dict.fromkeys(extra) if number not in bounces)


def _list_spans(problem: AlignmentProblem, repetitions: Sequence[Repetition]) -> Iterator[tuple[float, float]]:
    """Yield the span of each repetition: from its first moment to a little after its last."""
    first, last = problem.moments.all[0].mains[0], problem.moments.all[-1].mains[0]
    for repetition in repetitions:
        beat = 60 / repetition.groove_tempo
        low = repetition.strokes[first].expected_seconds - _BEFORE_SECONDS
        yield low, repetition.strokes[last].expected_seconds + _AFTER_BEATS * beat


def _may_be_written(problem: AlignmentProblem, number: int, assigned: npt.NDArray[np.intp]) -> bool:
    """Return True if an onset is so near to a written stroke's that it may be part of that stroke."""
    onsets = problem.onsets
    if not len(assigned):
        return False
    away = onsets.seconds[number] - onsets.seconds[assigned]
    if onsets.take.from_midi:
        same = np.array([onsets.surfaces[other] == onsets.surfaces[number] for other in assigned])
        return bool(np.any(same & (np.abs(away) < _FLAT_FLAM_SECONDS)))
    near = (away > -_SAME_STROKE_SECONDS) & (away < _SAME_STROKE_SECONDS)
    return bool(np.any(near))


def _find_bounces(problem: AlignmentProblem, repetition: Repetition) -> Iterator[int]:
    """Yield the onsets of a buzz's bounces: up to the next moment, and soft ones while that begins."""
    onsets = problem.onsets
    expected = np.array(
        [repetition.strokes[moment.mains[0]].expected_seconds for moment in problem.moments.all]
    )
    soft = onsets.loudness_db < float(np.median(onsets.loudness_db)) - _SOFTER_DB
    for low, high in problem.moments.find_bounce_spans(expected):
        ends = np.where(soft, high + _BUZZ_TAIL_SECONDS, high)
        inside = (onsets.seconds > low) & (onsets.seconds < ends)
        yield from (int(onsets.index[number]) for number in np.flatnonzero(inside))
