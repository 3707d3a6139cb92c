"""Breaks of the flow: time that a player adds or drops, and parts of the phrase that are not in the take.

A path through the moments follows the onsets with an offset from the fitted tempo map; it may jump where the
player waits or comes in early, at a cost. A phrase with that time written into it is fitted again, and kept if
it explains the take better.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
import numpy.typing as npt

from fillwright.listen.alignment.model import BreakKind, FlowBreak
from fillwright.listen.alignment.moments import group_moments
from fillwright.listen.alignment.repetitions import (
    AlignmentProblem,
    RepetitionFit,
    build_problem,
    find_other_surfaces,
    refine_fit,
)
from fillwright.listen.alignment.tempo_map import TempoMap, build_tempo_map
from fillwright.listen.written import WrittenPhrase

Floats = npt.NDArray[np.float64]

# Scores count moments that meet an onset. All ours, not measured.
_STEP_SECONDS = 0.01  # between offsets that are tried
_BLUR_SECONDS = 0.022  # standard deviation of an onset's bump
_EMPTY_COST = 0.35  # of a moment without an onset
_JUMP_COST = 2.2  # of a jump, in moments
_OTHER_SURFACE_SHARE = 0.6  # of an onset's count that it loses on another surface than the written one
_SLIDE_COST = 0.12  # of a step of offset from moment to moment
_MOST_BEATS = 4.5  # of an offset, either way
_CLOSEST_SECONDS = 0.03  # from one moment to the next, after a jump
_LEAST_BEATS, _LEAST_SECONDS = 0.2, 0.12  # of a jump that is a break of the flow
_MOST_BREAKS = 2  # in one repetition
_BREAK_GAIN = 8.0  # by which a fit must gain for each break, in the costs of `assign`
_OUTSIDE_GAIN = 5.0  # of a moment that is not in the take, so that it doesn't count as missing
_TIMBRE_GAIN = 0.6  # for each nat by which timbres are alike, in the costs of `assign`
_LEAST_ALIKE = 2  # strokes of one sound that are compared
_EDGE_MOMENTS = 3  # missing at an end of the phrase, from which the take doesn't have that end
_EDGE_MATCHED = 0.25  # of the moments at such an end that may meet an onset all the same
_ON_BAR_SECONDS = 0.02  # written time this near to a bar's start is that bar's start


@dataclass(frozen=True, kw_only=True, eq=False)
class FlowFit:
    """One repetition, the problem it solves, and the breaks written into its phrase.

    Attributes:
        problem: the phrase with its breaks, and the take.
        fit: of that phrase.
        breaks: of the flow, in written seconds of the phrase without them.
    """

    problem: AlignmentProblem
    fit: RepetitionFit
    breaks: tuple[FlowBreak, ...] = ()

    @cached_property
    def value(self) -> float:
        """Net gain of the fit, less the cost of its breaks, and a gain for alike timbres of one sound."""
        first, last = find_covered(self.fit)
        outside = len(self.fit.assignment.mains) - (last - first)
        breaks = len(self.breaks) + (first > 0 and not _is_on_bar(self.problem, first))
        gain = self.fit.net_gain + _OUTSIDE_GAIN * outside - _BREAK_GAIN * breaks
        return gain + _TIMBRE_GAIN * measure_likeness(self)


def measure_likeness(flow: FlowFit) -> float:
    """Return how much less the timbres of one sound differ than those of all, in nats, summed over the onsets.

    A fit that is off by half a beat meets as many onsets as the right one, but calls unlike sounds the same.
    """
    timbres = flow.problem.onsets.timbres
    if not timbres.size:
        return 0.0
    by_surfaces: dict[frozenset[str], list[int]] = {}
    for moment, onset in zip(flow.problem.moments.all, flow.fit.assignment.mains, strict=True):
        if onset >= 0 and not flow.problem.onsets.faint[onset]:
            by_surfaces.setdefault(moment.surfaces, []).append(onset)
    groups = [timbres[onsets] for onsets in by_surfaces.values() if len(onsets) >= _LEAST_ALIKE]
    if len(groups) < 2:
        return 0.0
    everything = np.concatenate(groups)
    within = sum(float(np.square(group - group.mean(axis=0)).sum()) for group in groups)
    total = float(np.square(everything - everything.mean(axis=0)).sum())
    return len(everything) * float(np.log(max(total, 1e-9) / max(within, 1e-9)))


def follow_flow(problem: AlignmentProblem, fit: RepetitionFit) -> FlowFit:
    """Return a fit with the breaks of its flow, if that explains the take better; else the fit itself."""
    plain = FlowFit(problem=problem, fit=fit)
    breaks = _find_jumps(problem, fit.tempo_map)
    if not breaks or len(breaks) > _MOST_BREAKS:
        return plain
    start, breaks = _split_start(problem, breaks)
    if not breaks:
        return plain
    pace = fit.tempo_map.calculate_pace(problem.segments.bounds[0], problem.segments.bounds[-1])
    written = insert_time(problem.moments.written, [replace(b, seconds=b.seconds / pace) for b in breaks])
    waited = replace(build_problem(group_moments(written), problem.onsets), timbre_costs=problem.timbre_costs)
    bars = len(waited.segments.bounds) - 1
    first = float(fit.tempo_map.map_to_take(np.zeros(1))[0]) + start
    guess = build_tempo_map(waited.segments, first, [pace] * bars, fit.tempo_map.deviation_seconds)
    better = FlowFit(problem=waited, fit=refine_fit(waited, replace(fit, tempo_map=guess)), breaks=breaks)
    return better if better.value > plain.value else plain


def _split_start(
    problem: AlignmentProblem, breaks: tuple[FlowBreak, ...]
) -> tuple[float, tuple[FlowBreak, ...]]:
    """Return the offset of the first moment, and the breaks after it."""
    first = problem.moments.all[0].seconds
    start = sum(flow_break.seconds for flow_break in breaks if flow_break.written_seconds <= first)
    return start, tuple(flow_break for flow_break in breaks if flow_break.written_seconds > first)


def insert_time(written: WrittenPhrase, breaks: Sequence[FlowBreak]) -> WrittenPhrase:
    """Return a phrase with time added at its breaks; the bar that begins with a break gets longer.

    Args:
        written: the phrase.
        breaks: their `seconds` in written time.
    """

    def shift(seconds: float, *, before: float = 1e-6) -> float:
        return seconds + sum(b.seconds for b in breaks if b.written_seconds - before <= seconds)

    strokes = written.strokes
    moved = [
        replace(
            stroke,
            seconds=stroke.seconds
            + shift(main := strokes[stroke.grace_of].seconds if stroke.grace_of is not None else stroke.seconds)
            - main,
        )
        for stroke in strokes
    ]
    return replace(
        written,
        strokes=tuple(moved),
        bar_starts=tuple(shift(start, before=-1e-6) for start in written.bar_starts),
        beats=tuple(shift(beat, before=-1e-6) for beat in written.beats),
    )


def _find_jumps(problem: AlignmentProblem, tempo_map: TempoMap) -> tuple[FlowBreak, ...]:
    """Return the jumps of the best path, in seconds of the take; an offset of the start is one at -1."""
    seconds = problem.moments.seconds
    expected = tempo_map.map_to_take(seconds)
    beat = 60 / problem.moments.written.tempo
    offsets = np.arange(-_MOST_BEATS * beat, _MOST_BEATS * beat, _STEP_SECONDS)
    path = offsets[_follow_path(_score_offsets(problem, expected, offsets), np.diff(expected))]
    least = max(_LEAST_SECONDS, _LEAST_BEATS * beat)
    breaks = []
    if abs(path[0]) > least:
        breaks.append(FlowBreak(kind=BreakKind.WAITED, written_seconds=-1.0, seconds=float(path[0])))
    for place, jump in zip(seconds[1:], np.diff(path), strict=True):
        if abs(jump) > least:
            kind = BreakKind.WAITED if jump > 0 else BreakKind.CAME_EARLY
            breaks.append(FlowBreak(kind=kind, written_seconds=float(place), seconds=float(jump)))
    return tuple(breaks)


def _score_offsets(problem: AlignmentProblem, expected: Floats, offsets: Floats) -> Floats:
    """Return how well each moment at each offset meets an onset, shape (moments, offsets)."""
    onsets = problem.onsets
    sure = ~onsets.faint & ~onsets.doubtful
    times, weight = onsets.seconds[sure], onsets.confidence[sure]
    places = expected[:, None] + offsets[None, :]
    if not len(times):
        return np.full(places.shape, -_EMPTY_COST)
    after = (
        np.clip(np.searchsorted(times, places), 1, len(times) - 1)
        if len(times) > 1
        else np.zeros_like(places, int)
    )
    near = np.where(np.abs(times[after - 1] - places) < np.abs(times[after] - places), after - 1, after)
    bump = weight[near] * np.exp(-0.5 * np.square((times[near] - places) / _BLUR_SECONDS))
    if any(onsets.surfaces):
        other = find_other_surfaces(problem.moments, onsets)[:, sure]
        bump *= 1 - _OTHER_SURFACE_SHARE * np.take_along_axis(other, near, axis=1)
    return np.asarray(bump - _EMPTY_COST)


def _follow_path(scores: Floats, gaps: Floats) -> npt.NDArray[np.intp]:
    """Return the best path of offsets: it slides a little from moment to moment, or jumps."""
    size = scores.shape[1]
    every = np.arange(size)
    middle = size // 2
    total = scores[0] - np.where(np.abs(every - middle) > 3, _JUMP_COST, 0.0)
    origins = []
    for score, gap in zip(scores[1:], gaps, strict=True):
        best, origin = total.copy(), every.copy()
        for slide in (-2, -1, 1, 2):
            moved = np.full(size, -np.inf)
            if slide > 0:
                moved[slide:] = total[:-slide]
            else:
                moved[:slide] = total[-slide:]
            moved -= _SLIDE_COST * abs(slide)
            origin = np.where(moved > best, every - slide, origin)
            best = np.maximum(best, moved)
        earlier = np.maximum.accumulate(total)
        where = np.maximum.accumulate(np.where(total >= earlier, every, 0))
        reach = np.clip(every + int((gap - _CLOSEST_SECONDS) / _STEP_SECONDS), 0, size - 1)
        jumped = earlier[reach] - _JUMP_COST
        origin = np.where(jumped > best, where[reach], origin)
        total = np.maximum(best, jumped) + score
        origins.append(origin)
    path = [int(np.argmax(total))]
    for origin in reversed(origins):
        path.append(int(origin[path[-1]]))
    return np.array(path[::-1])


def find_covered(fit: RepetitionFit) -> tuple[int, int]:
    """Return the range of moments that are in the take: without an end of which next to nothing was played."""
    matched = np.array([onset >= 0 for onset in fit.assignment.mains])
    return _find_edge(matched), len(matched) - _find_edge(matched[::-1])


def _find_edge(matched: npt.NDArray[np.bool_]) -> int:
    """Return the number of moments at the start that are missing; a few may meet an onset by chance."""
    count = np.arange(1, len(matched) + 1)
    absent = np.cumsum(~matched) * 1.0
    gain = absent * _EDGE_MATCHED - np.cumsum(matched) * (1 - _EDGE_MATCHED)
    best = int(np.argmax(gain))
    if gain[best] <= 0 or count[best] < _EDGE_MOMENTS or not (~matched[: best + 1]).sum() >= _EDGE_MOMENTS:
        return 0
    return best + 1


def list_end_breaks(problem: AlignmentProblem, fit: RepetitionFit) -> tuple[FlowBreak, ...]:
    """Return the breaks at the ends of a repetition: bars left out, joined late, stopped early."""
    moments = problem.moments
    first, last = find_covered(fit)
    breaks = []
    fill = [number for number, moment in enumerate(moments.all) if moment.in_fill]
    if 0 < first < len(moments.all) and (not fill or first <= fill[0]):
        kind = BreakKind.LEFT_OUT if _is_on_bar(problem, first) else BreakKind.JOINED_LATE
        breaks.append(FlowBreak(kind=kind, written_seconds=float(moments.all[first].seconds)))
    if last < len(moments.all) and not _has_onsets_after(problem, fit, last):
        breaks.append(FlowBreak(kind=BreakKind.STOPPED_EARLY, written_seconds=float(moments.all[last].seconds)))
    return tuple(breaks)


def _is_on_bar(problem: AlignmentProblem, moment_index: int) -> bool:
    """Return True if a moment is the first of its bar."""
    seconds = problem.moments.all[moment_index].seconds
    return any(abs(seconds - start) < _ON_BAR_SECONDS for start in problem.moments.written.bar_starts)


def _has_onsets_after(problem: AlignmentProblem, fit: RepetitionFit, last: int) -> bool:
    """Return True if the player went on where the fit ends: then strokes are missing, but no one stopped."""
    onsets = problem.onsets
    end = fit.tempo_map.map_to_take(np.array([problem.moments.all[last].seconds]))[0]
    beat = 60 / problem.moments.written.tempo
    sure = ~onsets.faint & ~onsets.doubtful
    after = sure & (onsets.seconds > end - _BLUR_SECONDS) & (onsets.seconds < end + 2 * beat)
    return int(after.sum()) >= 2
