"""The cursor stands on the note heads of the drawing, line by line."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise

import pytest

from fillwright.lesson.single_fill import FillChoice, make_single_fill
from fillwright.music.rudiments import load_rudiments
from fillwright.score.engraving.cursor import Mark, find_cursor, find_cursor_marks
from fillwright.score.engraving.engrave import Engraving, engrave
from fillwright.score.engraving.finish import Marks
from fillwright.score.sheet import Sheet

CHOICES = {
    "one line": FillChoice(figure="flam accent", step="round the kit", groove="shuffle"),
    "several lines": FillChoice(figure="single paradiddle", beats=Fraction(8)),
    "off the beat": FillChoice(figure="single paradiddle", beats=Fraction(5, 2), bars=1),
    "six-eight": FillChoice(figure="single paradiddle", groove="six-eight", rhythm="16"),
    "seven-eight": FillChoice(
        figure="single paradiddle", groove="seven-eight", rhythm="16", beats=Fraction(5, 2)
    ),
}


def draw(choice: FillChoice, *, from_bar: int = 1) -> tuple[Sheet, Engraving, tuple[Mark, ...]]:
    sheet = Sheet(phrase=make_single_fill(choice).phrase, label="Fill", from_bar=from_bar)
    engraving = engrave(sheet)
    return sheet, engraving, find_cursor_marks(engraving, sheet)


def list_struck(sheet: Sheet) -> set[Fraction]:
    """Return every place where the page shows a stroke."""
    bar = sheet.phrase.meter.bar
    return {
        (place.number - 1) * bar + hit.at
        for place in sheet.bars()
        if not sheet.is_repeat(place)
        for hit in place.bar.hits
    }


@pytest.mark.parametrize("choice", CHOICES.values(), ids=list(CHOICES))
def test_every_stroke_has_its_mark_and_nothing_goes_back(choice):
    sheet, engraving, marks = draw(choice)
    assert list_struck(sheet) <= {mark.at for mark in marks}
    assert {mark.system for mark in marks} == set(range(engraving.systems))
    for place, next_one in pairwise(marks):
        assert (place.system, place.at, place.x_mm) < (next_one.system, next_one.at, next_one.x_mm)
        if place.system == next_one.system:
            assert place.at < next_one.at
            assert place.x_mm < next_one.x_mm
        else:
            assert (place.at, place.system + 1) == (next_one.at, next_one.system)
    assert marks[-1].at == sheet.phrase.length
    assert all(0 < mark.x_mm <= engraving.width_mm + 0.2 for mark in marks)
    assert all(0 < mark.top_mm < mark.bottom_mm < engraving.height_mm for mark in marks)


@pytest.mark.parametrize("figure", [figure.name for figure in load_rudiments()])
def test_strokes_of_every_rudiment_have_marks(figure):
    sheet, _, marks = draw(FillChoice(figure=figure, step="whole bar"))
    assert list_struck(sheet) <= {mark.at for mark in marks}


def test_a_mark_is_the_middle_of_its_note_head():
    _, engraving, marks = draw(CHOICES["one line"])
    root = ET.fromstring(engraving.svg)
    parents = {child: parent for parent in root.iter() for child in parent}
    to_mm = engraving.width_mm / float(root.get("viewBox").split()[2]) / 10
    (landed,) = (mark for mark in marks if mark.at == 4)
    heads = [
        use
        for use in root.iter("{http://www.w3.org/2000/svg}use")
        if parents[use].get("class") == "notehead"
        and any(parents[parents[use]].get("id", "").startswith(start) for start in ("b5h", "b5f"))
    ]
    lefts = [float(use.get("transform").partition("(")[2].partition(",")[0]) for use in heads]
    assert min(lefts) * to_mm < landed.x_mm < (max(lefts) + 260) * to_mm


def test_repeated_bars_are_crossed_beat_by_beat_between_their_bar_lines():
    sheet, _, marks = draw(CHOICES["one line"])
    assert sheet.is_repeat(sheet.bars()[1])
    inside = [mark for mark in marks if 1 <= mark.at < 2]
    assert [mark.at for mark in inside] == [Fraction(n, 4) for n in range(4, 8)]
    steps = [b.x_mm - a.x_mm for a, b in pairwise(inside)]
    assert steps == pytest.approx([steps[0]] * 3)


def test_a_sheet_may_start_later():
    sheet, _, marks = draw(CHOICES["one line"], from_bar=4)
    assert marks[0].at == 3
    assert list_struck(sheet) <= {mark.at for mark in marks}


def test_a_bar_that_opens_with_a_rest_has_a_mark_at_its_start():
    whole = make_single_fill(CHOICES["off the beat"]).phrase
    later = tuple(hit for hit in whole.bars[0].hits if hit.at > 0)
    silent = replace(whole, bars=(replace(whole.bars[0], hits=later), *whole.bars[1:]))
    rested = Sheet(phrase=silent)
    marks = find_cursor_marks(engrave(rested), rested)
    assert marks[0].at == 0
    assert marks[0].x_mm < marks[1].x_mm


def test_between_marks_the_cursor_goes_evenly_and_jumps_at_the_end_of_a_line():
    _, _, marks = draw(CHOICES["several lines"])
    first, second = marks[0], marks[1]
    halfway = find_cursor(marks, (first.at + second.at) / 2)
    assert halfway.x_mm == pytest.approx((first.x_mm + second.x_mm) / 2)
    turn = next(i for i in range(1, len(marks)) if marks[i].system)
    just_before = find_cursor(marks, marks[turn].at - Fraction(1, 10_000))
    assert just_before.system == 0
    assert just_before.x_mm == pytest.approx(marks[turn - 1].x_mm, abs=0.1)
    assert find_cursor(marks, marks[turn].at) == marks[turn]


def test_before_and_after_the_music_the_cursor_rests():
    _, _, marks = draw(CHOICES["one line"])
    assert find_cursor(marks, Fraction(-1)).x_mm == marks[0].x_mm
    assert find_cursor(marks, Fraction(99)).x_mm == marks[-1].x_mm


def test_a_drawing_from_elsewhere_is_refused():
    sheet, engraving, _ = draw(CHOICES["one line"])
    other = Engraving(
        raw='<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 1 1"/>', marks=Marks(words={}), width_mm=1
    )
    with pytest.raises(ValueError, match="does not come from engrave"):
        find_cursor_marks(other, sheet)
    assert find_cursor_marks(engraving, sheet)
