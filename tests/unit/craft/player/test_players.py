"""Players: every time of a faster one is shorter."""

from __future__ import annotations

from dataclasses import fields
from itertools import pairwise

import pytest

from fillwright.craft.player.players import find_player, find_surface_factors, load_players
from fillwright.errors import UnknownNameError
from fillwright.music.surfaces import load_surfaces

SCALED = (
    "stroke_seconds",
    "rebound_seconds",
    "bit_seconds",
    "crossing_seconds",
    "reach_seconds",
    "kick_seconds",
    "kick_rebound_seconds",
)


def test_from_the_first_year_on_every_movement_gets_quicker() -> None:
    assert list(load_players()) == ["first-year", "steady", "gigging", "professional"]
    assert set(SCALED) <= {field.name for field in fields(find_player("steady"))}
    for slower, faster in pairwise(load_players().values()):
        assert all(getattr(slower, name) > getattr(faster, name) > 0 for name in SCALED)


def test_a_snare_gives_most_back_and_a_crash_least() -> None:
    assert find_surface_factors("snare") == (1.0, 1.0)
    rebounds = {name: find_surface_factors(name)[1] for name in load_surfaces()}
    assert min(rebounds.values()) == rebounds["snare"]
    assert max(rebounds.values()) == rebounds["crash"]
    toms = [rebounds[name] for name in ("high tom", "mid tom", "floor tom", "second floor tom")]
    assert toms == sorted(toms)


def test_an_unknown_player_is_refused() -> None:
    with pytest.raises(UnknownNameError, match='no player called "pro"'):
        find_player("pro")
