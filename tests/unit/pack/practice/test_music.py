import re
from fractions import Fraction
from itertools import pairwise

import pytest

from fillwright.music.timing import STRAIGHT, Feel
from fillwright.pack.practice.music import NARROW_MM, engrave_narrow, engrave_wide, letters_touch
from fillwright.pack.practice.strokes import map_places
from fillwright.score.engraving.engrave import engrave

UNITS_PER_MM = 50 / 1.5


def both(fill, feel=STRAIGHT):
    when = map_places(fill.phrase, feel)
    return engrave_wide(fill, feel, when), engrave_narrow(fill, feel, when)


@pytest.mark.parametrize("feel", [Feel(), Feel(swing=Fraction(2, 3))])
def test_the_cursor_goes_through_the_whole_phrase_as_played(lesson, feel):
    _, (fill, *_) = lesson(step="last beat")
    when = map_places(fill.phrase, feel)
    struck = {when(hit.at) for hit in fill.phrase.hits()}
    for music in both(fill, feel):
        moments = [moment for line in music.lines for moment, _ in line.points]
        assert moments[0] == 0
        assert moments[-1] == float(fill.phrase.length)
        assert moments == sorted(moments)
        assert struck <= set(moments)


def test_the_fill_stands_on_a_line_of_its_own(lesson):
    _, (fill, *_) = lesson(bars=4)
    for music in both(fill):
        assert [line.points[0][0] for line in music.lines] == [0, 3]
        assert all(line.top < line.bottom for line in music.lines)
        assert music.lines[0].bottom < music.lines[1].bottom


def test_long_phrases_break_sooner_on_a_phone(lesson):
    _, (fill, *_) = lesson(bars=8)
    large, slim = both(fill)
    assert [line.points[0][0] for line in large.lines] == [0, 7]
    assert [line.points[0][0] for line in slim.lines] == [0, 4, 7]


@pytest.mark.parametrize("figure", ["single paradiddle", "six stroke roll", "flam tap"])
def test_a_phone_has_the_narrowest_that_can_be_read(lesson, figure):
    _, (fill, *_) = lesson(figure)
    large, slim = both(fill)
    assert slim.drawing.width < large.drawing.width
    assert any(slim.drawing.width == pytest.approx(width * UNITS_PER_MM, abs=1) for width in NARROW_MM)


def test_where_the_words_of_a_count_have_no_room_its_numbers_stay(lesson):
    _, (fill, *_) = lesson("six stroke roll")
    large, slim = both(fill)
    assert ">let<" in large.drawing.body
    assert ">let<" not in slim.drawing.body
    assert all(f">{number}<" in slim.drawing.body for number in (1, 2, 3, 4))


def test_letters_that_touch_are_noticed(lesson):
    _, (fill, *_) = lesson("six stroke roll")
    assert letters_touch(engrave(fill.sheet, width_mm=40).root)
    roomy = engrave(fill.sheet, width_mm=174)
    assert not letters_touch(roomy.root)
    assert not roomy.counts_touch


def test_the_tempo_stands_only_where_it_says_that_eighths_swing(lesson):
    _, (fill, *_) = lesson()
    swung, (swinging, *_) = lesson(more="swing = 0.667")
    assert not any("60–90" in music.drawing.body for music in both(fill))
    assert all("60–90, eighths swing" in music.drawing.body for music in both(swinging, swung.feel))


def test_units_are_fiftieths_of_a_staff_space(lesson):
    _, (fill, *_) = lesson()
    large, _ = both(fill)
    heights = sorted({int(y) for y in re.findall(r"M0 (\d+)H", large.drawing.body)})
    assert len(heights) == 10  # two lines of music
    for staff in (heights[:5], heights[5:]):
        assert [b - a for a, b in pairwise(staff)] == pytest.approx([50] * 4, abs=1)
    for line, staff in zip(large.lines, (heights[:5], heights[5:]), strict=True):
        assert line.top < staff[0] < staff[-1] <= line.bottom
