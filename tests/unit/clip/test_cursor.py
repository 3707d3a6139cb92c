"""Where a clip's cursor stands in time."""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise

import pytest

from fillwright.clip.cursor import find_count, find_cursor, time_cursor
from fillwright.lesson.single_fill import FillChoice, make_single_fill
from fillwright.music.timing import Feel
from fillwright.score.engraving.cursor import find_cursor_marks
from fillwright.score.engraving.engrave import engrave
from fillwright.score.sheet import Sheet
from fillwright.sound.playalong.options import Options
from fillwright.sound.playalong.sections import plan_sections

SWING = Feel(swing=Fraction(2, 3))


def way_of(*, repeats: int = 1, feel: Feel = SWING, lines: tuple[int, ...] = (4,), count_in: int = 1):
    phrase = make_single_fill(
        FillChoice(figure="single paradiddle", groove="straight eighths", rhythm="16")
    ).phrase
    sheet = Sheet(phrase=phrase, break_before=lines)
    marks = find_cursor_marks(engrave(sheet), sheet)
    (section,) = plan_sections(phrase, (60,), Options(repeats=repeats, feel=feel, count_in_bars=count_in))
    return marks, section, time_cursor(marks, phrase, section, feel)


def test_the_cursor_is_on_a_stroke_when_it_sounds():
    marks, section, way = way_of()
    places = {mark.at: mark.x_mm for mark in marks[::-1]}
    for one in section.timed:
        if one.hit.at in places:
            x, mark = find_cursor(way, section.start_seconds + one.onset_seconds)
            assert x == pytest.approx(mark.x_mm)
            assert mark.at == one.hit.at


def test_it_comes_round_with_every_repeat_and_lands_once():
    marks, section, way = way_of(repeats=3)
    firsts = [knot.seconds for knot in way if knot.mark == marks[0]]
    assert firsts == [4.0, 20.0, 36.0]
    assert [knot.seconds for knot in way if knot.mark.at == 4][-1] == section.end_seconds == 52.0
    assert way[-1].seconds == section.rests_seconds
    assert all(one.seconds <= other.seconds for one, other in pairwise(way))


def test_it_leaps_at_the_end_of_a_line_and_of_a_turn():
    _, _, way = way_of(repeats=2)
    leaps = [(knot.seconds, knot.mark.at) for knot in way if knot.jumps]
    assert leaps == [(16.0, 3), (20.0, 4), (32.0, 3), (40.0, 5)]


def test_between_it_goes_evenly():
    _, _, way = way_of()
    one, other = way[0], way[1]
    x, mark = find_cursor(way, (one.seconds + other.seconds) / 2)
    assert x == pytest.approx((one.mark.x_mm + other.mark.x_mm) / 2)
    assert mark == one.mark


def test_it_never_goes_back_but_in_a_leap():
    _, section, way = way_of()
    ends = [knot.seconds for knot in way if knot.jumps]
    steps = [n / 30 for n in range(round(section.rests_seconds * 30) + 30)]
    for one, other in pairwise(steps):
        (x, mark), (x_then, mark_then) = find_cursor(way, one), find_cursor(way, other)
        assert x_then >= x or any(one < end <= other for end in ends)
        assert mark_then.system >= mark.system


def test_before_and_after_it_rests():
    marks, _, way = way_of()
    assert find_cursor(way, -1.0)[0] == marks[0].x_mm
    assert find_cursor(way, 1000.0)[0] == marks[-1].x_mm


def test_the_count_in_is_counted():
    _, section, _ = way_of(count_in=2)
    assert [find_count(section, at) for at in (-0.1, 0.0, 0.9, 1.0, 7.9)] == [None, 0, 0, 1, 7]
    assert find_count(section, 8.0) is None


def test_without_a_count_in_nothing_is_counted():
    _, section, _ = way_of(count_in=0)
    assert [find_count(section, at) for at in (-0.5, 0.0, 1.0)] == [None, None, None]
