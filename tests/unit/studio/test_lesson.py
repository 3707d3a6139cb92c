"""A lesson's page: fills removed and restored, and figures mixed in too early."""

from __future__ import annotations

from tests.studio import FILL, LESSON
from tests.unit.studio.test_owntables import form_of

REMOVED = "single-stroke-four-whole-bar"


def text_of(browser, school):
    return browser.get(f"/lessons/{school.ada.lesson}/text").text


def test_a_removed_fill_is_listed_and_can_be_restored(ada, school):
    home = f"/lessons/{school.ada.lesson}"
    assert ada.post(f"{home}/fills/{FILL}/remove").status == 303
    page = ada.get(home).text
    assert "Removed fills (2)" in page
    for name in (FILL, REMOVED):
        answer = ada.post(f"{home}/removed/{name}/restore")
        assert answer.headers["location"] == f"{home}?fill={name}&done=restored"
    assert "leave_out" not in text_of(ada, school)
    assert "Removed fills (" not in ada.get(home).text


def test_only_a_removed_fill_can_be_restored(ada, school):
    before = text_of(ada, school)
    answer = ada.post(f"/lessons/{school.ada.lesson}/removed/{FILL}/restore")
    assert answer.status == 404
    assert f"No fill called {FILL} was removed" in answer.text
    assert text_of(ada, school) == before


def test_a_figure_mixed_in_before_it_was_taught_is_named(ada, school):
    home = f"/lessons/{school.ada.lesson}"
    assert "no earlier lesson teaches" not in ada.get(home).text
    early = LESSON.replace("leave_out", 'earlier = ["flam tap"]\nleave_out')
    assert ada.post(f"{home}/text", {"text": early}).status == 303
    assert "no earlier lesson teaches: flam tap." in ada.get(home).text


def test_a_form_without_a_step_is_refused(ada, school):
    before = text_of(ada, school)
    fields = form_of(LESSON)
    del fields["steps"]
    answer = ada.post(f"/lessons/{school.ada.lesson}/form", fields)
    assert answer.status == 422
    assert "No step is ticked" in answer.text
    assert text_of(ada, school) == before


def test_a_forms_mistakes_name_no_line(ada, school):
    answer = ada.post(f"/lessons/{school.ada.lesson}/form", form_of(LESSON, tempo="fast"))
    assert answer.status == 422
    assert "tempo" in answer.text
    assert "lesson.toml, line" not in answer.text
