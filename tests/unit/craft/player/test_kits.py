"""Kits from above."""

from __future__ import annotations

import pytest

from fillwright.craft.player.kits import PART_OF, Spot, find_kit, load_kits, read_kit
from fillwright.errors import FitError, UnknownNameError
from fillwright.music.surfaces import load_surfaces


def test_every_surface_of_every_kit_can_be_struck_and_has_a_size() -> None:
    for kit in load_kits().values():
        assert set(kit.spots) <= set(load_surfaces())
        assert all(spot.size > 0 for spot in kit.spots.values())
        assert {"snare", "kick"} <= set(kit.spots)


def test_kits_have_the_drums_their_names_promise() -> None:
    toms = {name: sum("tom" in spot for spot in kit.spots) for name, kit in load_kits().items()}
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


def test_an_unknown_kit_or_surface_is_refused() -> None:
    with pytest.raises(UnknownNameError, match='no kit called "six-pice"; did you mean "six-piece"'):
        find_kit("six-pice")
    with pytest.raises(UnknownNameError, match="no surface on the practice pad kit called"):
        find_kit("practice pad").spot("crash")


def test_distance_is_from_middle_to_middle() -> None:
    assert Spot(x=0, y=0, size=36).distance_cm(Spot(x=-3, y=4, size=10)) == 5


def test_a_written_kit_removes_and_adds_surfaces() -> None:
    splash = {"name": "splash", "at": [1, 100], "size": 20}
    made = read_kit("mine", {"without": ["china"], "surfaces": [splash]}, find_kit("five-piece"))
    assert set(made.spots) == set(find_kit("five-piece").spots) - {"china"}
    assert made.spot("splash") == Spot(x=1, y=100, size=20)
    assert (made.name, made.title, made.mirrored) == ("mine", "mine", False)
    assert find_kit("Mine", [made]) is made
    assert find_kit("Five Piece", [made]) is find_kit("five-piece")


def test_a_kit_made_from_the_left_handed_one_stays_so() -> None:
    made = read_kit("mine", {"without": ["china"]}, find_kit("left-handed"))
    assert made.mirrored
    assert made.spot("snare").x > 0


@pytest.mark.parametrize("needed", ["snare", "kick"])
def test_every_kit_needs_a_snare_and_a_kick(needed: str) -> None:
    without = [needed, *(part for part, whole in PART_OF.items() if whole == needed)]
    with pytest.raises(FitError, match=f"The mine kit has no {needed}; every kit needs a snare and a kick"):
        read_kit("mine", {"without": without}, find_kit("five-piece"))


@pytest.mark.parametrize(("part", "whole"), [pair for pair in PART_OF.items() if pair[1] != "snare"])
def test_a_part_of_a_surface_needs_the_surface(part: str, whole: str) -> None:
    others = [one for one in PART_OF if PART_OF[one] == whole and one != part]
    with pytest.raises(
        FitError, match=f"has the {part} but not the {whole} that it belongs to; leave out both"
    ):
        read_kit("mine", {"without": [whole, *others]}, find_kit("five-piece"))


def test_a_missing_surface_can_not_be_left_out() -> None:
    with pytest.raises(UnknownNameError, match='There is no surface to leave out called "china"'):
        read_kit("mine", {"without": ["china"]}, find_kit("four-piece"))
