"""Families of routes in teaching order: the usual ways to move a figure around the kit (common practice)."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import replace

from fillwright.craft.chains.chain import Chain, PlacedStroke
from fillwright.craft.routes.cymbal_families import orchestrate_cymbals, orchestrate_kick
from fillwright.craft.routes.flam_families import orchestrate_split_flams
from fillwright.craft.routes.hand_families import orchestrate_accents, orchestrate_apart, orchestrate_mirror
from fillwright.craft.routes.laying import (
    Orchestrations,
)
from fillwright.craft.routes.round_families import (
    orchestrate_by_position,
    orchestrate_one_surface,
    orchestrate_round,
    orchestrate_up,
)
from fillwright.craft.routes.route import Family, Orchestration, Route, RouteBuilder, RoutedStroke, Setting

TEACHING_ORDER = tuple(family for family in Family if family is not Family.SEARCH)
"""The families, first to last."""


def find_family_routes(
    chain: Chain, setting: Setting, families: Iterable[Family] = TEACHING_ORDER
) -> tuple[Route, ...]:
    """Return every route of some families that is playable at the setting's tempo, in order, no two alike.

    Raises:
        TempoError: for a tempo that can't be played.
    """
    builder = RouteBuilder(setting)
    routes: list[Route] = []
    seen: set[tuple[object, object]] = set()
    for family in families:
        for orchestration in orchestrate(chain, setting, family):
            route = builder.build(orchestration)
            if route is not None and (route.hits, route.graces_on) not in seen:
                seen.add((route.hits, route.graces_on))
                routes.append(route)
    return tuple(routes)


def orchestrate(chain: Chain, setting: Setting, family: Family) -> Iterator[Orchestration]:
    """Yield the orchestrations of one family on a kit, playable or not; none for `Family.SEARCH`."""
    strokes = tuple(chain.place_strokes())
    if strokes and family in _BUILDERS:
        for words, surfaces in _BUILDERS[family](strokes, setting):
            yield Orchestration(
                family=family, words=words, strokes=tuple(_send_feet_to_kick(stroke) for stroke in surfaces)
            )


def _send_feet_to_kick(stroke: RoutedStroke) -> RoutedStroke:
    """Return a stroke of a foot on the kick, and any other as it is."""
    return replace(stroke, surface="kick") if stroke.placed.stroke.hand.is_foot else stroke


_BUILDERS: dict[Family, Callable[[Sequence[PlacedStroke], Setting], Orchestrations]] = {
    Family.ONE_SURFACE: orchestrate_one_surface,
    Family.ROUND: orchestrate_round,
    Family.ACCENTS: orchestrate_accents,
    Family.APART: orchestrate_apart,
    Family.BY_POSITION: orchestrate_by_position,
    Family.CYMBALS: orchestrate_cymbals,
    Family.KICK: orchestrate_kick,
    Family.SPLIT_FLAMS: orchestrate_split_flams,
    Family.UP: orchestrate_up,
    Family.MIRRORED: orchestrate_mirror,
}
