"""The cursor's way through a drawing, in parts of its width and height."""

from __future__ import annotations

from itertools import pairwise

import pytest

from fillwright.score.engraving.cursor import find_cursor_marks
from fillwright.studio.work.cursor_marks import list_cursor_marks, locate_places
from fillwright.studio.work.lessons import NARROW_MM, WIDE_MM, draw_fill, plan_text
from tests.studio import LESSON


@pytest.fixture(scope="module", params=[WIDE_MM, NARROW_MM])
def engraved(request):
    """A drawing and its sheet."""
    found = plan_text(LESSON)
    fill = found.fills[0]
    return draw_fill(found, fill.name, request.param), fill.sheet


def test_the_way_goes_on_in_time_and_stays_within_the_drawing(engraved):
    marks = list_cursor_marks(*engraved, float)
    assert all(after[0] >= before[0] for before, after in pairwise(marks))
    for _, left, top, height, _ in marks:
        assert 0 <= left <= 1.001  # the last bar line has a width
        assert 0 <= top < top + height <= 1


def test_in_a_line_it_goes_to_the_right(engraved):
    marks = list_cursor_marks(*engraved, float)
    assert all(after[1] > before[1] for before, after in pairwise(marks) if before[4] == after[4])


def test_times_are_those_that_are_played(engraved):
    plain, doubled = (list_cursor_marks(*engraved, when) for when in (float, lambda at: 2 * float(at)))
    assert [mark[0] for mark in doubled] == pytest.approx([2 * mark[0] for mark in plain], abs=2e-5)


def test_a_place_that_is_struck_stands_on_the_way(engraved):
    places = [mark.at for mark in find_cursor_marks(*engraved)][:5]
    found = {mark[0]: mark[1:4] for mark in list_cursor_marks(*engraved, float)}
    assert locate_places(*engraved, places) == [found[round(float(at), 5)] for at in places]
