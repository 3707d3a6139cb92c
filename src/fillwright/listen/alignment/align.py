"""Align a take with the written phrase: where it starts, how its tempo runs, which onset is which stroke.

1. Candidates over start and tempo (`candidates`).
2. For each, onsets are assigned to moments by dynamic programming (`assign`), in turn with a tempo map fitted
to them (`tempo_map`); the repetitions that explain the take best together are kept (`repetitions`).
3. Timbres and attack latencies are learned from them (`templates`, `sound_properties`) and used in a second
assignment.
4. The outcome of every stroke (`stroke_results`) and the extra strokes (`extras`).

A fit that explains too little of the phrase or of the take is refused. The same arguments give the same
alignment.

Conventions: an onset belongs to one moment of one repetition. Strokes written at one moment share its onset
    unless an
electronic kit tells them apart, and so does a landing with the first beat of the next repetition if the player
goes straight on.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import numpy.typing as npt

from fillwright.listen.alignment.acceptance import (
    accept_fit,
    check_take,
    ends_before_fill,
    find_refusal,
    may_be_other_tempo,
    select_full,
)
from fillwright.listen.alignment.audibility import find_inaudible
from fillwright.listen.alignment.choose_flow import choose_flow
from fillwright.listen.alignment.extras import find_extras
from fillwright.listen.alignment.flow import FlowFit
from fillwright.listen.alignment.model import Alignment, AlignmentRefusal, Outcome, SurfaceSource
from fillwright.listen.alignment.moments import Moment, group_moments
from fillwright.listen.alignment.onset_arrays import OnsetArrays, build_onset_arrays
from fillwright.listen.alignment.repetitions import (
    AlignmentProblem,
    build_problem,
    estimate_tempo,
    fit_candidates,
    refine_fit,
    select_together,
)
from fillwright.listen.alignment.stroke_results import LearnedSounds, resolve_repetition
from fillwright.listen.alignment.surfaces.drum_evidence import learn_drums
from fillwright.listen.alignment.surfaces.sound_properties import (
    estimate_latencies,
    estimate_surface_loudness,
    estimate_tap_loudness,
)
from fillwright.listen.alignment.surfaces.templates import TimbreModel, learn_timbres
from fillwright.listen.calibration import Calibration
from fillwright.listen.detected_take import DetectedTake
from fillwright.listen.written import WrittenPhrase

Floats = npt.NDArray[np.float64]

_TIMBRE_COST = 0.04  # per squared distance that another template is nearer, in the costs of `assign`; ours
_MOST_TIMBRE_COST = 3.0  # of a pair; ours, not measured
_UNKNOWN_TIMBRE_COST = 0.5  # of a pair with a sound without a template; ours, not measured


def align_take(
    written: WrittenPhrase, take: DetectedTake, *, calibration: Calibration | None = None
) -> Alignment:
    """Align a take with the written phrase.

    Args:
        written: the phrase, at the intended tempo.
        take: its onsets.
        calibration: sounds of the kit; without one another surface is never reported with confidence.
    """
    moments, onsets = group_moments(written), build_onset_arrays(take)
    refused = check_take(written, take, len(moments.all))
    if refused:
        return Alignment(repetitions=(), refused=refused)
    problem = build_problem(moments, onsets)
    candidates = fit_candidates(problem)
    positions = select_together(moments, [fit for fit in candidates if fit.net_gain > 0])
    plain = [refine_fit(problem, fit) for fit in positions]
    accepted = select_full([fit for fit in plain if accept_fit(problem, fit)])
    refusal = find_refusal(problem, plain) if may_be_other_tempo(problem, accepted) else None
    if refusal is not None and refusal.refused is AlignmentRefusal.OTHER_TEMPO:
        return refusal
    flows = choose_flow(problem, accepted, candidates)
    if not any(flow.breaks for flow in flows) and ends_before_fill(problem, accepted):
        tempo = estimate_tempo(problem, accepted) if accepted else None
        return Alignment(repetitions=(), refused=AlignmentRefusal.NO_FILL, tempo_found=tempo)
    if not flows:
        return refusal or find_refusal(problem, plain)
    timbres = _learn_timbres(onsets, flows, calibration)
    if timbres is not None:
        flows = [_refine_by_timbre(flow, timbres) for flow in flows]
        timbres = _learn_timbres(onsets, flows, calibration)
    alignment = _build_alignment(problem, flows, _learn_sounds(problem, flows, timbres))
    return replace(alignment, surfaces_from=_find_surface_source(take, calibration))


def _refine_by_timbre(flow: FlowFit, timbres: TimbreModel) -> FlowFit:
    """Return a repetition assigned again, by timbres too."""
    problem = replace(flow.problem, timbre_costs=_calculate_timbre_costs(flow.problem, timbres))
    return replace(flow, problem=problem, fit=refine_fit(problem, flow.fit))


def _find_surface_source(take: DetectedTake, calibration: Calibration | None) -> SurfaceSource:
    """Return the evidence for the drums of a take."""
    if take.from_midi:
        return SurfaceSource.ELECTRONIC_KIT
    return SurfaceSource.CALIBRATION if calibration is not None else SurfaceSource.NONE


def _list_matches(flows: Sequence[FlowFit]) -> list[tuple[Moment, int, float]]:
    """Return the detected moments, their onsets and their lags in seconds against the tempo map."""
    matches = []
    for flow in flows:
        problem, fit = flow.problem, flow.fit
        expected = fit.tempo_map.map_to_take(problem.moments.seconds)
        for moment, onset, seconds in zip(problem.moments.all, fit.assignment.mains, expected, strict=True):
            if onset >= 0 and not problem.onsets.faint[onset]:
                matches.append((moment, onset, float(problem.onsets.seconds[onset] - seconds)))
    return matches


def _learn_timbres(
    onsets: OnsetArrays, flows: Sequence[FlowFit], calibration: Calibration | None
) -> TimbreModel | None:
    matches = [(moment.surfaces, onset) for moment, onset, _ in _list_matches(flows)]
    model = learn_timbres(onsets.timbres, matches, calibration)
    return None if model is None else replace(model, drums=learn_drums(onsets, matches))


def _calculate_timbre_costs(problem: AlignmentProblem, timbres: TimbreModel) -> Floats:
    """Return the cost of every onset's timbre at every moment: how much nearer another template is."""
    by_surfaces = {
        moment.surfaces: timbres.measure_distances(moment.surfaces) for moment in problem.moments.all
    }
    distances = [values for values in by_surfaces.values() if values is not None]
    if not distances:
        return np.zeros((len(problem.moments.all), len(problem.onsets)))
    nearest = np.min(distances, axis=0)
    rows = []
    for moment in problem.moments.all:
        values = by_surfaces[moment.surfaces]
        if values is None:
            rows.append(np.full(len(problem.onsets), _UNKNOWN_TIMBRE_COST))
        else:
            rows.append(np.clip(_TIMBRE_COST * (values - nearest), 0.0, _MOST_TIMBRE_COST))
    return np.array(rows)


def _learn_sounds(
    problem: AlignmentProblem, flows: Sequence[FlowFit], timbres: TimbreModel | None
) -> LearnedSounds:
    """Learn latencies, loudness and audibility of a take's sounds from its repetitions."""
    matches = _list_matches(flows)
    from_midi = problem.onsets.take.from_midi
    deviation = float(np.median([flow.fit.tempo_map.deviation_seconds for flow in flows]))
    lags = [(moment, lag) for moment, _, lag in matches]
    loudness = [(moment, float(problem.onsets.loudness_db[onset])) for moment, onset, _ in matches]
    surface_loudness = estimate_surface_loudness(loudness)
    return LearnedSounds(
        timbres=timbres,
        latencies={} if from_midi else estimate_latencies(lags, deviation),
        surface_loudness=surface_loudness,
        tap_loudness=estimate_tap_loudness(problem.moments.written, loudness, surface_loudness),
        inaudible=frozenset() if from_midi else find_inaudible(flows, surface_loudness),
    )


def _build_alignment(problem: AlignmentProblem, flows: Sequence[FlowFit], sounds: LearnedSounds) -> Alignment:
    results = [resolve_repetition(flow, sounds) for flow in flows]
    repetitions = tuple(result.repetition for result in results)
    strokes = problem.moments.written.strokes
    mains = [
        stroke
        for repetition in repetitions
        for stroke in repetition.strokes
        if strokes[stroke.written].grace_of is None
    ]
    played = sum(stroke.outcome in (Outcome.PLAYED, Outcome.TIMING_UNCERTAIN) for stroke in mains)
    used = frozenset().union(*(result.used for result in results))
    return Alignment(
        repetitions=repetitions,
        extra=find_extras(problem, repetitions, used),
        tempo_found=float(np.mean([repetition.groove_tempo for repetition in repetitions])),
        share_matched=played / len(mains),
    )
