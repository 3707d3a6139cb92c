"""Acceptance of a take and of its fits: enough of the phrase, and enough of the take, must be explained.

A take that ends before the fill is one that the groove alone explains better than the whole phrase does.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from fillwright.listen.alignment.flow import FlowFit, find_covered
from fillwright.listen.alignment.model import Alignment, AlignmentRefusal
from fillwright.listen.alignment.moments import group_moments
from fillwright.listen.alignment.repetitions import (
    FASTEST,
    SLOWEST,
    AlignmentProblem,
    RepetitionFit,
    build_problem,
    estimate_tempo,
    find_repetitions,
    refine_fit,
)
from fillwright.listen.detected_take import DetectedTake
from fillwright.listen.written import WrittenPhrase

# All ours, not measured, unless a line says otherwise.
_LEAST_ONSETS_SHARE = 0.35  # of the phrase's moments: a take with fewer onsets is too short
_LEAST_LENGTH_SHARE = 0.5  # of the phrase's length: a shorter take is too short
_SILENT_DB = -70.0  # of full scale: a take whose loudest strokes are below is silent
_SILENT_ABOVE_NOISE_DB = 3.0  # and one whose loudest strokes are less above its noise
_NOISY_ABOVE_NOISE_DB = 15.0  # a refused take whose loudest strokes are less above its noise is too noisy
_FULL_SHARE, _FULL_CLEAN = 0.8, 0.65  # of moments played, from a trial; and of the onsets meanwhile explained
_PART_SHARE, _PART_CLEAN = 0.6, 0.8  # or fewer moments, and more of the onsets explained
_FILL_MOMENTS, _FILL_SHARE = 4, 0.55  # a fill of so many moments must be played to this share
_FLOW_SHARE, _FLOW_CLEAN = 0.9, 0.88  # of moments played, and of onsets explained, with breaks in the flow
_COVERED_SHARE, _COVERED_FILL_SHARE = 0.4, 0.3  # of the phrase, and of its fill, that a take must have
_COVERED_MATCHED = 0.85  # of the moments in the take that must be played, where it lacks an end
_AS_FULL_SHARE = 0.8  # of the fullest repetition's moments: one with fewer is a false start
_WIDEST_SLOW, _WIDEST_FAST = 0.45, 2.2  # paces that are tried to find another tempo
_NEAR_END = 1.05  # factor on the pace within which it is at an end of the range
_SURELY_FULL = 0.93  # of the moments matched, from which no other tempo is tried
_BETTER_FACTOR = 1.15  # on the gain, by which another tempo must be better
_OTHER_TEMPO_CLEAN = 0.8  # of the onsets explained, at another tempo
_EDGE_SECONDS = 0.05  # around a repetition, still in it
_BUZZ_EDGE_SECONDS = 0.01  # after a buzz, before its bounces count
_WHOLE_SHARE = 0.9  # of the phrase's moments, from which a repetition is whole
_GROOVE_SHARE = 0.9  # of the groove's moments that must be played
_CLEAN_SHARE = 0.95  # of the onsets meanwhile that must belong to them
_COUNT_IN_BEATS = 0.75  # shortest time between two strokes of a count-in
_COUNT_IN_SPAN_BEATS = 4  # before the groove, in which a count-in is looked for
_AFTER_SHARE = 0.25  # of the fill's moments that may follow the groove, in onsets
_SLACK_SECONDS = 0.06  # around the groove's start and end
_LEAST_MOMENTS = 8  # of a groove
_LEAST_CONFIDENCE = 0.5  # of an onset that counts


def check_take(written: WrittenPhrase, take: DetectedTake, moments: int) -> AlignmentRefusal | None:
    """Return the reason if a take can't be aligned at all, else None.

    Args:
        written: the phrase.
        take: its onsets.
        moments: number of the phrase's moments.
    """
    above_noise = take.loudest_db - take.noise_db
    silent = not take.from_midi and (take.loudest_db < _SILENT_DB or above_noise < _SILENT_ABOVE_NOISE_DB)
    if not take.onsets or silent:
        return AlignmentRefusal.SILENCE
    length = written.bar_starts[-1]
    if take.seconds < _LEAST_LENGTH_SHARE * length or len(take.onsets) < _LEAST_ONSETS_SHARE * moments:
        return AlignmentRefusal.TOO_SHORT
    return None


def accept_fit(problem: AlignmentProblem, fit: RepetitionFit, least_clean: float = _FULL_CLEAN) -> bool:
    """Return True if a repetition explains enough of the phrase and of the onsets meanwhile."""
    moments = problem.moments.all
    pairs = zip(moments, fit.assignment.mains, strict=True)
    in_fill = [onset >= 0 for moment, onset in pairs if moment.in_fill]
    if len(in_fill) >= _FILL_MOMENTS and sum(in_fill) < _FILL_SHARE * len(in_fill):
        return False
    full, clean = fit.matched_count / len(moments), _measure_explained(problem, fit)
    return (full >= _FULL_SHARE and clean >= least_clean) or (full >= _PART_SHARE and clean >= _PART_CLEAN)


def accept_flow(flow: FlowFit) -> bool:
    """Return True if a repetition with breaks explains nearly all of the phrase and of the onsets meanwhile."""
    matched = flow.fit.matched_count / len(flow.problem.moments.all)
    clean = _measure_explained(flow.problem, flow.fit)
    return matched >= _FLOW_SHARE and clean >= _FLOW_CLEAN and accept_fit(flow.problem, flow.fit)


def accept_covered(problem: AlignmentProblem, fit: RepetitionFit) -> bool:
    """Return True if a repetition that lacks an end explains enough of the rest, and of the fill."""
    first, last = find_covered(fit)
    mains = fit.assignment.mains
    if last - first < max(_LEAST_MOMENTS, _COVERED_SHARE * len(mains)):
        return False
    matched = sum(onset >= 0 for onset in mains[first:last])
    moments = problem.moments.all
    fill = [number for number, moment in enumerate(moments) if moment.in_fill]
    inside = [mains[number] >= 0 for number in fill if first <= number < last]
    whole = first == 0 and last == len(mains)
    if whole or (fill and len(inside) < max(2, _COVERED_FILL_SHARE * len(fill))):
        return False
    if sum(inside) < _COVERED_MATCHED * len(inside):
        return False
    clean = _measure_explained(problem, fit, (first, last))
    return matched >= _COVERED_MATCHED * (last - first) and clean >= _PART_CLEAN


def _measure_explained(
    problem: AlignmentProblem, fit: RepetitionFit, covered: tuple[int, int] | None = None
) -> float:
    """Return the share of the onsets during a repetition that belong to it, weighted by confidence."""
    moments, onsets = problem.moments, problem.onsets
    expected = fit.tempo_map.map_to_take(moments.seconds)
    seconds = onsets.seconds
    first, last = covered or (0, len(expected))
    inside = (seconds > expected[first] - _EDGE_SECONDS) & (seconds < expected[last - 1] + _EDGE_SECONDS)
    inside &= ~onsets.faint & ~onsets.doubtful
    for low, high in moments.find_bounce_spans(expected):
        inside &= (seconds < low + _BUZZ_EDGE_SECONDS) | (seconds > high)
    graces = (onset for moment_graces in fit.assignment.graces for onset in moment_graces)
    assigned = {*fit.assignment.mains, *graces} - {-1}
    detected = float(onsets.confidence[inside].sum())
    explained = sum(float(onsets.confidence[onset]) for onset in assigned if inside[onset])
    share = explained / detected if detected else 0.0
    if onsets.take.from_midi:  # an onset for each stroke, but only one of a moment is assigned
        share *= len(moments.written.strokes) / (len(moments.all) + sum(map(len, moments.grace_leads)))
    return share


def select_full(fits: Sequence[RepetitionFit]) -> list[RepetitionFit]:
    """Return the repetitions that are nearly as full as the fullest; a false start is not one."""
    fullest = max((fit.matched_count for fit in fits), default=0)
    return [fit for fit in fits if fit.matched_count >= _AS_FULL_SHARE * fullest]


def may_be_other_tempo(problem: AlignmentProblem, accepted: Sequence[RepetitionFit]) -> bool:
    """Return True if the accepted repetitions are none, incomplete, or at an end of the range of tempos."""
    bounds = problem.segments.bounds
    for fit in accepted:
        pace = fit.tempo_map.calculate_pace(bounds[0], bounds[-1])
        near_end = pace < SLOWEST * _NEAR_END or pace > FASTEST / _NEAR_END
        if near_end or fit.matched_count < _SURELY_FULL * len(problem.moments.all):
            return True
    return not accepted


def find_refusal(problem: AlignmentProblem, fits: Sequence[RepetitionFit]) -> Alignment:
    """Return a refused alignment with the reason: another tempo, noise, or another phrase.

    Another tempo is the reason only if it explains the take better than all that fits near the intended one.

    Args:
        problem: the phrase and the take.
        fits: repetitions near the intended tempo.
    """
    here = sum(max(0.0, fit.net_gain) for fit in fits)
    written, take = problem.moments.written, problem.onsets.take
    for slowest, fastest in ((_WIDEST_SLOW, SLOWEST), (FASTEST, _WIDEST_FAST)):
        fits_elsewhere = [refine_fit(problem, fit) for fit in find_repetitions(problem, slowest, fastest)]
        accepted = [fit for fit in fits_elsewhere if accept_fit(problem, fit, _OTHER_TEMPO_CLEAN)]
        if accepted and sum(fit.net_gain for fit in accepted) > _BETTER_FACTOR * here:
            return Alignment(
                repetitions=(),
                refused=AlignmentRefusal.OTHER_TEMPO,
                tempo_found=estimate_tempo(problem, accepted),
            )
    noisy = not take.from_midi and take.loudest_db - take.noise_db < _NOISY_ABOVE_NOISE_DB
    best = max(fits, key=lambda fit: fit.net_gain, default=None)
    return Alignment(
        repetitions=(),
        refused=AlignmentRefusal.TOO_NOISY if noisy else AlignmentRefusal.OTHER_PHRASE,
        tempo_found=estimate_tempo(problem, [best]) if best else written.tempo,
        share_matched=best.matched_count / len(problem.moments.all) if best else 0.0,
    )


def ends_before_fill(problem: AlignmentProblem, accepted: Sequence[RepetitionFit]) -> bool:
    """Return True if all of the groove was played and next to nothing after it.

    Args:
        problem: the phrase and the take.
        accepted: the accepted repetitions; if one is nearly whole, nothing else is tried.
    """
    moments = problem.moments
    if any(fit.matched_count >= _WHOLE_SHARE * len(moments.all) for fit in accepted):
        return False
    fill = [moment for moment in moments.all if moment.in_fill]
    before = [moment for moment in moments.all if fill and moment.seconds < fill[0].seconds]
    if len(before) < _LEAST_MOMENTS:
        return False
    groove = _build_groove_problem(problem, before[-1].bar, fill[0].seconds)
    fits = [refine_fit(groove, fit) for fit in find_repetitions(groove)]
    return any(_is_whole_take(groove, fit, fill[0].seconds, len(fill)) for fit in fits)


def _build_groove_problem(problem: AlignmentProblem, last_bar: int, fill_seconds: float) -> AlignmentProblem:
    """Build the problem of aligning the same take with the groove before the fill."""
    written = problem.moments.written
    first = next(number for number, stroke in enumerate(written.strokes) if stroke.in_fill)
    strokes = tuple(
        stroke for stroke in written.strokes[:first] if stroke.grace_of is None or stroke.grace_of < first
    )
    groove = replace(
        written,
        strokes=strokes,
        bar_starts=written.bar_starts[: last_bar + 2],
        beats=tuple(beat for beat in written.beats if beat < fill_seconds),
    )
    return build_problem(group_moments(groove), problem.onsets)


def _is_whole_take(
    groove: AlignmentProblem, fit: RepetitionFit, fill_seconds: float, fill_moments: int
) -> bool:
    """Return True if a groove is whole and clean, and the take ends with it."""
    if fit.matched_count < _GROOVE_SHARE * len(groove.moments.all):
        return False
    onsets = groove.onsets
    start, end = fit.tempo_map.map_to_groove(np.array([groove.moments.seconds[0], fill_seconds]))
    sure = ~onsets.faint & ~onsets.doubtful & (onsets.confidence >= _LEAST_CONFIDENCE)
    inside = sure & (onsets.seconds > start - _SLACK_SECONDS) & (onsets.seconds < end - _SLACK_SECONDS)
    after = sure & (onsets.seconds >= end - _SLACK_SECONDS)
    bounds = groove.segments.bounds
    beat = 60 / groove.moments.written.tempo * fit.tempo_map.calculate_pace(bounds[0], bounds[-1])
    counted_from = start - _COUNT_IN_SPAN_BEATS * beat
    before = sure & (onsets.seconds <= start - _SLACK_SECONDS) & (onsets.seconds > counted_from)
    if np.any(np.diff(onsets.seconds[before]) < _COUNT_IN_BEATS * beat):  # the groove began earlier
        return False
    clean = fit.matched_count >= _CLEAN_SHARE * np.count_nonzero(inside)
    return bool(clean and np.count_nonzero(after) <= _AFTER_SHARE * fill_moments)
