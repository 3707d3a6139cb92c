"""How loud strokes are: each against the usual tap of its surface.

What is heard of strokes at one moment is the level of the loudest of them; the others' levels can't be told.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from fillwright.listen.alignment.moments import Moment
from fillwright.listen.written import WrittenPhrase
from fillwright.music.stroke import Level

Met = tuple[Moment, float]
"""A moment and the level of its onset, in dB."""

CARRIES = {"kick": 2.0, "snare": 5.0, "crash": 5.0, "hi-hat": -4.0, "ride bow": -4.0, "foot hi-hat": -6.0}
"""How much louder than most a surface comes through, in dB, until the take itself says (ours, rough)."""

_LEAST_TAPS = 2
_CLEAR_DB = 4.0


def carrying(met: Sequence[Met]) -> dict[str, float]:
    """By surface, how loud it comes through in this take, as far as it is heard alone."""
    alone: dict[str, list[float]] = {}
    for moment, level in met:
        if len(moment.surfaces) == 1:
            alone.setdefault(next(iter(moment.surfaces)), []).append(level)
    made = {name: float(np.median(levels)) for name, levels in alone.items()}
    middle = float(np.median([made[name] - CARRIES.get(name, 0.0) for name in made])) if made else 0.0
    names = {name for moment, _ in met for name in moment.surfaces}
    return {name: made.get(name, middle + CARRIES.get(name, 0.0)) for name in names}


def loudest(moment: Moment, expected: WrittenPhrase, carries: Mapping[str, float]) -> int:
    """The written stroke of a moment whose level is heard."""
    return max(moment.mains, key=lambda index: carries.get(expected.strokes[index].surface, 0.0))


def clearly_loudest(moment: Moment, expected: WrittenPhrase, carries: Mapping[str, float]) -> int | None:
    """The same where nothing else comes near it; None where the level may be another surface's."""
    own = loudest(moment, expected, carries)
    top = carries.get(expected.strokes[own].surface, 0.0)
    others = moment.surfaces - {expected.strokes[own].surface}
    near = any(carries.get(name, 0.0) > top - _CLEAR_DB for name in others)
    return None if near else own


def usual_taps(expected: WrittenPhrase, met: Sequence[Met], carries: Mapping[str, float]) -> dict[str, float]:
    """By surface, the usual level of its taps in dB; only where there are some."""
    taps: dict[str, list[float]] = {}
    for moment, level in met:
        own = clearly_loudest(moment, expected, carries)
        if own is not None and expected.strokes[own].level is Level.TAP:
            taps.setdefault(expected.strokes[own].surface, []).append(level)
    return {name: float(np.median(levels)) for name, levels in taps.items() if len(levels) >= _LEAST_TAPS}
