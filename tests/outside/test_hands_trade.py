"""Stickings that the trade plays because nothing else goes.

Source: Common practice
"""

from __future__ import annotations

import pytest

from fillwright.craft.player.kits import find_kit
from fillwright.craft.player.motion import Motion
from fillwright.craft.player.players import find_player
from fillwright.craft.sticking.hands import UnassignedStroke, find_hands


def hands(surfaces: list[str], gap: float, accents: tuple[int, ...] = ()) -> str:
    motion = Motion(find_kit("five-piece"), find_player("gigging"))
    strokes = [
        UnassignedStroke(at_seconds=n * gap, surface=name, velocity=112 if n in accents else 80)
        for n, name in enumerate(surfaces)
    ]
    return " ".join(each.limb.value for each in find_hands(strokes, motion).strokes)


# fast enough that alternating hands would have to travel too far between neighbours
@pytest.mark.parametrize("tempo", [130, 140, 150])
def test_a_paradiddle_with_its_accents_on_two_toms(tempo: int) -> None:
    bar = ["floor tom", "snare", "snare", "snare", "high tom", "snare", "snare", "snare"] * 2
    bar.append("floor tom")
    assert hands(bar, 60 / tempo / 4) == "R L R R L R L L R L R R L R L L R"


@pytest.mark.parametrize("tempo", [100, 110, 120])
def test_a_six_stroke_roll_between_floor_tom_and_snare(tempo: int) -> None:
    beat = ["floor tom", "snare", "snare", "snare", "snare", "snare"]
    accents = tuple(n for n in range(25) if n % 6 in (0, 5))
    found = hands([*beat * 4, "floor tom"], 60 / tempo / 6, accents=accents)
    assert found == " ".join([*["R L L R R L"] * 4, "R"])


@pytest.mark.parametrize("gap", [0.1, 0.125, 0.15, 0.2])
def test_a_single_stroke_roll_on_the_snare_alternates(gap: float) -> None:
    assert hands(["snare"] * 16, gap) == " ".join(["R L"] * 8)


def test_a_double_stroke_roll_where_singles_are_too_fast() -> None:
    assert hands(["snare"] * 16, 0.058).replace(" ", "")[2:14] in (
        "RRLLRRLLRRLL",
        "LLRRLLRRLLRR",
        "LRRLLRRLLRRL",
        "RLLRRLLRRLLR",
    )


def test_right_on_the_floor_tom_and_left_on_the_hi_hat() -> None:
    assert hands(["floor tom", "hi-hat"] * 8, 0.12) == " ".join(["R L"] * 8)
