"""The family of routes with flams split between two drums."""

from __future__ import annotations

from collections.abc import Sequence

from fillwright.craft.chains.chain import PlacedStroke
from fillwright.craft.routes.laying import (
    Orchestrations,
    choose_by_hand,
    find_toms,
)
from fillwright.craft.routes.route import RoutedStroke, Setting
from fillwright.music.stroke import Kind


def orchestrate_split_flams(strokes: Sequence[PlacedStroke], setting: Setting) -> Orchestrations:
    """Yield flams with main and grace note on two drums."""
    toms = find_toms(setting)
    if toms is None or not any(placed.stroke.kind is Kind.FLAM for placed in strokes):
        return

    def split(placed: PlacedStroke, *, main_away: bool) -> RoutedStroke:
        if placed.stroke.kind is not Kind.FLAM:
            return RoutedStroke(placed=placed, surface="snare")
        if main_away:
            return RoutedStroke(placed=placed, surface=choose_by_hand(placed, setting, toms), graces_on="snare")
        # the grace note is the other hand's, so the toms change places
        return RoutedStroke(
            placed=placed, surface="snare", graces_on=choose_by_hand(placed, setting, (toms[1], toms[0]))
        )

    yield "flams split, the main note on the toms", [split(placed, main_away=True) for placed in strokes]
    yield "flams split, the grace note on the toms", [split(placed, main_away=False) for placed in strokes]
