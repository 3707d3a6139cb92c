"""Audibility: a stroke is called missing only where the take would have shown it.

It would have, if the same drums at the same softness were detected elsewhere in the take, or if their usual
loudness stands clear of the softest strokes that were detected.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence

import numpy as np

from fillwright.listen.alignment.flow import FlowFit
from fillwright.listen.alignment.repetitions import AlignmentProblem

# All ours, not measured.
_SOFT_VELOCITY = 60  # MIDI velocity below which a moment is soft
_USUAL_VELOCITY = 80  # of a tap
_DB_PER_VELOCITY = 40.0  # decibels per factor of ten: General MIDI's recommended curve, from memory
_CLOSE_SECONDS = 0.13  # after another moment, within which it is easily masked
_LEAST_SHARE = 0.5  # of one kind of moments detected, from which the others would have been
_SOFTEST = 10  # percentile of the detected onsets' loudness that the take surely shows
_CLEAR_DB = 6.0  # above that, a sound stands clear of the mix


def classify_audibility(problem: AlignmentProblem, moment_index: int) -> object:
    """Return a key that moments share if they are equally hard to detect: sound, softness, closeness."""
    moment = problem.moments.all[moment_index]
    since = moment.seconds - problem.moments.seconds[moment_index - 1] if moment_index else np.inf
    return moment.surfaces, moment.velocity < _SOFT_VELOCITY, since < _CLOSE_SECONDS


def find_inaudible(flows: Sequence[FlowFit], surface_loudness: Mapping[str, float]) -> frozenset[object]:
    """Return the kinds of moments that this take can't show to be missing.

    Args:
        flows: the repetitions.
        surface_loudness: how loud each surface comes through in this take, in dB.
    """
    total, detected = Counter[object](), Counter[object]()
    clear: dict[object, bool] = {}
    loudness = [
        float(flow.problem.onsets.loudness_db[onset])
        for flow in flows
        for onset in flow.fit.assignment.mains
        if onset >= 0
    ]
    softest = float(np.percentile(loudness, _SOFTEST)) if loudness else 0.0
    for flow in flows:
        for index, onset in enumerate(flow.fit.assignment.mains):
            moment = flow.problem.moments.all[index]
            kind = classify_audibility(flow.problem, index)
            total[kind] += 1
            detected[kind] += onset >= 0
            softer_db = _DB_PER_VELOCITY * np.log10(max(1, moment.velocity) / _USUAL_VELOCITY)
            usual = max(surface_loudness.get(name, -np.inf) for name in moment.surfaces)
            clear[kind] = usual + softer_db > softest + _CLEAR_DB
    return frozenset(
        kind
        for kind in total
        if detected[kind] < total[kind] and detected[kind] < _LEAST_SHARE * total[kind] and not clear[kind]
    )
