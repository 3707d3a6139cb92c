"""A phrase in the terminal."""

from __future__ import annotations

from fractions import Fraction

import pytest

from fillwright.craft.rudiment_sheet import build_sheet_phrase
from fillwright.music.figure import Figure
from fillwright.music.grooves import find_groove
from fillwright.music.meter import find_meter
from fillwright.music.phrase import Bar, Part, Phrase, build_phrase
from fillwright.music.rudiments import find_figure, load_rudiments
from fillwright.music.sticking import parse_sticking
from fillwright.score.text import format_notation


def lines(name: str) -> list[str]:
    return format_notation(build_sheet_phrase(find_figure(name))).splitlines()


def test_hands_above_counts() -> None:
    assert lines("single paradiddle") == ["R> L R R | L> R L L |", "1  e & a | 2  e & a |"]


def test_strokes_without_a_count_have_a_gap_below() -> None:
    assert lines("five stroke roll") == ["R R L L R> | L L R R L> |", "1   e   &  | 2   e   &  |"]


@pytest.mark.parametrize("figure", load_rudiments(), ids=lambda figure: figure.name)
def test_the_upper_line_is_a_sticking_and_both_lines_are_as_long(figure: Figure) -> None:
    music = build_sheet_phrase(figure)
    rows = format_notation(music).splitlines()
    assert len(rows) == 2 * len(music.bars)
    for hands, counts in zip(rows[::2], rows[1::2], strict=True):
        assert len(hands) == len(counts)
        assert [i for i, sign in enumerate(hands) if sign == "|"] == [
            i for i, sign in enumerate(counts) if sign == "|"
        ]
    read = parse_sticking(" ".join(rows[::2]))
    assert list(read) == [hit.stroke for hit in music.hits()]


def test_hits_together_are_joined_and_feet_are_left_out() -> None:
    text = format_notation(build_phrase(find_groove("straight eighths"), None, bars=1))
    assert text == "R R | R+L> R | R R | R+L> R |\n1 & | 2    & | 3 & | 4    & |"


def test_a_bar_without_hands_is_a_bar_line() -> None:
    empty = Phrase(meter=find_meter("4/4"), bars=(Bar(part=Part.FILL, hits=()),))
    assert format_notation(empty) == "|\n|"
    assert empty.length == Fraction(1)
