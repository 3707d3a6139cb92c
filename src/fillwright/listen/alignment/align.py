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

from collections import Counter
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import numpy.typing as npt

from fillwright.listen.alignment.acceptance import (
    accept_fit,
    check_take,
    ends_before_fill,
    find_refusal,
    select_full,
)
from fillwright.listen.alignment.extras import find_extras
from fillwright.listen.alignment.model import Alignment, AlignmentRefusal, Outcome, SurfaceSource
from fillwright.listen.alignment.moments import Moment, group_moments
from fillwright.listen.alignment.onset_arrays import build_onset_arrays
from fillwright.listen.alignment.repetitions import (
    AlignmentProblem,
    RepetitionFit,
    build_problem,
    estimate_tempo,
    find_repetitions,
    refine_fit,
)
from fillwright.listen.alignment.sound_properties import (
    estimate_latencies,
    estimate_surface_loudness,
    estimate_tap_loudness,
)
from fillwright.listen.alignment.stroke_results import LearnedSounds, classify_audibility, resolve_repetition
from fillwright.listen.alignment.templates import TimbreModel, learn_timbres
from fillwright.listen.calibration import Calibration
from fillwright.listen.detected_take import DetectedTake
from fillwright.listen.written import WrittenPhrase

Floats = npt.NDArray[np.float64]

_INAUDIBLE_SHARE = 0.25  # of one kind of moments undetected, from which the take is to blame; ours
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
    fits = [refine_fit(problem, fit) for fit in find_repetitions(problem)]
    accepted = select_full([fit for fit in fits if accept_fit(problem, fit)])
    if ends_before_fill(problem, accepted):
        tempo = estimate_tempo(problem, accepted) if accepted else None
        return Alignment(repetitions=(), refused=AlignmentRefusal.NO_FILL, tempo_found=tempo)
    if not accepted:
        return find_refusal(problem, fits)
    timbres = _learn_timbres(problem, accepted, calibration)
    if timbres is not None:
        problem = replace(problem, timbre_costs=_calculate_timbre_costs(problem, timbres))
        accepted = [refine_fit(problem, fit) for fit in accepted]
        timbres = _learn_timbres(problem, accepted, calibration)
    alignment = _build_alignment(problem, accepted, _learn_sounds(problem, accepted, timbres))
    return replace(alignment, surfaces_from=_find_surface_source(take, calibration))


def _find_surface_source(take: DetectedTake, calibration: Calibration | None) -> SurfaceSource:
    """Return the evidence for the drums of a take."""
    if take.from_midi:
        return SurfaceSource.ELECTRONIC_KIT
    return SurfaceSource.CALIBRATION if calibration is not None else SurfaceSource.NONE


def _list_matches(problem: AlignmentProblem, fits: Sequence[RepetitionFit]) -> list[tuple[Moment, int, float]]:
    """Return the detected moments, their onsets and their lags in seconds against the tempo map."""
    matches = []
    for fit in fits:
        expected = fit.tempo_map.map_to_take(problem.moments.seconds)
        for moment, onset, seconds in zip(problem.moments.all, fit.assignment.mains, expected, strict=True):
            if onset >= 0 and not problem.onsets.faint[onset]:
                matches.append((moment, onset, float(problem.onsets.seconds[onset] - seconds)))
    return matches


def _learn_timbres(
    problem: AlignmentProblem, fits: Sequence[RepetitionFit], calibration: Calibration | None
) -> TimbreModel | None:
    matches = [(moment.surfaces, onset) for moment, onset, _ in _list_matches(problem, fits)]
    return learn_timbres(problem.onsets.timbres, matches, calibration)


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
    problem: AlignmentProblem, fits: Sequence[RepetitionFit], timbres: TimbreModel | None
) -> LearnedSounds:
    """Learn latencies, loudness and audibility of a take's sounds from its fits."""
    matches = _list_matches(problem, fits)
    from_midi = problem.onsets.take.from_midi
    deviation = float(np.median([fit.tempo_map.deviation_seconds for fit in fits]))
    lags = [(moment, lag) for moment, _, lag in matches]
    loudness = [(moment, float(problem.onsets.loudness_db[onset])) for moment, onset, _ in matches]
    surface_loudness = estimate_surface_loudness(loudness)
    return LearnedSounds(
        timbres=timbres,
        latencies={} if from_midi else estimate_latencies(lags, deviation),
        surface_loudness=surface_loudness,
        tap_loudness=estimate_tap_loudness(problem.moments.written, loudness, surface_loudness),
        inaudible=frozenset() if from_midi else _find_inaudible(problem, fits),
    )


def _find_inaudible(problem: AlignmentProblem, fits: Sequence[RepetitionFit]) -> frozenset[object]:
    """Return the kinds of moments of which so many were not detected that the player is not to blame."""
    total, undetected = Counter[object](), Counter[object]()
    for fit in fits:
        for moment_index, onset in enumerate(fit.assignment.mains):
            kind = classify_audibility(problem, moment_index)
            total[kind] += 1
            undetected[kind] += onset < 0
    return frozenset(kind for kind, count in undetected.items() if (count - 1) / total[kind] > _INAUDIBLE_SHARE)


def _build_alignment(
    problem: AlignmentProblem, fits: Sequence[RepetitionFit], sounds: LearnedSounds
) -> Alignment:
    results = [resolve_repetition(problem, fit, sounds) for fit in fits]
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
