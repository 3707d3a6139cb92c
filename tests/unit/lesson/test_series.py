"""A series: what was taught up to a lesson, what it may mix in, what is missing."""

from __future__ import annotations

from fillwright.lesson.file import Lesson, parse_lesson
from fillwright.lesson.fills import build_fills
from fillwright.lesson.series import NOT_MET_FOR, collect_taught, find_gaps, find_untaught, place_in_series
from fillwright.music.rudiments import find_figure, load_rudiments


def lesson(number: int, *figures: str, head: str = "") -> Lesson:
    tables = "".join(f'[[figure]]\nname = "{name}"\nsteps = ["last beat", "mixed"]\n' for name in figures)
    return parse_lesson(f'number = {number}\ntitle = "L"\n{head}\n{tables}')


FIRST = lesson(1, "single stroke roll", "single paradiddle", head='tempo = "60..80 step 10"')
SECOND = lesson(2, "flam accent", "single paradiddle", head='groove = "shuffle"\ntempo = [50, 120]')
THIRD = lesson(3, "flam tap", head='earlier = ["flam", "flam accent"]')


def test_nothing_is_taught_before_the_first_lesson():
    assert collect_taught([]).figures == ()
    assert (collect_taught([]).slowest, collect_taught([]).fastest) == (None, None)


def test_taught_figures_are_listed_once_in_the_order_of_first_use():
    so_far = collect_taught([FIRST, SECOND])
    assert [figure.name for figure in so_far.figures] == [
        "single stroke roll",
        "single paradiddle",
        "flam accent",
    ]
    assert so_far.grooves == ("straight eighths", "shuffle")
    assert so_far.meters == ("4/4",)
    assert (so_far.slowest, so_far.fastest) == (50, 120)
    assert so_far.has(find_figure("paradiddle"))
    assert not so_far.has(find_figure("flam"))


def test_a_lesson_mixes_in_what_was_taught_unless_it_names_something_itself():
    alone, behind = build_fills(SECOND).fills, build_fills(place_in_series(SECOND, [FIRST])).fills
    mixed = [fill.step.mixed_with.name for fill in behind if fill.step.mixed_with]
    assert len(behind) > len(alone)
    assert "single stroke roll" in mixed or "single paradiddle" in mixed
    assert place_in_series(THIRD, [FIRST, SECOND]) is THIRD


def test_a_figure_that_is_named_ahead_of_its_lesson_is_found():
    assert find_untaught(THIRD, [FIRST, SECOND]) == ("flam",)
    assert find_untaught(THIRD, [FIRST]) == ("flam", "flam accent")
    assert find_untaught(FIRST, []) == ()


def test_what_a_series_has_not_met():
    found = find_gaps([FIRST, SECOND, THIRD])
    known = [figure.name for figure in load_rudiments()]
    met = {"single stroke roll", "single paradiddle", "flam accent", "flam tap"}
    assert found.rudiments == tuple(name for name in known if name not in met)
    assert len(found.groups) == len({figure.group for figure in load_rudiments()}) - 3
    assert find_figure("flam tap").group not in found.groups
    assert found.not_met == ()


def test_a_figure_is_due_again_when_the_last_lessons_have_not_met_it():
    rest = [lesson(number, "flam tap") for number in range(4, 4 + NOT_MET_FOR)]
    due = find_gaps([FIRST, SECOND, THIRD, *rest]).not_met
    assert due == (("single stroke roll", 1), ("single paradiddle", 2), ("flam accent", 3), ("flam", 3))
    assert find_gaps([FIRST, SECOND, THIRD, *rest[:-1]]).not_met == due[:2]
    again = lesson(99, "flam tap", head='earlier = ["single stroke roll"]')
    assert find_gaps([FIRST, *rest, again]).not_met == (("single paradiddle", 1),)
