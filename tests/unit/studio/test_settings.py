"""Effects of a teacher's settings: the text of a new lesson, the workshop, the page size."""

from __future__ import annotations

import html
from itertools import product

import pytest

from fillwright.craft.player.kits import load_kits
from fillwright.craft.player.players import load_players
from fillwright.lesson.file import parse_lesson
from fillwright.studio.pages import series as series_page
from tests.studio import LESSON, SETTINGS, new_lesson_text

OTHER = {"kit": "four-piece", "level": "gigging", "hand": "left", "page": "letter"}


def test_a_new_lesson_has_only_the_changed_settings(school):
    with school.browser("ada") as ada:
        usual = new_lesson_text(ada, school)
        ada.post("/settings", SETTINGS)
        assert new_lesson_text(ada, school) == usual
        assert not any(f"{key} = " in usual for key in OTHER)
        ada.post("/settings", {**SETTINGS, **OTHER, "level": "steady"})
        text = new_lesson_text(ada, school)
    assert "level = " not in text
    lesson = parse_lesson(text)
    assert (lesson.kit.name, lesson.page, lesson.hand.value) == ("four-piece", "letter", "L")


def test_a_new_lesson_works_with_every_choice(school):
    with school.browser("ada") as ada:
        for kit, level, hand in product(load_kits(), load_players(), ("right", "left")):
            assert ada.post("/settings", {**SETTINGS, "kit": kit, "level": level, "hand": hand}).status == 303
            lesson = parse_lesson(new_lesson_text(ada, school))
            assert (lesson.level, lesson.hand.value) == (level, hand[0].upper())


def test_existing_lessons_keep_their_text(school):
    with school.browser("ada") as ada:
        ada.post("/settings", {**SETTINGS, **OTHER})
        page = ada.get(f"/lessons/{school.ada.lesson}/text").text
    assert html.escape(LESSON, quote=True).replace("&quot;", "&#34;") in page


def test_the_workshop_starts_with_them_and_an_address_overrides_them(school):
    with school.browser("ada") as ada:
        ada.post("/settings", {**SETTINGS, **OTHER})
        page, changed = ada.get("/workshop").text, ada.get("/workshop?kit=five-piece&player=steady").text
    with school.browser("bo") as bo:
        others = bo.get("/workshop").text
    for name in ("four-piece", "gigging"):
        assert f"<option selected>{name}" in page
        assert f"<option selected>{name}" not in changed + others


def test_a_book_has_the_teachers_page_size(school, monkeypatch):
    pages = []
    monkeypatch.setattr(series_page, "typeset_book", lambda lessons, **_: pages.append(lessons[0].page) or b"")
    path = f"/series/{school.ada.series}/book.pdf"
    with school.browser("ada") as ada:
        ada.get(path)
        ada.post("/settings", {**SETTINGS, "page": "letter"})
        ada.get(path)
    assert pages == ["a4", "letter"]


def test_every_mistake_of_a_form_is_listed(ada):
    answer = ada.post("/settings", {**SETTINGS, "minutes": "lots", "on_time_share": "2", "hand": ""})
    page = html.unescape(answer.text)
    assert answer.status == 422
    assert page.count("<li>Minutes a day: Found") == page.count("<li>Share of strokes on time") == 1
    assert page.count("<li>Leading hand: This field is empty") == 1


@pytest.mark.parametrize(
    ("name", "value", "words"),
    [
        ("kit", "no such kit", "no such kit"),
        ("kit", "", "kit"),
        ("level", "no such player", "no such player"),
        ("hand", "middle", 'Leading hand: Found "middle"; write right or left.'),
        ("page", "a0", 'Page size: Found "a0"; write a4 or letter.'),
        ("minutes", "4", 'Minutes a day: Found "4"; write a whole number from 5 to 600.'),
    ],
)
def test_a_wrong_setting_is_refused_and_nothing_is_saved(school, name, value, words):
    before = school.rows()
    with school.browser("ada") as ada:
        answer = ada.post("/settings", {**SETTINGS, **OTHER, name: value})
    assert answer.status == 422
    assert words in html.unescape(answer.text)
    assert school.rows() == before


@pytest.mark.parametrize(
    ("field", "typed", "sentence"),
    [
        ("most_missing", "1,5", 'Missing strokes allowed: Found "1,5"; write a whole number from 0 to 20.'),
        ("on_time_ms", "soon", 'On time within (ms): Found "soon"; write a number from 5 to 100.'),
        ("minutes", "", "Minutes a day: This field is empty; write a whole number from 5 to 600."),
    ],
)
def test_a_wrong_number_is_named_and_marked(ada, field, typed, sentence):
    answer = ada.post("/settings", {**SETTINGS, field: typed})
    assert answer.status == 422
    assert sentence in html.unescape(answer.text)
    assert f'name="{field}" value="{typed}" aria-invalid="true"' in answer.text
