"""Which stroke of an electronic kit is which written one: its surfaces are facts.

Strokes are assigned surface by surface; what is left over on both sides then meets across surfaces, hands with
hands and feet with feet: played, but on another surface.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
import numpy.typing as npt

from fillwright.listen.alignment.assign import FAR, GRACE_MOST_SECONDS, Taken, assigned, time_cost
from fillwright.listen.alignment.repetitions import REACH_SECONDS, Ground
from fillwright.listen.alignment.tempo_map import BarMap
from fillwright.listen.written import WrittenStroke
from fillwright.music.surfaces import load_surfaces

Floats = npt.NDArray[np.float64]

_OTHER_SURFACE = 1.5


def strokes_by_surface(base: Ground, fit: BarMap, scatter_seconds: float) -> dict[int, int]:
    """By the index of each written stroke that was played, its onset.

    Args:
        base: the phrase and the onsets.
        fit: where in the take the phrase lies.
        scatter_seconds: standard deviation of the hand.
    """
    written = base.plan.expected.strokes
    places = fit.played(np.array([one.seconds for one in written]))
    made: dict[int, int] = {}
    for name in sorted({one.surface for one in written}):
        own = [index for index, one in enumerate(written) if one.surface == name]
        onsets = [number for number, surface in enumerate(base.ears.surfaces) if surface == name]
        made |= _met(base, own, onsets, (places, scatter_seconds, 0.0))
    for by_foot in (True, False):
        own = [
            index
            for index, one in enumerate(written)
            if index not in made and one.grace_of is None and _by_foot(one.surface) == by_foot
        ]
        taken = set(made.values())
        onsets = [
            number
            for number, surface in enumerate(base.ears.surfaces)
            if number not in taken and _by_foot(surface) == by_foot and not base.ears.doubtful[number]
        ]
        made |= _met(base, own, onsets, (places, scatter_seconds, _OTHER_SURFACE))
    return made | _moved_graces(base, made)


def _moved_graces(base: Ground, made: Mapping[int, int]) -> dict[int, int]:
    """Grace notes that went along with a main note to another surface."""
    ears, strokes = base.ears, base.plan.expected.strokes
    taken = set(made.values())
    moved: dict[int, int] = {}
    for index in reversed(range(len(strokes))):
        main = strokes[index].grace_of
        if main is None or index in made or main not in made:
            continue
        onset = made[main]
        low = int(np.searchsorted(ears.seconds, ears.seconds[onset] - GRACE_MOST_SECONDS))
        near = [
            number
            for number in range(low, onset)
            if number not in taken and ears.surfaces[number] == ears.surfaces[onset]
        ]
        if near:
            moved[index] = near[-1]
            taken.add(near[-1])
    return moved


def _by_foot(name: str) -> bool:
    found = load_surfaces().get(name)
    return found is not None and found.foot is not None


def _met(
    base: Ground, own: Sequence[int], onsets: Sequence[int], by: tuple[Floats, float, float]
) -> dict[int, int]:
    """Written strokes and onsets assigned; grace notes among the strokes together with their main notes."""
    written = base.plan.expected.strokes
    places, scatter, price = by
    alone = [index for index in own if written[index].grace_of not in own]
    if not alone or not onsets:
        return {}
    graces = [[index for index in own if written[index].grace_of == main] for main in alone]
    seconds = base.ears.seconds[onsets]
    away = seconds[None, :] - places[alone][:, None]
    costs = time_cost(away, scatter) + price
    costs[np.abs(away) > REACH_SECONDS] = FAR
    taken = Taken(
        seconds=seconds,
        left_over=base.left_over[onsets],
        loudness_db=base.ears.loudness_db[onsets],
        confidence=base.ears.confidence[onsets],
    )
    ahead = [_ahead(written, main, before) for main, before in zip(alone, graces, strict=True)]
    pairs = assigned(
        ahead,
        taken,
        costs,
    )
    made = {}
    for main, before, onset, earlier in zip(alone, graces, pairs.mains, pairs.graces, strict=True):
        if onset >= 0:
            made[main] = onsets[onset]
            made |= {index: onsets[each] for index, each in zip(before[::-1], earlier[::-1], strict=False)}
    return made


def _ahead(written: Sequence[WrittenStroke], main: int, graces: Sequence[int]) -> Floats:
    return np.array([written[main].seconds - written[grace].seconds for grace in graces])
