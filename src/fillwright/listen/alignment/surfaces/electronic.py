"""Assignment for an electronic kit, whose surfaces are facts.

Strokes are assigned surface by surface; what remains on both sides is then assigned across surfaces, hands with
hands and feet with feet: played, but on another surface.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
import numpy.typing as npt

from fillwright.listen.alignment.assign import (
    GRACE_MOST_SECONDS,
    IMPOSSIBLE_COST,
    AssignableOnsets,
    assign_onsets,
    calculate_time_cost,
)
from fillwright.listen.alignment.repetitions import REACH_SECONDS, AlignmentProblem
from fillwright.listen.alignment.tempo_map import TempoMap
from fillwright.listen.written import WrittenStroke
from fillwright.music.surfaces import load_surfaces

Floats = npt.NDArray[np.float64]

_OTHER_SURFACE_COST = 1.5  # of a stroke on another surface, in the costs of `assign`; ours, not measured


def assign_by_surface(
    problem: AlignmentProblem, tempo_map: TempoMap, deviation_seconds: float
) -> dict[int, int]:
    """Return the onset of each written stroke that was played, by its index.

    Args:
        problem: the phrase and the take.
        tempo_map: of the repetition.
        deviation_seconds: standard deviation of the player.
    """
    written, played = problem.moments.written.strokes, problem.onsets.surfaces
    expected = tempo_map.map_to_take(np.array([stroke.seconds for stroke in written]))
    assigned: dict[int, int] = {}
    for name in sorted({stroke.surface for stroke in written}):
        strokes = [index for index, stroke in enumerate(written) if stroke.surface == name]
        onsets = [number for number, surface in enumerate(played) if surface == name]
        assigned |= _assign_strokes(problem, strokes, onsets, (expected, deviation_seconds, 0.0))
    for by_foot in (True, False):
        strokes = [
            index
            for index, stroke in enumerate(written)
            if index not in assigned and stroke.grace_of is None and _is_by_foot(stroke.surface) == by_foot
        ]
        used = set(assigned.values())
        onsets = [
            number
            for number, surface in enumerate(played)
            if number not in used and _is_by_foot(surface) == by_foot and not problem.onsets.doubtful[number]
        ]
        assigned |= _assign_strokes(
            problem, strokes, onsets, (expected, deviation_seconds, _OTHER_SURFACE_COST)
        )
    return assigned | _assign_moved_graces(problem, assigned)


def _assign_moved_graces(problem: AlignmentProblem, assigned: Mapping[int, int]) -> dict[int, int]:
    """Return the onsets of grace notes that moved to another surface with their main note."""
    onsets, strokes = problem.onsets, problem.moments.written.strokes
    used = set(assigned.values())
    moved: dict[int, int] = {}
    for index in reversed(range(len(strokes))):
        main = strokes[index].grace_of
        if main is None or index in assigned or main not in assigned:
            continue
        onset = assigned[main]
        low = int(np.searchsorted(onsets.seconds, onsets.seconds[onset] - GRACE_MOST_SECONDS))
        near = [
            number
            for number in range(low, onset)
            if number not in used and onsets.surfaces[number] == onsets.surfaces[onset]
        ]
        if near:
            moved[index] = near[-1]
            used.add(near[-1])
    return moved


def _is_by_foot(name: str) -> bool:
    surface = load_surfaces().get(name)
    return surface is not None and surface.foot is not None


def _assign_strokes(
    problem: AlignmentProblem,
    strokes: Sequence[int],
    onsets: Sequence[int],
    settings: tuple[Floats, float, float],
) -> dict[int, int]:
    """Assign onsets to written strokes, grace notes together with their main notes.

    Args:
        problem: the phrase and the take.
        strokes: indices of the written strokes.
        onsets: numbers of the onsets.
        settings: expected seconds of all strokes, the player's deviation, the cost added to every pair.
    """
    written = problem.moments.written.strokes
    expected, deviation, added_cost = settings
    mains = [index for index in strokes if written[index].grace_of not in strokes]
    if not mains or not onsets:
        return {}
    graces = [[index for index in strokes if written[index].grace_of == main] for main in mains]
    seconds = problem.onsets.seconds[onsets]
    away = seconds[None, :] - expected[mains][:, None]
    costs = calculate_time_cost(away, deviation) + added_cost
    costs[np.abs(away) > REACH_SECONDS] = IMPOSSIBLE_COST
    assignable = AssignableOnsets(
        seconds=seconds,
        extra_costs=problem.extra_costs[onsets],
        loudness_db=problem.onsets.loudness_db[onsets],
        confidence=problem.onsets.confidence[onsets],
    )
    leads = [_list_leads(written, main, before) for main, before in zip(mains, graces, strict=True)]
    assignment = assign_onsets(leads, assignable, costs)
    assigned = {}
    for main, before, onset, grace_onsets in zip(
        mains, graces, assignment.mains, assignment.graces, strict=True
    ):
        if onset >= 0:
            assigned[main] = onsets[onset]
            pairs = zip(before[::-1], grace_onsets[::-1], strict=False)
            assigned |= {index: onsets[number] for index, number in pairs}
    return assigned


def _list_leads(written: Sequence[WrittenStroke], main: int, graces: Sequence[int]) -> Floats:
    return np.array([written[main].seconds - written[grace].seconds for grace in graces])
