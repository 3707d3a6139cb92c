from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from math import inf

import pytest

from fillwright.craft.player.motion import Demand
from fillwright.craft.routes.grade import (
    EASIEST,
    HARDEST,
    Load,
    describe_tightest_move,
    find_reference_player,
    grade_difficulty,
    rate_difficulty,
)
from fillwright.music.hit import Hit
from fillwright.music.meter import find_meter
from fillwright.music.phrase import Span
from fillwright.music.stroke import Kind, Limb, Stroke
from fillwright.music.surfaces import find_surface

EASY = Load(ceiling_bpm=200, surfaces=1, beat_travel_cm=0, crossings=0, length=Fraction(1, 4))
HARD = Load(
    ceiling_bpm=20, surfaces=9, beat_travel_cm=900, crossings=99, length=Fraction(64), doubled=True, alone=True
)


@pytest.mark.parametrize(
    "harder",
    [
        {"ceiling_bpm": 100.0},
        {"surfaces": 2},
        {"beat_travel_cm": 40.0},
        {"crossings": 2},
        {"length": Fraction(1)},
        {"doubled": True},
        {"alone": True},
    ],
    ids=lambda harder: next(iter(harder)),
)
def test_a_greater_load_is_never_easier(harder: dict[str, object]) -> None:
    assert rate_difficulty(replace(EASY, **harder)) > rate_difficulty(EASY)


def test_no_load_grades_one_and_a_full_load_ten() -> None:
    assert grade_difficulty(rate_difficulty(replace(EASY, ceiling_bpm=inf))) == EASIEST
    assert grade_difficulty(rate_difficulty(HARD)) == HARDEST


def test_going_to_a_second_surface_always_makes_a_grade() -> None:
    for bpm in range(20, 400, 7):
        one = replace(EASY, ceiling_bpm=float(bpm), length=Fraction(2))
        assert grade_difficulty(rate_difficulty(replace(one, surfaces=2))) > grade_difficulty(
            rate_difficulty(one)
        )


def test_the_reference_player_is_one_of_the_table() -> None:
    assert find_reference_player().name == "gigging"


def tightest(**changes: object) -> str:
    made = Demand(
        stroke=0,
        limb=Limb.RIGHT,
        surface="snare",
        before="snare",
        needed_seconds=0.1,
        gap=Fraction(1, 8),
        rebound=False,
        crossed=False,
    )
    kind = changes.pop("kind", Kind.SINGLE)
    stroke = Stroke(hand=Limb.RIGHT, kind=kind)
    hit = Hit(at=Fraction(0), length=Fraction(1, 8), stroke=stroke, surface=find_surface("snare"))
    span = Span(start=Fraction(3, 4), length=Fraction(1, 4))
    return describe_tightest_move((replace(made, **changes),), (hit,), span, find_meter("4/4"), 2.0)


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        ({}, "right hand strikes snare again in 250 ms on beat 4"),
        ({"rebound": True}, "right hand doubles on snare in 250 ms on beat 4"),
        ({"before": "crash"}, "right hand travels from crash to snare in 250 ms on beat 4"),
        ({"limb": Limb.RIGHT_FOOT}, "right foot strikes snare again in 250 ms on beat 4"),
        (
            {"limb": Limb.LEFT, "kind": Kind.FLAM},
            "left hand strikes snare again for a flam in 250 ms on beat 4",
        ),
        ({"kind": Kind.FLAM}, "right hand strikes snare again in 250 ms on beat 4"),
        (
            {"limb": Limb.LEFT, "kind": Kind.DRAG, "before": "high tom"},
            "left hand travels from high tom to snare for a drag in 250 ms on beat 4",
        ),
    ],
)
def test_the_reason_is_one_plain_sentence(changes: dict[str, object], sentence: str) -> None:
    assert tightest(**changes) == sentence


def test_without_demands_there_is_nothing_tight() -> None:
    span = Span(start=Fraction(0), length=Fraction(1))
    assert describe_tightest_move((), (), span, find_meter("4/4"), 2.0) == "no hand or foot strikes twice"
