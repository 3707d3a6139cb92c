"""Figures: leads, stickings and stroke counts."""

from __future__ import annotations

from fillwright.music.figure import Figure
from fillwright.music.rudiments import parse_rhythm
from fillwright.music.sticking import parse_sticking
from fillwright.music.stroke import Limb, mirror


def figure(sticking: str) -> Figure:
    strokes = parse_sticking(sticking)
    return Figure(name="mine", group="own", strokes=strokes, rhythms=(parse_rhythm("16", len(strokes)),))


def test_each_lead_starts_on_its_hand() -> None:
    mine = figure("R> L rrL -")
    assert mine.lead is Limb.RIGHT
    assert mine.lead_with(Limb.RIGHT) == mine.strokes
    assert mine.lead_with(Limb.LEFT) == mirror(mine.strokes)
    assert (mine.sticking, mine.sticking_left) == ("R> L rrL -", "L> R llR -")


def test_a_figure_written_from_the_left_is_turned_round_for_the_right() -> None:
    mine = figure("- L R")
    assert mine.lead is Limb.LEFT
    assert mine.lead_with(Limb.LEFT) == mine.strokes
    assert (mine.sticking, mine.sticking_left) == ("- R L", "- L R")


def test_grace_notes_and_rests_are_not_counted() -> None:
    assert figure("llR - lR L").main_strokes == 3
