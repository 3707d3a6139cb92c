"""Figures of a teacher's own: on a sheet, in the workshop, in a lesson."""

from __future__ import annotations

import json
from html import unescape

import pytest

from tests.studio import LESSON
from tests.unit.studio.test_owntables import form_of, text_of

pytestmark = pytest.mark.usefixtures("silent")
KNOCK = {"name": "Knock twice", "sticking": "R> L R R", "rhythm": "16"}


@pytest.fixture
def ada(ada):
    assert ada.post("/figures", KNOCK).status == 303
    return ada


def test_its_sheet_is_drawn_and_plays(ada):
    assert "your own" in ada.get("/figures/Knock%20twice").text
    played = json.loads(ada.get("/figures/Knock%20twice/sound.json").content)
    assert len(played["strokes"]) == 8  # from either hand
    assert all(played["way"][width] for width in ("wide", "narrow"))


def test_the_workshop_makes_fills_of_it(ada):
    page = ada.get("/workshop?figure=knock+twice&beats=2").text
    assert '<div class="wrong"' not in page
    assert "R&gt; L R R" in page


def test_a_lessons_form_takes_it_by_its_name(ada, school):
    fields = form_of(LESSON, **{"figure-1-name": "knock twice", "figure-1-groove": "shuffle"})
    answer = ada.post(f"/lessons/{school.ada.lesson}/form", fields)
    assert answer.status == 303, answer.text
    assert text_of(school).endswith(
        '[[figure]]\nname = "knock twice"\nrhythm = "16"\ngroove = "shuffle"\nsticking = "R> L R R"\n'
    )


def test_a_sticking_next_to_its_name_stays(ada, school):
    own = {"figure-1-name": "knock twice", "figure-1-sticking": "R R L L", "figure-1-rhythm": "8"}
    assert ada.post(f"/lessons/{school.ada.lesson}/form", form_of(LESSON, **own)).status == 303
    assert 'sticking = "R R L L"' in text_of(school)


def test_a_name_with_a_comma_is_refused(ada):
    answer = ada.post("/figures", {**KNOCK, "name": "one, two"})
    assert answer.status == 422
    assert "leave it out" in answer.text


def test_a_text_that_names_it_gets_help(ada, school):
    text = LESSON.replace("single stroke four", "Knock twice")
    answer = ada.post(f"/lessons/{school.ada.lesson}/text", {"text": text})
    assert answer.status == 422
    written = unescape(answer.text)
    assert 'sticking = "R> L R R"\nrhythm = "16"' in written
    own = 'name = "Knock twice"\nsticking = "R> L R R"\nrhythm = "16"'
    answer = ada.post(f"/lessons/{school.ada.lesson}/text", {"text": text.replace('name = "Knock twice"', own)})
    assert answer.status == 303
