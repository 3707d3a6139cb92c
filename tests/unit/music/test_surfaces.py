"""Surfaces: the table and the way into it."""

from __future__ import annotations

import re

import pytest

from fillwright.errors import UnknownNameError
from fillwright.music.stroke import Limb
from fillwright.music.surfaces import find_surface, load_surfaces


def test_every_surface_is_found_by_its_name() -> None:
    assert all(find_surface(name).name == name for name in load_surfaces())


def test_only_the_kick_and_the_foot_hi_hat_are_played_by_feet() -> None:
    feet = {s.name: s.foot for s in load_surfaces().values() if s.foot}
    assert feet == {"kick": Limb.RIGHT_FOOT, "foot hi-hat": Limb.LEFT_FOOT}


def test_surfaces_are_drums_or_cymbals() -> None:
    assert find_surface("ride bell").is_cymbal
    assert not find_surface("rim").is_cymbal
    assert {s.kind for s in load_surfaces().values()} == {"drum", "cymbal"}


def test_drums_stand_in_the_table_from_the_lowest_up_then_cymbals() -> None:
    drums = [s.loc for s in load_surfaces().values() if not s.is_cymbal]
    assert drums == sorted(drums)
    kinds = [s.is_cymbal for s in load_surfaces().values()]
    assert kinds == sorted(kinds)


def test_no_two_surfaces_look_the_same_on_paper() -> None:
    looks = [(s.loc, s.head, s.mark) for s in load_surfaces().values()]
    assert len(set(looks)) == len(looks)


def test_no_two_surfaces_share_a_key_or_a_label() -> None:
    assert len({s.key for s in load_surfaces().values()}) == len(load_surfaces())
    assert len({s.label for s in load_surfaces().values()}) == len(load_surfaces())


def test_heads_and_marks_are_known_ones() -> None:
    assert {s.head for s in load_surfaces().values()} == {"", "x", "diamond", "circle-x"}
    assert {s.mark for s in load_surfaces().values()} == {"", "open"}


@pytest.mark.parametrize(
    ("name", "sentence"),
    [
        ("snair", 'There is no surface called "snair"; did you mean "snare"?'),
        ("qqqq", 'There is no surface called "qqqq"; use one of: kick, second floor tom, floor tom, '),
    ],
)
def test_an_unknown_surface_is_refused(name: str, sentence: str) -> None:
    with pytest.raises(UnknownNameError, match=f"^{re.escape(sentence)}"):
        find_surface(name)
