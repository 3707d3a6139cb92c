"""Which surface an onset sounds like: templates learned from the take itself, better with a calibration.

Idea: a colour is a row of band levels in dB. What is matched says which colours belong to which surfaces, so
templates come from the take through the match and fit a kit never heard before; strokes at one moment add up in
power. How much colours of one surface differ among themselves is pooled over all surfaces (linear discriminant
analysis, the covariance drawn towards one that stroke strength explains). A calibration gives each surface a
template of its own before anything is matched; its gain and tone are first moved to the take's.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from fillwright.listen.calibration import Calibration

Floats = npt.NDArray[np.float64]
Struck = frozenset[str]
"""What is struck at one moment."""

_LEAST = 2
_CALIBRATED_COUNTS = 4.0
_PRIOR_COUNTS = 24.0
_FEATURE_DB, _GAIN_DB, _SMOOTH_DB, _SMOOTH_BANDS = 3.0, 4.0, 3.0, 2.0
_CLIP_DB = 12.0
_UNSURE_TEMPLATE = 1.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Template:
    """The usual colour of what is struck at one moment, and how many strokes speak for it."""

    mean: Floats
    count: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Colours:
    """What is known of a take's colours.

    Attributes:
        rows: of every onset, shape (onsets, features).
        templates: by what is struck.
        whitening: turns a difference of colours into independent numbers of spread 1.
        calibrated: surfaces whose template a calibration vouches for.
    """

    rows: Floats
    templates: Mapping[Struck, Template]
    whitening: Floats
    calibrated: frozenset[str]

    def distance(self, struck: Struck) -> Floats | None:
        """Of every onset to the colour of something struck, squared and in spreads; None where unknown.

        The fewer strokes speak for a template, the wider it is.
        """
        template = self.templates.get(struck) or self._composed(struck)
        if template is None:
            return None
        away = (self.rows - template.mean) @ self.whitening.T
        wide = 1.0 + _UNSURE_TEMPLATE / template.count
        size = self.rows.shape[1]
        return np.asarray(np.square(away).sum(axis=1) / wide + size * np.log(wide))

    def _composed(self, struck: Struck) -> Template | None:
        """What surfaces sound like together, their powers added."""
        parts = [self.templates.get(frozenset({name})) for name in struck]
        if len(parts) < 2 or any(part is None for part in parts):
            return None
        known = [part for part in parts if part is not None]
        power = sum(10 ** (part.mean / 10) for part in known)
        return Template(mean=10 * np.log10(power), count=min(part.count for part in known) / 2)


def learned(rows: Floats, met: Sequence[tuple[Struck, int]], calibration: Calibration | None) -> Colours | None:
    """The colours of a take; None where it has none (an electronic kit) or nothing is matched.

    Args:
        rows: of every onset, shape (onsets, features).
        met: what was struck by the match, and its onset.
        calibration: of the kit; None without one.
    """
    by_struck: dict[Struck, list[int]] = {}
    for struck, onset in met:
        by_struck.setdefault(struck, []).append(onset)
    if not rows.size or not by_struck:
        return None
    templates = {
        struck: Template(mean=_middle(rows[own]), count=float(len(own)))
        for struck, own in by_struck.items()
        if len(own) >= _LEAST
    }
    whitening = _whitening(rows, by_struck, templates)
    calibrated: frozenset[str] = frozenset()
    if calibration is not None and calibration.features == rows.shape[1]:
        templates |= _with_calibration(templates, calibration)
        calibrated = frozenset(calibration.strokes)
    return Colours(rows=rows, templates=templates, whitening=whitening, calibrated=calibrated)


def _middle(rows: Floats) -> Floats:
    """The mean of rows, those far from the middle one counting less."""
    middle = np.median(rows, axis=0)
    away = np.sqrt(np.mean((rows - middle) ** 2, axis=1))
    weight = 1 / np.maximum(1.0, away / (1.5 * np.median(away) + 0.5)) ** 2
    return np.asarray(weight @ rows / weight.sum())


def _whitening(
    rows: Floats, by_struck: Mapping[Struck, Sequence[int]], templates: Mapping[Struck, Template]
) -> Floats:
    size = rows.shape[1]
    away = np.abs(np.arange(size)[:, None] - np.arange(size)[None, :])
    usual = (
        _FEATURE_DB**2 * np.eye(size)
        + _GAIN_DB**2 * np.ones((size, size))
        + _SMOOTH_DB**2 * np.exp(-away / _SMOOTH_BANDS)
    )
    total, counts = _PRIOR_COUNTS * usual, _PRIOR_COUNTS
    for struck, own in by_struck.items():
        if len(own) >= 4:
            rest = np.clip(rows[own] - templates[struck].mean, -_CLIP_DB, _CLIP_DB)
            total = total + rest.T @ rest
            counts += len(own) - 1
    return np.asarray(np.linalg.inv(np.linalg.cholesky(total / counts)))


def _with_calibration(templates: Mapping[Struck, Template], calibration: Calibration) -> dict[Struck, Template]:
    """The calibration's templates, moved to the take's gain and tone and joined with what the take says."""
    known = {frozenset({name}): mean for name, mean in calibration.means().items()}
    both = [(struck, known[struck]) for struck in templates if struck in known]
    weights = np.array([min(templates[struck].count, 12.0) for struck, _ in both])
    size = calibration.features
    if both:
        away = np.array([templates[struck].mean - mean for struck, mean in both])
        gain = float(np.average(np.median(away, axis=1), weights=weights))
        tone = weights @ (away - gain) / (weights.sum() + 20.0)
    else:
        gain, tone = 0.0, np.zeros(size)
    made = {}
    for struck, mean in known.items():
        moved, own = mean + gain + tone, templates.get(struck)
        count = own.count if own else 0.0
        whole = _CALIBRATED_COUNTS + count
        joined = (moved * _CALIBRATED_COUNTS + (own.mean * count if own else 0.0)) / whole
        made[struck] = Template(mean=joined, count=whole)
    return made
