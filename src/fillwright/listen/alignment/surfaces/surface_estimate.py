"""The surfaces of a moment by the sound of its onset: another drum than the written one, or a missing part.

A lone stroke is judged by the ear's evidence (`drum_evidence`) unless its drum is calibrated. Then, and for
strokes at one moment, the templates of timbres decide.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from itertools import combinations

import numpy as np

from fillwright.listen.alignment.moments import Moment
from fillwright.listen.alignment.surfaces.templates import Surfaces, TimbreModel

# All ours, not measured.
_TAIL, _SIZE = (
    20.0,
    30.0,
)  # degrees of freedom and dimensions of Student's distribution: masked timbres are far off
_WRONG_PRIOR, _ABSENT_PRIOR = 0.06, 0.05  # probabilities of another surface, and of a missing part, beforehand
_RIVALS = 3  # surfaces that share that probability, at most
_LEAST_TEMPLATE_STROKES = 3  # of a template that may be another surface's, without a calibration
_UNCALIBRATED_FACTOR = 0.5  # on the confidence of another surface, without a calibration
_SURELY_ABSENT = 0.85  # probability from which a part is missing


@dataclass(frozen=True, slots=True, kw_only=True)
class SurfaceEstimate:
    """The surfaces that a moment sounds like.

    Attributes:
        played: by written surface, the one it sounds like; left out if unknown.
        confidence: probability of that, 0 to 1.
        absent: written surfaces that surely were not struck.
    """

    played: dict[str, str]
    confidence: float
    absent: frozenset[str] = frozenset()


NO_ESTIMATE = SurfaceEstimate(played={}, confidence=0.0)  # of a moment whose timbre is unknown


def estimate_surfaces(model: TimbreModel, moment: Moment, onset: int) -> SurfaceEstimate:
    """Estimate the surfaces of a moment from the timbre of its onset.

    Args:
        model: of the take.
        moment: of the written phrase.
        onset: its number among the model's timbres.
    """
    written = moment.surfaces
    if len(written) == 1 and model.drums is not None and not written <= model.calibrated:
        (name,) = written
        played, confidence = model.drums.find_surface(name, onset)
        return SurfaceEstimate(played={name: played}, confidence=confidence)
    if model.measure_distances(written) is None:
        return NO_ESTIMATE
    alternatives = _list_parts(written) if len(written) > 1 else _list_other_surfaces(model, written)
    prior = _ABSENT_PRIOR if len(written) > 1 else _WRONG_PRIOR
    probabilities = _calculate_probabilities(model, (written, *alternatives), onset, prior)
    best = max(probabilities, key=lambda surfaces: probabilities[surfaces])
    if best == written:
        return SurfaceEstimate(played={name: name for name in written}, confidence=probabilities[best])
    if len(written) > 1:
        absent = frozenset(
            name
            for name in written
            if sum(p for surfaces, p in probabilities.items() if name not in surfaces) > _SURELY_ABSENT
        )
        return SurfaceEstimate(
            played={name: name for name in written - absent}, confidence=probabilities[best], absent=absent
        )
    (name,), (played,) = tuple(written), tuple(best)
    factor = 1.0 if played in model.calibrated else _UNCALIBRATED_FACTOR
    return SurfaceEstimate(played={name: played}, confidence=probabilities[best] * factor)


def _list_parts(written: Surfaces) -> Iterable[Surfaces]:
    """Return the sets that remain of several surfaces if some are missing."""
    return [frozenset(part) for size in range(1, len(written)) for part in combinations(sorted(written), size)]


def _list_other_surfaces(model: TimbreModel, written: Surfaces) -> Iterable[Surfaces]:
    """Return the other single surfaces with a good template."""
    return [
        surfaces
        for surfaces, template in model.templates.items()
        if len(surfaces) == 1
        and surfaces != written
        and (template.count >= _LEAST_TEMPLATE_STROKES or surfaces <= model.calibrated)
    ]


def _calculate_probabilities(
    model: TimbreModel, hypotheses: Iterable[Surfaces], onset: int, prior: float
) -> dict[Surfaces, float]:
    """Return the probability of each hypothesis; all but the first share the prior probability."""
    logs: dict[Surfaces, float] = {}
    for surfaces in hypotheses:
        distances = model.measure_distances(surfaces)
        if distances is not None:
            logs[surfaces] = -0.5 * (_TAIL + _SIZE) * float(np.log1p(max(distances[onset], 0.0) / _TAIL))
    first, rivals = next(iter(logs)), max(1, min(len(logs) - 1, _RIVALS))
    for surfaces in logs:
        logs[surfaces] += float(np.log(1 - prior if surfaces == first else prior / rivals))
    top = max(logs.values())
    total = sum(np.exp(value - top) for value in logs.values())
    return {surfaces: float(np.exp(value - top) / total) for surfaces, value in logs.items()}
