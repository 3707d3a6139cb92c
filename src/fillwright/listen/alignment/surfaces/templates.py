"""Timbre templates of each surface, learned from the take itself, better with a calibration.

A timbre is a row of band levels in dB. The alignment says which timbres belong to which surfaces, so templates
come from the take and fit a kit never heard before; strokes at one moment add up in power. The covariance of
one surface's timbres is pooled over all surfaces (linear discriminant analysis) and shrunk towards one that the
strength of strokes explains. A calibration gives each surface a template before anything is aligned, after its
gain and tone are matched to the take's.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
import numpy.typing as npt

from fillwright.listen.alignment.surfaces.drum_evidence import DrumEvidence
from fillwright.listen.calibration import Calibration

Floats = npt.NDArray[np.float64]
Surfaces = frozenset[str]
"""Drums and cymbals struck at one moment."""

# All ours, not measured.
_LEAST_STROKES = 2  # of a template
_LEAST_FOR_COVARIANCE = 4  # strokes of a template whose timbres count for the covariance
_CALIBRATED_STROKES = 12.0  # strokes that a calibration's template counts for
_MOST_COUNTED_STROKES = 12.0  # of one surface, when gain and tone are matched
_TONE_PRIOR_STROKES = 20.0  # strokes that speak for an unchanged tone
_PRIOR_STROKES = 150.0  # strokes that the assumed covariance counts for
_FEATURE_DB = 3.0  # assumed standard deviation of each feature alone
_GAIN_DB = 4.0  # of all features together
_SMOOTH_DB, _SMOOTH_BANDS = 3.0, 2.0  # of neighbouring features, and over how many bands they hang together
_ROUNDS, _TAIL = 3, 10.0  # of reweighting, and degrees of freedom of Student's distribution in it
_TEMPLATE_VARIANCE = 1.0  # of a template of one stroke, against that of a stroke
_OUTLIER_FACTOR, _OUTLIER_DB = 1.5, 0.5  # distances from the median, beyond which a timbre counts for less


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class TimbreTemplate:
    """The usual timbre of one or more surfaces struck together.

    Attributes:
        mean: shape (features,).
        count: number of strokes that it is based on.
        members: which of the take's onsets are among them.
    """

    mean: Floats
    count: float
    members: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class TimbreModel:
    """The templates of a take and the covariance of its timbres.

    Attributes:
        timbres: of every onset, shape (onsets, features).
        templates: by surfaces.
        whitening: matrix that turns a difference of timbres into independent numbers of variance 1.
        calibrated: surfaces with a template from a calibration.
        drums: evidence of the ear; None without it.
    """

    timbres: Floats
    templates: Mapping[Surfaces, TimbreTemplate]
    whitening: Floats
    calibrated: frozenset[str]
    drums: DrumEvidence | None = None
    _distances: dict[Surfaces, Floats | None] = field(default_factory=dict, init=False, repr=False)

    def measure_distances(self, surfaces: Surfaces) -> Floats | None:
        """Return the squared distance of every onset to the template of some surfaces, in variances.

        The fewer strokes a template has, the wider it is; an onset does not count for its own template.
        Calculated once for all onsets; read-only. None without a template.
        """
        if surfaces not in self._distances:
            self._distances[surfaces] = self._calculate_distances(surfaces)
        return self._distances[surfaces]

    def _calculate_distances(self, surfaces: Surfaces) -> Floats | None:
        template = self.templates.get(surfaces) or self._combine_templates(surfaces)
        if template is None:
            return None
        away = (self.timbres - template.mean) @ self.whitening.T
        is_member = np.zeros(len(self.timbres), dtype=bool)
        is_member[list(template.members)] = True
        count = np.where(is_member, template.count - 1.0, template.count)
        away[is_member] *= template.count / np.maximum(count[is_member], 0.5)[:, None]
        width = 1.0 + _TEMPLATE_VARIANCE / np.maximum(count, 0.5)
        distances = np.asarray(np.square(away).sum(axis=1) / width + self.timbres.shape[1] * np.log(width))
        distances.flags.writeable = False
        return distances

    def _combine_templates(self, surfaces: Surfaces) -> TimbreTemplate | None:
        """Combine the templates of single surfaces, their powers added as if they were equally loud."""
        parts = [self.templates.get(frozenset({name})) for name in surfaces]
        if len(parts) < 2 or any(part is None for part in parts):
            return None
        known = [part for part in parts if part is not None]
        power = sum(10 ** (part.mean / 10) for part in known)
        return TimbreTemplate(mean=10 * np.log10(power), count=min(part.count for part in known) / 2)


def learn_timbres(
    timbres: Floats, matches: Sequence[tuple[Surfaces, int]], calibration: Calibration | None
) -> TimbreModel | None:
    """Learn the timbres of a take; None if it has none (an electronic kit) or nothing is aligned.

    Args:
        timbres: of every onset, shape (onsets, features).
        matches: surfaces struck by the alignment, and their onset.
        calibration: of the kit; None without one.
    """
    by_surfaces: dict[Surfaces, list[int]] = {}
    for surfaces, onset in matches:
        by_surfaces.setdefault(surfaces, []).append(onset)
    if not timbres.size or not by_surfaces:
        return None
    templates = {
        surfaces: TimbreTemplate(
            mean=_average_robustly(timbres[onsets]), count=float(len(onsets)), members=tuple(onsets)
        )
        for surfaces, onsets in by_surfaces.items()
        if len(onsets) >= _LEAST_STROKES
    }
    whitening = _estimate_whitening(timbres, by_surfaces, templates)
    model = TimbreModel(timbres=timbres, templates=templates, whitening=whitening, calibrated=frozenset())
    if calibration is None or calibration.timbre_size != timbres.shape[1]:
        return model
    return _calibrate_model(model, by_surfaces, calibration)


def _average_robustly(timbres: Floats) -> Floats:
    """Return the mean of timbres, those far from the median counting for less."""
    median = np.median(timbres, axis=0)
    away = np.sqrt(np.mean((timbres - median) ** 2, axis=1))
    weight = 1 / np.maximum(1.0, away / (_OUTLIER_FACTOR * np.median(away) + _OUTLIER_DB)) ** 2
    return np.asarray(weight @ timbres / weight.sum())


def _estimate_whitening(
    timbres: Floats,
    by_surfaces: Mapping[Surfaces, Sequence[int]],
    templates: Mapping[Surfaces, TimbreTemplate],
) -> Floats:
    size = timbres.shape[1]
    bands_apart = np.abs(np.arange(size)[:, None] - np.arange(size)[None, :])
    prior = (
        _FEATURE_DB**2 * np.eye(size)
        + _GAIN_DB**2 * np.ones((size, size))
        + _SMOOTH_DB**2 * np.exp(-bands_apart / _SMOOTH_BANDS)
    )
    sets = [
        (surfaces, onsets) for surfaces, onsets in by_surfaces.items() if len(onsets) >= _LEAST_FOR_COVARIANCE
    ]
    residuals = np.concatenate(
        [timbres[onsets] - templates[surfaces].mean for surfaces, onsets in sets] or [np.zeros((0, size))]
    )
    whitening = np.linalg.inv(np.linalg.cholesky(prior))
    for _ in range(_ROUNDS):
        weight = (_TAIL + size) / (_TAIL + np.square(residuals @ whitening.T).sum(axis=1))
        total = _PRIOR_STROKES * prior + (residuals * weight[:, None]).T @ residuals
        whitening = np.linalg.inv(np.linalg.cholesky(total / (_PRIOR_STROKES + len(residuals))))
    return np.asarray(whitening)


def _calibrate_model(
    model: TimbreModel, by_surfaces: Mapping[Surfaces, Sequence[int]], calibration: Calibration
) -> TimbreModel:
    """Return a model with the calibration's templates, joined with the strokes of the take nearest to each."""
    matched = _match_calibration(model.templates, calibration)
    names = frozenset(calibration.strokes)
    calibrated = replace(model, templates=matched, calibrated=names)
    distances = {surfaces: calibrated.measure_distances(surfaces) for surfaces in matched}
    nearest = np.min([values for values in distances.values() if values is not None], axis=0)
    templates = dict(model.templates)
    for surfaces, template in matched.items():
        values = distances[surfaces]
        members = [
            onset
            for onset in by_surfaces.get(surfaces, ())
            if values is not None and values[onset] <= nearest[onset]
        ]
        templates[surfaces] = _add_members(template, model.timbres, members)
    return replace(model, templates=templates, calibrated=names)


def _add_members(template: TimbreTemplate, timbres: Floats, members: Sequence[int]) -> TimbreTemplate:
    """Return a calibration's template with strokes of the take added."""
    if not members:
        return template
    count = template.count + len(members)
    mean = (template.mean * template.count + timbres[list(members)].sum(axis=0)) / count
    return TimbreTemplate(mean=mean, count=count, members=tuple(members))


def _match_calibration(
    templates: Mapping[Surfaces, TimbreTemplate], calibration: Calibration
) -> dict[Surfaces, TimbreTemplate]:
    """Return the calibration's templates, matched to the take's gain and tone."""
    means = {frozenset({name}): mean for name, mean in calibration.calculate_median_timbres().items()}
    both = [(surfaces, means[surfaces]) for surfaces in templates if surfaces in means]
    gain, tone = 0.0, np.zeros(calibration.timbre_size)
    if both:
        weights = np.array([min(templates[surfaces].count, _MOST_COUNTED_STROKES) for surfaces, _ in both])
        away = np.array([templates[surfaces].mean - mean for surfaces, mean in both])
        gain = float(np.average(np.median(away, axis=1), weights=weights))
        tone = weights @ (away - gain) / (weights.sum() + _TONE_PRIOR_STROKES)
    return {
        surfaces: TimbreTemplate(mean=mean + gain + tone, count=_CALIBRATED_STROKES)
        for surfaces, mean in means.items()
    }
