"""A lesson's text changed by parts: what was meant is changed, all else stays as the teacher wrote it."""

from __future__ import annotations

import tomllib
from fractions import Fraction

import pytest

from fillwright.errors import TableError
from fillwright.lesson.edit import (
    add_own_tables,
    pin_fill,
    read_figure_rows,
    remove_fill,
    restore_fill,
    set_figures,
    set_order,
    set_values,
)
from fillwright.lesson.file import parse_lesson
from fillwright.lesson.fills import build_fills

TEXT = """# Thursday's group
number = 1   # first of the year
title = "Two hands"
notes = [  # read aloud
    "Slow first.",
]

# the easy one
[[figure]]
name = 'single paradiddle'  # both leads
steps = ["last beat", "whole bar"]

# mine
[[fill]]
name = "knock"  # they love it
beats = 1
sticking = "R L R L"
rhythm = "16"
on = "snare"

# the hard one
[[figure]]
name = "flam tap"
steps = ["last two beats"]

# for Pim
[[fill]]
name = "hush"
beats = 1
sticking = "(R) (L) (R) (L)"
rhythm = "16"
on = "snare"
# the end
"""
NAMES = [
    "single-paradiddle-last-beat",
    "single-paradiddle-whole-bar",
    "flam-tap-last-2-beats",
    "knock",
    "hush",
]


def names(text: str) -> list[str]:
    return [fill.name for fill in build_fills(parse_lesson(text)).fills]


def fill(name: str, text: str = TEXT):
    (found,) = [one for one in build_fills(parse_lesson(text)).fills if one.name == name]
    return found


def new_lines(text: str, before: str = TEXT) -> list[str]:
    """The lines that were added; fails where one of the others has gone or stands elsewhere."""
    was, found = before.splitlines(), []
    for line in text.splitlines():
        if was and line == was[0]:
            del was[0]
        else:
            found.append(line)
    assert was == []
    return found


def test_the_lesson_is_as_the_tests_below_take_it_to_be():
    assert names(TEXT) == NAMES


def test_a_fill_that_is_worked_out_is_left_out_by_name_and_brought_back():
    once = remove_fill(TEXT, fill(NAMES[0]))
    assert new_lines(once) == [f'leave_out = ["{NAMES[0]}"]']
    twice = remove_fill(once, fill(NAMES[2], once))
    assert new_lines(twice) == [f'leave_out = ["{NAMES[0]}", "{NAMES[2]}"]']
    assert names(twice) == [NAMES[1], *NAMES[3:]]
    assert restore_fill(restore_fill(twice, NAMES[0]), NAMES[2]) == TEXT
    assert restore_fill(TEXT, "gone") == TEXT


@pytest.mark.parametrize(("name", "kept"), [("knock", "hush"), ("hush", "knock")])
def test_a_teachers_own_fill_is_deleted_and_nothing_else(name, kept):
    text = remove_fill(set_order(TEXT, [name, kept]), fill(name))
    assert names(text) == [*NAMES[:2], kept, NAMES[2]]
    assert f'order = ["{kept}"]' in text
    assert "leave_out" not in text
    gone = {"# they love it"} if name == "knock" else set()
    for remark in ("# mine", "# they love it", "# the hard one", "# for Pim", "# the end"):
        assert (remark in text) is (remark not in gone)


def test_the_right_one_of_two_of_a_name_is_deleted():
    text = TEXT.replace('"hush"', '"knock"')
    assert names(text)[-2:] == ["knock", "knock-2"]
    assert '"R L R L"' in remove_fill(text, fill("knock-2", text))
    assert '"(R) (L) (R) (L)"' in remove_fill(text, fill("knock", text))


def test_fills_are_put_in_order():
    text = set_order(TEXT, [NAMES[1], NAMES[0]])
    assert new_lines(text) == [f'order = ["{NAMES[1]}", "{NAMES[0]}"]']
    assert names(text) == [NAMES[1], NAMES[0], *NAMES[2:]]
    assert set_order(text, []) == TEXT


def test_a_long_list_has_a_line_for_each_of_its_items():
    text = set_order(TEXT, NAMES)
    assert new_lines(text) == ["order = [", *(f'    "{name}",' for name in NAMES), "]"]
    assert set_order(text, []) == TEXT


def test_a_fill_is_kept_as_it_is():
    one = fill(NAMES[1])
    text = pin_fill(remove_fill(TEXT, one), one, name="My bar", beats=Fraction(4))
    made = fill("my-bar", text)
    assert made.step.route.hits == one.step.route.hits
    assert (made.caption, made.part) == ("Whole bar, My bar", one.part)
    assert new_lines(text)[:2] == [f'leave_out = ["{NAMES[1]}"]', ""]
    assert text.endswith("# the end\n")


def test_values_are_changed_in_their_place_and_new_ones_follow():
    text = set_values(TEXT, {"title": "Other", "bars": 2, "notes": [], "swing": None})
    changed = TEXT.replace('"Two hands"', '"Other"').replace(
        'notes = [  # read aloud\n    "Slow first.",\n]\n', ""
    )
    assert new_lines(text, changed) == ["bars = 2"]
    assert tomllib.loads(text)["bars"] == 2
    assert set_values(TEXT, {"title": "Two hands", "notes": ["Slow first."]}) == TEXT


def test_values_of_a_text_without_an_end_of_line():
    assert tomllib.loads(set_values('number = 1\ntitle = "a"', {"bars": 2}))["bars"] == 2


@pytest.mark.parametrize("text", [TEXT.replace("\n", "\r\n"), TEXT.replace("Slow", "Slow\u2028\x85")])
def test_other_ends_of_lines_are_kept(text):
    table = tomllib.loads(text)
    assert tomllib.loads(set_values(text, {"bars": 2})) == table | {"bars": 2}
    rows = read_figure_rows(text)
    rows[0]["name"] = ""
    assert tomllib.loads(set_figures(text, rows))["figure"] == table["figure"][1:]


def row(name: str = "", rhythm: str = "", groove: str = "", sticking: str = "") -> dict[str, str]:
    return {"name": name, "rhythm": rhythm, "groove": groove, "sticking": sticking}


def test_figures_are_shown_as_rows():
    assert read_figure_rows(TEXT) == [row("single paradiddle"), row("flam tap")]
    assert read_figure_rows('title = "a"') == []


def test_rows_as_they_are_change_nothing():
    assert set_figures(TEXT, read_figure_rows(TEXT)) == TEXT


def test_a_figure_is_changed():
    text = set_figures(TEXT, [row("single paradiddle", groove="shuffle"), row("flam tap", rhythm="8t")])
    assert read_figure_rows(text) == [row("single paradiddle", groove="shuffle"), row("flam tap", rhythm="8t")]
    assert "'single paradiddle'  # both leads" in text
    assert read_figure_rows(set_figures(text, read_figure_rows(TEXT))) == read_figure_rows(TEXT)


def test_a_figure_is_added_after_the_last():
    text = set_figures(TEXT, [*read_figure_rows(TEXT), row("single stroke four", groove="shuffle"), row()])
    added = '\n[[figure]]\nname = "single stroke four"\ngroove = "shuffle"\n'
    assert text == TEXT.replace("\n\n# for Pim", f"\n{added}\n# for Pim")
    assert parse_lesson(text).figures[-1].figure.name == "single stroke four"


def test_a_figure_is_taken_out():
    text = set_figures(TEXT, [row(), row("flam tap")])
    assert new_lines(TEXT, text) == [
        "[[figure]]",
        "name = 'single paradiddle'  # both leads",
        'steps = ["last beat", "whole bar"]',
    ]


def test_a_first_figure_goes_to_the_end():
    assert set_figures("number = 1", [row("flam tap")]) == 'number = 1\n\n[[figure]]\nname = "flam tap"\n'


def test_a_list_on_one_line_is_not_changed_by_parts():
    text = 'number = 1\ntitle = "a"\nfigure = [{name = "flam tap"}]\n'
    with pytest.raises(TableError, match=r"write \[\[figure\]\] above each figure first"):
        set_figures(text, [row("flam tap"), row("flam")])


def test_a_text_that_is_not_toml_is_not_changed():
    with pytest.raises(TableError, match="can't be read as TOML, so it can't be changed"):
        set_values("number = ", {"number": 2})


GROOVE = '[grooves."two step"]\nmeter = "4/4"\nlines = [{ surface = "kick", at = "1 3" }]\n'
KIT = '[kits.nook]\nfrom = "four-piece"\n'


def test_a_groove_that_is_chosen_is_put_in_once():
    own = {"Two Step": GROOVE, "other": GROOVE.replace("two step", "other")}
    assert add_own_tables(TEXT, "groove", own) == TEXT
    chosen = set_values(TEXT, {"groove": "two-step"})
    text = add_own_tables(chosen, "groove", own)
    assert text == f"{chosen}\n{GROOVE}"
    assert parse_lesson(text).groove.name == "two step"
    assert add_own_tables(text, "groove", own) == text
    assert add_own_tables(add_own_tables(text, "kit", {"nook": KIT}), "groove", {"two step": "changed"}) == text


def test_a_figure_may_choose_a_groove_and_the_lesson_a_kit():
    rows = [row | {"groove": "two step"} for row in read_figure_rows(TEXT)]
    text = add_own_tables(set_figures(TEXT, rows), "groove", {"two step": GROOVE})
    text = add_own_tables(set_values(text, {"kit": "nook"}), "kit", {"nook": KIT.rstrip()})
    read = parse_lesson(text)
    assert ({one.groove.name for one in read.figures}, read.kit.name) == ({"two step"}, "nook")
    assert new_lines(text)[-1] == 'from = "four-piece"'
    assert text.endswith("\n")


def test_the_text_is_changed_by_parts_as_well_with_tables_of_ones_own_in_it():
    text = f"{TEXT}\n# how we play it\n{GROOVE}"
    changed = set_values(
        set_figures(
            text, [*read_figure_rows(text), dict.fromkeys(read_figure_rows(text)[0], "") | {"name": "flam"}]
        ),
        {"swing": 0.6},
    )
    assert parse_lesson(changed).own_tables == parse_lesson(text).own_tables
    assert new_lines(changed, text) == ["swing = 0.6", "[[figure]]", 'name = "flam"', ""]
    assert GROOVE not in remove_fill(text, fill("hush", text)).split("# how we play it")[0]
    assert GROOVE in remove_fill(text, fill("hush", text))
