"""A figure by itself: both leads, whole beats, bar by bar."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest

from fillwright.craft.rudiment_sheet import build_sheet_phrase
from fillwright.errors import FitError
from fillwright.music.figure import Figure
from fillwright.music.meter import find_meter
from fillwright.music.phrase import Part
from fillwright.music.rudiments import find_figure, load_rudiments, parse_rhythm
from fillwright.music.sticking import format_slot
from fillwright.score.transcribe import transcribe


def sticking(name: str) -> str:
    return " ".join(format_slot(hit.stroke) for hit in build_sheet_phrase(find_figure(name)).hits())


@pytest.mark.parametrize(
    ("name", "wanted"),
    [
        ("single paradiddle", "R> L R R L> R L L"),
        ("flam", "lR rL"),
        ("flam accent", "lR> L R rL> R L"),
        ("six stroke roll", "R> L L R R L> L> R R L L R>"),
        ("single stroke roll", "R L R L L R L R"),
        ("drag paradiddle #1", "R> llR L R R L> rrL R L L"),
    ],
)
def test_a_figure_from_the_right_and_from_the_left(name: str, wanted: str) -> None:
    assert sticking(name) == wanted


@pytest.mark.parametrize("figure", load_rudiments(), ids=lambda figure: figure.name)
def test_it_is_all_on_the_snare_without_groove_or_landing_and_ends_on_a_beat(figure: Figure) -> None:
    made = build_sheet_phrase(figure)
    assert {hit.surface.name for hit in made.hits()} == {"snare"}
    assert {bar.part for bar in made.bars} == {Part.FILL}
    assert made.span is None
    *_, last = made.hits()
    assert (last.at + last.length) % Fraction(1, 4) == 0
    assert all(0 <= hit.at < made.meter.bar for bar in made.bars for hit in bar.hits)


def test_a_long_figure_runs_over_bars() -> None:
    made = build_sheet_phrase(find_figure("seventeen stroke roll"))
    assert len(made.bars) == 2
    assert made.length == 2


def test_another_rhythm_and_meter() -> None:
    flam_tap = find_figure("flam tap")
    made = build_sheet_phrase(flam_tap, flam_tap.rhythms[1], meter=find_meter("3/4"))
    assert [hit.length for hit in made.hits()] == [Fraction(1, 8)] * 4
    assert made.meter.name == "3/4"


@pytest.mark.parametrize("name", ["6/8", "7/8", "12/8"])
def test_the_first_rhythm_that_the_meter_can_hold(name: str) -> None:
    made = build_sheet_phrase(find_figure("flam accent"), meter=find_meter(name))
    assert all(hit.length.denominator % 3 for hit in made.hits())
    assert transcribe(made)


def test_a_figure_without_a_rhythm_for_the_meter_is_refused() -> None:
    with pytest.raises(FitError, match=r"^single ratamacue has triplets only, and they don't fit 7/8"):
        build_sheet_phrase(find_figure("single ratamacue"), meter=find_meter("7/8"))


def test_a_figure_without_a_rhythm_is_refused() -> None:
    with pytest.raises(FitError, match=r'^flam has no rhythm; give it a rhythm, for example "16"'):
        build_sheet_phrase(replace(find_figure("flam"), rhythms=()))


def test_a_figure_that_ends_on_no_beat_is_played_once_from_each_hand() -> None:
    odd = replace(find_figure("flam"), alternates=False, rhythms=(parse_rhythm("32t", 1),))
    made = build_sheet_phrase(replace(odd, strokes=odd.strokes * 1))
    assert len(list(made.hits())) == 24
    never = replace(odd, rhythms=(replace(odd.rhythms[0], lengths=(Fraction(1, 52),)),))
    assert len(list(build_sheet_phrase(never).hits())) == 2
