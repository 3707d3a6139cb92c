"""Kits from above."""

from __future__ import annotations

import pytest

from fillwright.craft.kits import Spot, find_kit, kits
from fillwright.errors import UnknownNameError
from fillwright.music.surfaces import surfaces


def test_every_surface_of_every_kit_can_be_struck_and_has_a_size() -> None:
    for kit in kits().values():
        assert set(kit.spots) <= set(surfaces())
        assert all(spot.size > 0 for spot in kit.spots.values())
        assert {"snare", "kick"} <= set(kit.spots)


def test_kits_have_the_drums_their_names_promise() -> None:
    toms = {name: sum("tom" in spot for spot in kit.spots) for name, kit in kits().items()}
    assert (toms["four-piece"], toms["five-piece"], toms["six-piece"], toms["practice pad"]) == (2, 3, 4, 0)


def test_a_left_handed_kit_is_the_five_piece_the_other_way_round() -> None:
    left, right = find_kit("left-handed"), find_kit("five-piece")
    assert left.mirrored
    assert {name: -spot.x for name, spot in left.spots.items()} == {
        name: spot.x for name, spot in right.spots.items()
    }
    assert left.mirror().spots == right.spots


def test_the_open_handed_player_has_the_ride_on_the_left() -> None:
    kit = find_kit("open-handed")
    assert kit.spot("ride bow").x < kit.spot("hi-hat").x < 0


def test_a_kit_or_a_surface_nobody_knows() -> None:
    with pytest.raises(UnknownNameError, match='no kit called "six-pice"; did you mean "six-piece"'):
        find_kit("six-pice")
    with pytest.raises(UnknownNameError, match="no surface on the practice pad kit called"):
        find_kit("practice pad").spot("crash")


def test_distance_is_from_middle_to_middle() -> None:
    assert Spot(x=0, y=0, size=36).distance_cm(Spot(x=-3, y=4, size=10)) == 5
