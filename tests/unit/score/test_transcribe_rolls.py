"""Rolls abbreviated: which runs of thirty-seconds become one note with strokes through its stem."""

from __future__ import annotations

from fractions import Fraction

import pytest

from fillwright.music.hit import Hit
from fillwright.music.meter import find_meter
from fillwright.music.sticking import parse_sticking
from fillwright.music.surfaces import find_surface
from fillwright.score.transcribe import shorten_rolls


def run(sticking: str, start: str = "0", length: str = "1/32", drum: str = "snare") -> list[Hit]:
    step = Fraction(length)
    return [
        Hit(at=Fraction(start) + number * step, length=step, stroke=stroke, surface=find_surface(drum))
        for number, stroke in enumerate(parse_sticking(sticking))
        if stroke
    ]


def shorten(hits: list[Hit], name: str = "4/4") -> list[tuple[str, str, int]]:
    """Place, length and strokes through the stem of the hits that are left."""
    kept, slashes = shorten_rolls(hits, find_meter(name))
    return [(str(hit.at), str(hit.length), slashes.get(hit.at, 0)) for hit in kept]


@pytest.mark.parametrize(
    ("sticking", "start", "name", "wanted"),
    [
        ("R R L L R R L L", "0", "4/4", [("0", "1/4", 3)]),
        ("R R L L", "1/8", "4/4", [("1/8", "1/8", 2)]),
        ("R R L L R R L L R R L L R R L L", "1/4", "4/4", [("1/4", "1/4", 3), ("1/2", "1/4", 3)]),
        ("R R L L R R L L R R L L", "0", "6/8", [("0", "3/8", 3)]),
        ("R R L L R R L L R R L L R R L L", "1/4", "6/8", [("1/4", "1/8", 2), ("3/8", "3/8", 3)]),
        ("R R L L R R L L R R L L", "1/2", "7/8", [("1/2", "3/8", 3)]),
    ],
)
def test_doubles_become_one_note_a_beat(
    sticking: str, start: str, name: str, wanted: list[tuple[str, str, int]]
) -> None:
    assert shorten(run(sticking, start), name) == wanted


def test_the_strokes_round_a_roll_stay() -> None:
    five = [*run("R R L L"), *run("R>", "1/8", "1/8")]
    assert shorten(five) == [("0", "1/8", 2), ("1/8", "1/8", 0)]


@pytest.mark.parametrize(
    ("hits", "why"),
    [
        (run("R L R L R L R L"), "singles"),
        (run("R R R R L L L L"), "four of one hand"),
        (run("R R L L", length="1/16"), "sixteenths"),
        (run("R R L L R R"), "no note value of their length"),
        (run("R R"), "two strokes"),
        (run("R> R L L"), "an accent among them"),
        (run("R (R) L L"), "a ghost note among them"),
        (run("R Rz L L"), "a buzz among them"),
        (run("lR R L L"), "a flam among them"),
        (run("R R L L", "1/32"), "off the eighths"),
        ([*run("R R"), *run("L L", "1/16", drum="high tom")], "two drums"),
        ([*run("R R"), *run("L L", "3/32")], "a gap"),
    ],
    ids=lambda value: value if isinstance(value, str) else "",
)
def test_strokes_that_are_not_a_roll_stay(hits: list[Hit], why: str) -> None:
    assert shorten_rolls(hits, find_meter("4/4")) == (hits, {})
