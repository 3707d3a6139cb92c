"""Which surface an onset sounds like: templates learned from the take itself, better with a calibration.

Idea: a colour is a row of band levels in dB. What is matched says which colours belong to which surfaces, so
templates come from the take through the match and fit a kit never heard before; strokes at one moment add up in
power. How much colours of one surface differ among themselves is pooled over all surfaces (linear discriminant
analysis, the covariance drawn towards one that stroke strength explains). A calibration gives each surface a
template of its own before anything is matched; its gain and tone are first moved to the take's.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
import numpy.typing as npt

from fillwright.listen.calibration import Calibration

Floats = npt.NDArray[np.float64]
Struck = frozenset[str]
"""What is struck at one moment."""

_LEAST = 2
_CALIBRATED_COUNTS = 12.0
_PRIOR_COUNTS = 150.0
_FEATURE_DB, _GAIN_DB, _SMOOTH_DB, _SMOOTH_BANDS = 3.0, 4.0, 3.0, 2.0
_ROUNDS, _TAIL = 3, 10.0
_UNSURE_TEMPLATE = 1.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Template:
    """The usual colour of what is struck at one moment.

    Attributes:
        mean: the colour.
        count: how many strokes speak for it.
        members: which of the take's onsets are among them.
    """

    mean: Floats
    count: float
    members: tuple[int, ...] = ()


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
    _distances: dict[Struck, Floats | None] = field(default_factory=dict, init=False, repr=False)

    def distance(self, struck: Struck) -> Floats | None:
        """Of every onset to the colour of something struck, squared and in spreads; None where unknown.

        The fewer strokes speak for a template, the wider it is; an onset does not speak for itself. Worked out
        once for all onsets, as every stroke of a long take asks for it; read-only.
        """
        if struck not in self._distances:
            self._distances[struck] = self._worked_out(struck)
        return self._distances[struck]

    def _worked_out(self, struck: Struck) -> Floats | None:
        template = self.templates.get(struck) or self._composed(struck)
        if template is None:
            return None
        away = (self.rows - template.mean) @ self.whitening.T
        own = np.zeros(len(self.rows), dtype=bool)
        own[list(template.members)] = True
        count = np.where(own, template.count - 1.0, template.count)
        away[own] *= template.count / np.maximum(count[own], 0.5)[:, None]
        wide = 1.0 + _UNSURE_TEMPLATE / np.maximum(count, 0.5)
        made = np.asarray(np.square(away).sum(axis=1) / wide + self.rows.shape[1] * np.log(wide))
        made.flags.writeable = False
        return made

    def _composed(self, struck: Struck) -> Template | None:
        """What surfaces sound like together, their powers added as if they were equally loud."""
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
        struck: Template(mean=_middle(rows[own]), count=float(len(own)), members=tuple(own))
        for struck, own in by_struck.items()
        if len(own) >= _LEAST
    }
    whitening = _whitening(rows, by_struck, templates)
    made = Colours(rows=rows, templates=templates, whitening=whitening, calibrated=frozenset())
    if calibration is None or calibration.features != rows.shape[1]:
        return made
    return _calibrated(made, by_struck, calibration)


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
    sets = [(struck, own) for struck, own in by_struck.items() if len(own) >= 4]
    rest = np.concatenate([rows[own] - templates[struck].mean for struck, own in sets] or [np.zeros((0, size))])
    made = np.linalg.inv(np.linalg.cholesky(usual))
    for _ in range(_ROUNDS):
        weight = (_TAIL + size) / (_TAIL + np.square(rest @ made.T).sum(axis=1))
        total = _PRIOR_COUNTS * usual + (rest * weight[:, None]).T @ rest
        made = np.linalg.inv(np.linalg.cholesky(total / (_PRIOR_COUNTS + len(rest))))
    return np.asarray(made)


def _calibrated(made: Colours, by_struck: Mapping[Struck, Sequence[int]], calibration: Calibration) -> Colours:
    """Colours with the calibration's templates, and what of the take is nearest to its own of them."""
    moved = _moved(made.templates, calibration)
    names = frozenset(calibration.strokes)
    only = replace(made, templates=moved, calibrated=names)
    distances = {struck: only.distance(struck) for struck in moved}
    nearest = np.min([one for one in distances.values() if one is not None], axis=0)
    templates = dict(made.templates)
    for struck, template in moved.items():
        own = distances[struck]
        members = [one for one in by_struck.get(struck, ()) if own is not None and own[one] <= nearest[one]]
        templates[struck] = _joined(template, made.rows, members)
    return replace(made, templates=templates, calibrated=names)


def _joined(template: Template, rows: Floats, members: Sequence[int]) -> Template:
    """A calibration's template joined with strokes of the take."""
    if not members:
        return template
    whole = template.count + len(members)
    mean = (template.mean * template.count + rows[list(members)].sum(axis=0)) / whole
    return Template(mean=mean, count=whole, members=tuple(members))


def _moved(templates: Mapping[Struck, Template], calibration: Calibration) -> dict[Struck, Template]:
    """The calibration's templates, moved to the take's gain and tone."""
    known = {frozenset({name}): mean for name, mean in calibration.means().items()}
    both = [(struck, known[struck]) for struck in templates if struck in known]
    gain, tone = 0.0, np.zeros(calibration.features)
    if both:
        weights = np.array([min(templates[struck].count, 12.0) for struck, _ in both])
        away = np.array([templates[struck].mean - mean for struck, mean in both])
        gain = float(np.average(np.median(away, axis=1), weights=weights))
        tone = weights @ (away - gain) / (weights.sum() + 20.0)
    return {
        struck: Template(mean=mean + gain + tone, count=_CALIBRATED_COUNTS) for struck, mean in known.items()
    }
