"""What an onset's colour says of a moment: on what it was struck, and whether a part of it is missing."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from itertools import combinations

import numpy as np

from fillwright.listen.alignment.moments import Moment
from fillwright.listen.alignment.templates import Colours, Struck

_TAIL, _SIZE = 20.0, 30.0
"""Of Student's distribution: colours masked by what rang before lie far from every template."""

_WRONG, _ABSENT = 0.06, 0.05
_RIVALS = 3
_UNCALIBRATED = 0.5
"""The most that is trusted of another surface without a calibration."""

_SURELY_ABSENT = 0.85


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """What is heard of a moment.

    Attributes:
        surfaces: by what is written, what it sounds like; not there where it can't be told.
        confidence: 0 to 1, how sure that is.
        absent: written surfaces that surely were not struck.
    """

    surfaces: dict[str, str]
    confidence: float
    absent: frozenset[str] = frozenset()


NOTHING = Told(surfaces={}, confidence=0.0)


def told(colours: Colours, moment: Moment, onset: int) -> Told:
    """What the colour of an onset says of the moment that it was matched with.

    Args:
        colours: of the take.
        moment: what is written.
        onset: its number among the rows of colours.
    """
    written = moment.surfaces
    if colours.distance(written) is None:
        return NOTHING
    others = _parts(written) if len(written) > 1 else _others(colours, written)
    prior = _ABSENT if len(written) > 1 else _WRONG
    chances = _chances(colours, (written, *others), onset, prior)
    best = max(chances, key=lambda struck: chances[struck])
    if best == written:
        return Told(surfaces={name: name for name in written}, confidence=chances[best])
    if len(written) > 1:
        absent = {
            name for name in written if sum(p for s, p in chances.items() if name not in s) > _SURELY_ABSENT
        }
        return Told(
            surfaces={name: name for name in written - absent}, confidence=chances[best], absent=frozenset(absent)
        )
    (name,), (sounds,) = tuple(written), tuple(best)
    sure = sounds in colours.calibrated
    return Told(surfaces={name: sounds}, confidence=chances[best] * (1.0 if sure else _UNCALIBRATED))


def _parts(written: Struck) -> Iterable[Struck]:
    """What is left of several surfaces where some are missing."""
    return [frozenset(part) for size in range(1, len(written)) for part in combinations(sorted(written), size)]


def _others(colours: Colours, written: Struck) -> Iterable[Struck]:
    """Other single surfaces that are known well enough."""
    return [
        struck
        for struck, template in colours.templates.items()
        if len(struck) == 1 and struck != written and (template.count >= 3 or struck <= colours.calibrated)
    ]


def _chances(colours: Colours, tried: Iterable[Struck], onset: int, prior: float) -> dict[Struck, float]:
    """How likely each of several things is, the first one before it is heard by far the likeliest."""
    logs: dict[Struck, float] = {}
    for struck in tried:
        distance = colours.distance(struck)
        if distance is not None:
            logs[struck] = -0.5 * (_TAIL + _SIZE) * float(np.log1p(max(distance[onset], 0.0) / _TAIL))
    first, rest = next(iter(logs)), max(1, min(len(logs) - 1, _RIVALS))
    for struck in logs:
        logs[struck] += float(np.log(1 - prior if struck == first else prior / rest))
    top = max(logs.values())
    total = sum(np.exp(value - top) for value in logs.values())
    return {struck: float(np.exp(value - top) / total) for struck, value in logs.items()}
