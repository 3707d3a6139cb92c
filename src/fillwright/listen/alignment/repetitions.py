"""Every repetition of the phrase in a take: its tempo map and its onsets.

Onsets are assigned to each candidate position (`assign`), its tempo map is fitted to them (`tempo_map`), and
both are repeated; of candidates that overlap, those are kept that explain most of the take together. An onset
that no repetition explains gains nothing, so that a fit that is off by a beat loses to the right one.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from fillwright.listen.alignment.assign import (
    IMPOSSIBLE_COST,
    MISSING_COST,
    AssignableOnsets,
    OnsetAssignment,
    assign_onsets,
    calculate_time_cost,
)
from fillwright.listen.alignment.candidates import (
    Channel,
    PhraseCandidate,
    blur_onsets,
    find_candidates,
    list_paces,
)
from fillwright.listen.alignment.moments import Moments
from fillwright.listen.alignment.onset_arrays import OnsetArrays
from fillwright.listen.alignment.surfaces.sound_properties import load_surface_loudness
from fillwright.listen.alignment.tempo_map import (
    StrokeTimes,
    TempoMap,
    TempoSegments,
    build_tempo_map,
    divide_phrase,
    fit_rough_map,
)

Floats = npt.NDArray[np.float64]

SLOWEST, FASTEST = 0.83, 1.2
"""Range of played paces that are accepted, a little more than 15 % either way; ours, not measured."""

REACH_SECONDS = 0.15
"""Longest distance of an onset from its moment; ours, not measured."""

_FIRST_DEVIATION_SECONDS = 0.025  # of the player, before a tempo map is fitted; ours, not measured
_USUAL_DEVIATION_SECONDS = 0.016  # of the player, with a fitted tempo map; ours, not measured
_DEVIATION_FACTOR = 1.4  # on the fitted deviation, for the next assignment; ours, not measured
_DEVIATION_RANGE_SECONDS = (0.008, 0.025)  # limits of that; ours, not measured
_ROUNDS = 3  # of assigning and fitting, at most; ours, not measured
_EXTRA_COST, _EXTRA_COST_PER_DB = 2.2, 0.25  # of an extra onset, and per dB of strength; from a trial
_EXTRA_COST_DOUBTFUL = 0.2  # of a doubtful or hardly likely onset; ours, not measured
_STRONGEST_DB = 20.0  # strength above which an extra onset costs no more; ours, not measured
_COST_PER_LOG_ODDS, _SURE_LOG_ODDS = 0.8, 3.0  # an onset of less than these log odds costs less; ours
_CONFIDENCE_RANGE = (0.02, 0.98)  # within which log odds are taken; ours, not measured
_CHANCE_SHARE = 0.6  # of a moment's gain that chance meets: a repetition must gain more; ours, not measured
_RUSHES = (-0.07, -0.045, -0.02, 0.02, 0.045, 0.07)  # of the fill that are tried, as changes of pace; ours
_RUSH_MISSING_SHARE = 0.05  # of a fill's moments missing, from which they are tried; ours, not measured
_RUSH_LEAST_GAIN = 1.0  # by which one of them must be better; ours, not measured
_OTHER_SURFACE_COST = 2.5  # of a pair on other surfaces than those reported, in the costs of `assign`; ours
_TOGETHER_SECONDS = 0.02  # onsets of an electronic kit this near are one moment; ours, not measured
_CANDIDATES, _CANDIDATES_PER_LENGTH, _MOST_CANDIDATES = (
    10,
    5,
    120,
)  # refined per take, per phrase's length; ours
_OVERLAP_BEATS = 0.25  # by which two repetitions may overlap, of a quarter of the first bar; ours, not measured
_DEFAULT_ACCENT = 0.2  # of a surface not in `surface_loudness.toml`; ours, not measured
_SURFACE_WEIGHT = 0.7  # of an electronic kit's surfaces, against 1 of an onset; ours, not measured
_LOUDNESS_WEIGHT = 0.4  # of loudness, against 1 of an onset; ours, not measured
_LOUDNESS_RANGE_DB = 12.0  # around the median that loudness is compared in; ours, not measured
_USUAL_VELOCITY, _VELOCITY_RANGE = 80, 64  # of a tap, and that corresponds to the range above; ours


@dataclass(frozen=True, slots=True, kw_only=True)
class RepetitionFit:
    """One repetition of the phrase, fitted to the take.

    Attributes:
        tempo_map: from written time to time in the take.
        assignment: the onset of each moment, as indices in the whole take.
        net_gain: gain of the assignment, less what chance would gain.
    """

    tempo_map: TempoMap
    assignment: OnsetAssignment
    net_gain: float

    @property
    def matched_count(self) -> int:
        """Number of moments with an onset."""
        return sum(onset >= 0 for onset in self.assignment.mains)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class AlignmentProblem:
    """A phrase and a take to align.

    Attributes:
        moments: of the phrase.
        segments: of the phrase.
        onsets: of the take.
        extra_costs: cost of each onset if it is assigned to nothing.
        timbre_costs: cost of each onset's timbre at each moment, shape (moments, onsets); None before timbres
            are learned.
    """

    moments: Moments
    segments: TempoSegments
    onsets: OnsetArrays
    extra_costs: Floats
    timbre_costs: Floats | None = None

    def collect_times(self, assignment: OnsetAssignment) -> StrokeTimes:
        """Return the written and played times of assigned moments."""
        pairs = [(moment_index, onset) for moment_index, onset in enumerate(assignment.mains) if onset >= 0]
        written = self.moments.seconds[[moment_index for moment_index, _ in pairs]]
        played = self.onsets.seconds[[onset for _, onset in pairs]]
        return StrokeTimes(written=written, played=played, weight=np.ones(len(pairs)))


def build_problem(moments: Moments, onsets: OnsetArrays) -> AlignmentProblem:
    """Build the problem of aligning a phrase and a take, before timbres are learned."""
    strength = np.clip(onsets.strength_db, 0.0, _STRONGEST_DB)
    confidence = np.clip(onsets.confidence, *_CONFIDENCE_RANGE)
    log_odds = np.log(confidence / (1 - confidence))
    doubt = np.minimum(_COST_PER_LOG_ODDS * (log_odds - _SURE_LOG_ODDS), 0.0)
    costs = _EXTRA_COST + _EXTRA_COST_PER_DB * strength + doubt
    costs = np.where(onsets.doubtful, _EXTRA_COST_DOUBTFUL, np.maximum(costs, _EXTRA_COST_DOUBTFUL))
    return AlignmentProblem(
        moments=moments,
        segments=divide_phrase(moments),
        onsets=onsets,
        extra_costs=costs,
        timbre_costs=_OTHER_SURFACE_COST * find_other_surfaces(moments, onsets)
        if any(onsets.surfaces)
        else None,
    )


def find_other_surfaces(moments: Moments, onsets: OnsetArrays) -> Floats:
    """Return how unlike each moment's surfaces those are that an onset's moment has, shape (moments, onsets).

    0 for the same surfaces, 1 for none in common. Onsets next to each other are one moment of the take.
    """
    first = np.searchsorted(onsets.seconds, onsets.seconds - _TOGETHER_SECONDS)
    last = np.searchsorted(onsets.seconds, onsets.seconds + _TOGETHER_SECONDS, side="right")
    struck = [frozenset(onsets.surfaces[low:high]) for low, high in zip(first, last, strict=True)]
    by_surfaces = {
        surfaces: np.array([1 - len(surfaces & other) / len(surfaces | other) for other in struck])
        for surfaces in {moment.surfaces for moment in moments.all}
    }
    return np.array([by_surfaces[moment.surfaces] for moment in moments.all])


def find_repetitions(
    problem: AlignmentProblem, slowest: float = SLOWEST, fastest: float = FASTEST
) -> tuple[RepetitionFit, ...]:
    """Return the repetitions of the phrase that explain a take best, in order; none if nothing fits.

    Args:
        problem: the phrase and the take.
        slowest: least played pace to try; below 1 is faster than intended.
        fastest: greatest pace to try.
    """
    fits = fit_candidates(problem, slowest, fastest)
    return select_together(problem.moments, [fit for fit in fits if fit.net_gain > 0])


def fit_candidates(
    problem: AlignmentProblem, slowest: float = SLOWEST, fastest: float = FASTEST
) -> list[RepetitionFit]:
    """Return a rough fit of the phrase at every candidate position; arguments as of `find_repetitions`."""
    before = problem.moments.written.bar_starts[1]
    length = problem.moments.written.bar_starts[-1]
    most = _CANDIDATES + _CANDIDATES_PER_LENGTH * int(problem.onsets.take.seconds / length)
    candidates = find_candidates(
        problem.moments,
        _build_channels(problem, before),
        list_paces(slowest, fastest),
        before_seconds=before,
        most=min(most, _MOST_CANDIDATES),
    )
    return [_fit_candidate(problem, candidate) for candidate in candidates]


def _build_channels(problem: AlignmentProblem, before: float) -> tuple[Channel, ...]:
    """Return channels for the onsets, their loudness and, on an electronic kit, each surface."""
    onsets, moments = problem.onsets, problem.moments
    seconds = onsets.take.seconds
    median_db = float(np.median(onsets.loudness_db)) if len(onsets) else 0.0
    strength = np.where(onsets.faint, 0.0, np.clip(onsets.strength_db / 12.0, 0.5, 1.0)) * onsets.confidence
    loudness = np.clip((onsets.loudness_db - median_db) / _LOUDNESS_RANGE_DB, -1.0, 1.0) * strength
    channels = [
        Channel(
            curve=blur_onsets(onsets.seconds, strength, seconds, before), expected=np.ones(len(moments.all))
        ),
        Channel(
            curve=blur_onsets(onsets.seconds, loudness, seconds, before), expected=_expect_loudness(moments)
        ),
    ]
    for name in sorted({name for name in onsets.surfaces if name}):
        members = np.array([surface == name for surface in onsets.surfaces])
        expected = np.array([_SURFACE_WEIGHT if name in moment.surfaces else 0.0 for moment in moments.all])
        if expected.any():
            curve = blur_onsets(onsets.seconds[members], np.ones(int(members.sum())), seconds, before)
            channels.append(Channel(curve=curve, expected=expected))
    return tuple(channels)


def _expect_loudness(moments: Moments) -> Floats:
    accents = load_surface_loudness()["accent"]
    loudness = np.array(
        [
            (moment.velocity - _USUAL_VELOCITY) / _VELOCITY_RANGE
            + max(accents.get(name, _DEFAULT_ACCENT) for name in moment.surfaces)
            for moment in moments.all
        ]
    )
    return np.asarray(_LOUDNESS_WEIGHT * np.clip(loudness - loudness.mean(), -1.0, 1.0))


def _fit_candidate(problem: AlignmentProblem, candidate: PhraseCandidate) -> RepetitionFit:
    """Assign onsets to a candidate and fit its tempo map once."""
    starts, bounds = np.array(candidate.bar_starts), problem.segments.bounds
    bars = np.diff(starts) / np.diff(bounds)[: len(starts) - 1]
    paces = [*map(float, bars), *[candidate.pace] * (len(bounds) - 1 - len(bars))]
    rough = build_tempo_map(problem.segments, float(starts[0]), paces, _FIRST_DEVIATION_SECONDS)
    assignment = assign_moments(problem, rough, _FIRST_DEVIATION_SECONDS)
    tempo_map = fit_rough_map(problem.segments, problem.collect_times(assignment), rough)
    return fit_assignment(problem, tempo_map, _USUAL_DEVIATION_SECONDS)


def fit_assignment(problem: AlignmentProblem, tempo_map: TempoMap, deviation_seconds: float) -> RepetitionFit:
    """Return a repetition with the onsets assigned by a tempo map."""
    assignment = assign_moments(problem, tempo_map, deviation_seconds)
    extra = float(np.median(problem.extra_costs)) if len(problem.extra_costs) else _EXTRA_COST
    by_chance = _CHANCE_SHARE * (MISSING_COST + extra) * len(problem.moments.all)
    return RepetitionFit(tempo_map=tempo_map, assignment=assignment, net_gain=assignment.gain - by_chance)


def assign_moments(problem: AlignmentProblem, tempo_map: TempoMap, deviation_seconds: float) -> OnsetAssignment:
    """Assign onsets to moments by a tempo map; indices count in the whole take."""
    onsets = problem.onsets
    expected = tempo_map.map_to_take(problem.moments.seconds)
    ends = [expected[0] - 2 * REACH_SECONDS, expected[-1] + REACH_SECONDS]
    low, high = (int(bound) for bound in np.searchsorted(onsets.seconds, ends))
    near = slice(low, high)
    away = onsets.seconds[None, near] - expected[:, None]
    costs = calculate_time_cost(away, deviation_seconds)
    if problem.timbre_costs is not None:
        costs = costs + problem.timbre_costs[:, near]
    costs[np.abs(away) > REACH_SECONDS] = IMPOSSIBLE_COST
    assignable = AssignableOnsets(
        seconds=onsets.seconds[near],
        extra_costs=problem.extra_costs[near],
        loudness_db=onsets.loudness_db[near],
        confidence=onsets.confidence[near],
    )
    assignment = assign_onsets(problem.moments.grace_leads, assignable, costs)
    return OnsetAssignment(
        mains=tuple(onset + low if onset >= 0 else -1 for onset in assignment.mains),
        graces=tuple(tuple(onset + low for onset in graces) for graces in assignment.graces),
        gain=assignment.gain,
    )


def widen_deviation(tempo_map: TempoMap) -> float:
    """Return the deviation in seconds by which onsets are assigned again with a fitted map."""
    return float(np.clip(_DEVIATION_FACTOR * tempo_map.deviation_seconds, *_DEVIATION_RANGE_SECONDS))


def refine_fit(problem: AlignmentProblem, fit: RepetitionFit) -> RepetitionFit:
    """Fit tempo map and assignment to each other; try other tempos of a fill with missing moments."""
    best = _iterate(problem, fit.tempo_map)
    in_fill = [moment_index for moment_index, moment in enumerate(problem.moments.all) if moment.in_fill]
    missing = sum(best.assignment.mains[moment_index] < 0 for moment_index in in_fill)
    if missing > _RUSH_MISSING_SHARE * len(in_fill):
        bounds = problem.segments.bounds
        pace = best.tempo_map.calculate_pace(bounds[0], bounds[-1])
        for rush in _RUSHES:
            other = _iterate(problem, best.tempo_map.replace_rush(rush * pace))
            if other.net_gain > best.net_gain + _RUSH_LEAST_GAIN:
                best = other
    return best


def _iterate(problem: AlignmentProblem, tempo_map: TempoMap) -> RepetitionFit:
    """Assign and fit in turn until the assignment stays."""
    fit = fit_assignment(problem, tempo_map, _USUAL_DEVIATION_SECONDS)
    for _ in range(_ROUNDS):
        fitted_map = fit_rough_map(problem.segments, problem.collect_times(fit.assignment), fit.tempo_map)
        after = fit_assignment(problem, fitted_map, widen_deviation(fitted_map))
        if after.assignment.mains == fit.assignment.mains:
            return after
        fit = after
    return fit


def estimate_tempo(problem: AlignmentProblem, fits: Sequence[RepetitionFit]) -> float:
    """Return the mean tempo of repetitions, in bpm."""
    bounds = problem.segments.bounds
    paces = [fit.tempo_map.calculate_pace(bounds[0], bounds[-1]) for fit in fits]
    return problem.moments.written.tempo / float(np.mean(paces))


def select_together(moments: Moments, fits: Sequence[RepetitionFit]) -> tuple[RepetitionFit, ...]:
    """Select the repetitions that gain most together without an overlap."""
    spans = []
    for fit in fits:
        ends = fit.tempo_map.map_to_take(np.array([0.0, moments.next_start]))
        spans.append((float(ends[0]), float(ends[1]), fit.net_gain))
    slack = _OVERLAP_BEATS * moments.written.bar_starts[1] / 4
    return tuple(fits[number] for number in select_spans(spans, slack))


def select_spans(spans: Sequence[tuple[float, float, float]], slack: float) -> tuple[int, ...]:
    """Return the numbers of the spans that gain most together (weighted interval scheduling).

    Args:
        spans: start, end and gain of each.
        slack: by which two may overlap, in the unit of the spans.
    """
    order = sorted(range(len(spans)), key=lambda number: (spans[number][1], spans[number][0]))
    best: list[tuple[float, tuple[int, ...]]] = [(0.0, ())]
    for place, number in enumerate(order):
        start, _, gain = spans[number]
        before = sum(spans[other][1] <= start + slack for other in order[:place])
        total, selected = best[before]
        best.append(max(best[-1], (total + gain, (*selected, number)), key=lambda entry: entry[0]))
    return best[-1][1]
