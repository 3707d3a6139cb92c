"""What a teacher's settings do: the beginning of a new lesson, the workshop, the paper."""

from __future__ import annotations

import html
from itertools import product

import pytest
from tests.studio import LESSON, SETTINGS, begun_text

from fillwright.craft.player.kits import kits
from fillwright.craft.player.players import players
from fillwright.lesson.file import parse_lesson
from fillwright.studio.pages import series as series_page

OTHER = {"kit": "four-piece", "level": "gigging", "hand": "left", "page": "letter"}


def test_a_new_lesson_says_only_what_is_not_usual(school):
    with school.browser("ada") as ada:
        usual = begun_text(ada, school)
        ada.post("/settings", SETTINGS)
        assert begun_text(ada, school) == usual
        assert not any(f"{key} = " in usual for key in OTHER)
        ada.post("/settings", {**SETTINGS, **OTHER, "level": "steady"})
        begun = begun_text(ada, school)
    assert "level = " not in begun
    lesson = parse_lesson(begun)
    assert (lesson.kit.name, lesson.page, lesson.hand.value) == ("four-piece", "letter", "L")


def test_every_choice_begins_a_lesson(school):
    with school.browser("ada") as ada:
        for kit, level, hand in product(kits(), players(), ("right", "left")):
            assert ada.post("/settings", {**SETTINGS, "kit": kit, "level": level, "hand": hand}).status == 303
            lesson = parse_lesson(begun_text(ada, school))
            assert (lesson.level, lesson.hand.value) == (level, hand[0].upper())


def test_lessons_that_are_there_keep_their_text(school):
    with school.browser("ada") as ada:
        ada.post("/settings", {**SETTINGS, **OTHER})
        page = ada.get(f"/lessons/{school.ada.lesson}/text").text
    assert html.escape(LESSON, quote=True).replace("&quot;", "&#34;") in page


def test_the_workshop_begins_with_them_and_an_address_goes_before(school):
    with school.browser("ada") as ada:
        ada.post("/settings", {**SETTINGS, **OTHER})
        begun, told = ada.get("/workshop").text, ada.get("/workshop?kit=five-piece&player=steady").text
    with school.browser("bo") as bo:
        others = bo.get("/workshop").text
    for name in ("four-piece", "gigging"):
        assert f"<option selected>{name}" in begun
        assert f"<option selected>{name}" not in told + others


def test_a_book_is_for_the_teachers_paper(school, monkeypatch):
    asked = []
    monkeypatch.setattr(series_page, "book", lambda lessons, **_: asked.append(lessons[0].page) or b"")
    path = f"/series/{school.ada.series}/book.pdf"
    with school.browser("ada") as ada:
        ada.get(path)
        ada.post("/settings", {**SETTINGS, "page": "letter"})
        ada.get(path)
    assert asked == ["a4", "letter"]


@pytest.mark.parametrize(
    ("name", "value", "said"),
    [
        ("kit", "no such kit", "no such kit"),
        ("kit", "", "kit"),
        ("level", "no such player", "no such player"),
        ("hand", "middle", "A hand is right or left."),
        ("page", "a0", "A page is a4 or letter."),
        ("minutes", "4", "4 minutes a day"),
    ],
)
def test_what_can_not_be_is_refused_and_nothing_is_kept(school, name, value, said):
    before = school.rows()
    with school.browser("ada") as ada:
        answer = ada.post("/settings", {**SETTINGS, **OTHER, name: value})
    assert answer.status == 422
    assert said in answer.text
    assert school.rows() == before


@pytest.mark.parametrize(
    ("field", "typed", "sentence"),
    [
        ("most_missing", "1,5", "Strokes of the fill that may be missing: 1.5 is no whole number."),
        ("on_time_ms", "soon", 'A stroke is on time within: "soon" is no number; write one.'),
        ("minutes", "", "Minutes a day: nothing is written; write one."),
    ],
)
def test_a_number_that_is_none_is_told_by_its_name(ada, field, typed, sentence):
    answer = ada.post("/settings", {**SETTINGS, field: typed})
    assert answer.status == 422
    assert sentence in html.unescape(answer.text)
