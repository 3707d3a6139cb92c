"""Readings: one turn in time, and what a meter makes of a figure's rhythms."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest

from fillwright.craft.readings import Reading, rhythms_held, rhythms_in
from fillwright.errors import FitError
from fillwright.music.meter import meter
from fillwright.music.rudiments import find_figure, rhythm
from fillwright.music.sticking import format_sticking, parse_sticking
from fillwright.music.stroke import Limb

PARADIDDLE = find_figure("single paradiddle")


def read(lead: Limb) -> Reading:
    return Reading(figure=PARADIDDLE, lead=lead, lengths=PARADIDDLE.rhythms[0].lengths)


def test_a_reading_is_as_long_as_its_places() -> None:
    assert read(Limb.RIGHT).length == Fraction(1, 4)


@pytest.mark.parametrize(
    ("lead", "sticking", "last"), [(Limb.RIGHT, "R> L R R", Limb.RIGHT), (Limb.LEFT, "L> R L L", Limb.LEFT)]
)
def test_a_reading_from_either_hand(lead: Limb, sticking: str, last: Limb) -> None:
    assert format_sticking(read(lead).slots) == sticking
    assert read(lead).last_hand is last


def test_the_last_hand_is_that_of_the_last_stroke_and_not_of_a_rest() -> None:
    strokes = parse_sticking("R L - -")
    rested = replace(PARADIDDLE, strokes=strokes)
    assert Reading(figure=rested, lead=Limb.RIGHT, lengths=PARADIDDLE.rhythms[0].lengths).last_hand is Limb.LEFT


def names(figure: str, meter_name: str) -> list[str]:
    return [rhythm.name for rhythm in rhythms_in(find_figure(figure), meter(meter_name))]


@pytest.mark.parametrize("name", ["2/4", "3/4", "4/4", "5/4"])
def test_a_meter_of_quarters_takes_every_rhythm(name: str) -> None:
    assert rhythms_in(PARADIDDLE, meter(name)) == PARADIDDLE.rhythms


@pytest.mark.parametrize("name", ["6/8", "9/8", "12/8"])
def test_triplets_are_eighths_in_a_meter_of_dotted_quarters(name: str) -> None:
    assert names("flam accent", name) == ["eighths", "sixteenths"]
    assert names("single stroke four", name) == [
        "three sixteenths and a dotted eighth",
        "three eighths and a dotted quarter",
    ]
    assert names("flam drag", name)[0] == "an eighth, two sixteenths and an eighth"


def test_no_rhythm_stands_there_twice() -> None:
    lengths = [rhythm.lengths for rhythm in rhythms_in(find_figure("single stroke roll"), meter("6/8"))]
    assert len(set(lengths)) == len(lengths)


def test_seven_eight_has_no_triplets() -> None:
    assert names("flam accent", "7/8") == ["sixteenths", "eighths"]
    assert names("single stroke four", "7/8") == []


def test_triplets_beside_dots_have_no_single_notes_in_a_meter_of_dotted_quarters() -> None:
    mixed = replace(find_figure("flam tap"), rhythms=(rhythm("8t 4.", 2), rhythm("16", 2)))
    assert [r.name for r in rhythms_in(mixed, meter("6/8"))] == ["sixteenths"]


def test_rhythms_held_are_those_of_the_meter() -> None:
    flam_accent = find_figure("flam accent")
    assert rhythms_held(flam_accent, meter("7/8")) == rhythms_in(flam_accent, meter("7/8"))


def test_a_figure_in_triplets_only_has_no_room_in_seven_eight() -> None:
    with pytest.raises(
        FitError, match=r"^single stroke four goes in triplets only, and 7/8 has no room for them"
    ):
        rhythms_held(find_figure("single stroke four"), meter("7/8"))


def test_a_figure_without_rhythms_is_told_so() -> None:
    with pytest.raises(FitError, match=r"^single paradiddle has no rhythm; give it"):
        rhythms_held(replace(PARADIDDLE, rhythms=()), meter("4/4"))
