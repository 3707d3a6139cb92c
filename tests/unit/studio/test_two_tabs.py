"""Two tabs save the same thing: the second is refused, sees what changed, and keeps what it typed."""

from __future__ import annotations

import re
from threading import Barrier, Thread

import pytest

from fillwright.store.lessons import list_versions
from fillwright.store.students import get_student
from fillwright.store.transaction import begin_reading
from tests.studio import LESSON, SETTINGS, Schools


@pytest.fixture(scope="module", params=["sqlite", "postgresql"])
def both_schools(request, tmp_path_factory):
    server = request.getfixturevalue("postgres_url") if request.param == "postgresql" else ""
    made = Schools(tmp_path_factory.mktemp(request.param), server)
    yield made
    made.close()


@pytest.fixture
def school(both_schools):
    with both_schools.one() as made:
        yield made


def _version(page):
    return re.search('name="made_from" value="([^"]+)"', page)[1]


def _alert(page):
    return page.split('role="alert"', 1)[1].split("</div>", 1)[0]


def test_a_lessons_text(school, ada):
    path = f"/lessons/{school.ada.lesson}/text"
    made_from = _version(ada.get(path).text)
    first = LESSON.replace("Two hands", "First tab")
    second = LESSON.replace('"60..80 step 10"', '"60..90 step 10"')
    assert ada.post(path, {"text": first, "made_from": made_from}).status == 303
    refused = ada.post(path, {"text": second, "made_from": made_from})
    assert refused.status == 409
    assert "This lesson was saved somewhere else" in _alert(refused.text)
    assert "Line added: title = &#34;First tab&#34;" in _alert(refused.text)
    assert "60..90 step 10" in refused.text.split("<textarea", 1)[1]
    assert "First tab" in ada.get(path).text
    assert ada.post(path, {"text": second, "made_from": _version(refused.text)}).status == 303
    assert "60..90 step 10" in ada.get(path).text


def test_a_mistake_in_between_does_not_hide_the_other_save(school, ada):
    path = f"/lessons/{school.ada.lesson}/text"
    made_from = _version(ada.get(path).text)
    wrong = ada.post(path, {"text": "number = 0", "made_from": made_from})
    assert wrong.status == 422
    ada.post(path, {"text": LESSON.replace("Two hands", "First tab")})
    again = ada.post(path, {"text": "number = 0", "made_from": made_from})
    assert again.status == 409
    assert ada.post(path, {"text": LESSON, "made_from": _version(wrong.text)}).status == 409


def test_a_lessons_form(school, ada):
    path = f"/lessons/{school.ada.lesson}"
    page = ada.get(f"{path}/form").text
    form = {
        "number": "1",
        "title": "By form",
        "tempo": "60, 70",
        "bars": "4",
        "per_step": "1",
        "steps": "whole bar",
    }
    form |= {"figure-0-name": "single stroke four", "made_from": _version(page)}
    ada.post(f"{path}/fills/{school.ada.fill}/remove")
    refused = ada.post(f"{path}/form", form)
    assert refused.status == 409
    assert "Line added: leave_out" in _alert(refused.text)
    assert 'value="By form"' in refused.text
    assert ada.post(f"{path}/form", {**form, "made_from": _version(refused.text)}).status == 303


def test_a_students_profile(school, ada):
    path = f"/students/{school.ada.student}"
    made_from = _version(ada.get(path).text)
    profile = {"name": "pim", "hand": "right", "level": "first-year", "kit": "five-piece"}
    assert ada.post(path, {**profile, "notes": "Likes brushes.", "made_from": made_from}).status == 303
    refused = ada.post(path, {**profile, "hand": "left", "notes": "Tall.", "made_from": made_from})
    assert refused.status == 409
    assert "About this student: saved is &#34;Likes brushes.&#34;, yours is &#34;Tall.&#34;" in _alert(
        refused.text
    )
    assert ">Tall.</textarea>" in refused.text
    with begin_reading(school.setup.store, school.ada.teacher) as transaction:
        assert get_student(transaction, school.ada.student).profile.notes == "Likes brushes."
    again = {**profile, "hand": "left", "notes": "Tall.", "made_from": _version(refused.text)}
    assert ada.post(path, again).status == 303


def test_settings(ada):
    made_from = _version(ada.get("/settings").text)
    assert ada.post("/settings", {**SETTINGS, "minutes": "45", "made_from": made_from}).status == 303
    refused = ada.post("/settings", {**SETTINGS, "hand": "left", "made_from": made_from})
    assert refused.status == 409
    assert "Minutes a day: saved is &#34;45&#34;, yours is &#34;30&#34;." in _alert(refused.text)
    assert 'name="minutes" value="45"' in ada.get("/settings").text
    assert ada.post("/settings", {**SETTINGS, "made_from": _version(refused.text)}).status == 303
    assert _version(ada.get("/settings").text) == _version(ada.get("/settings").text)


def test_of_saves_at_the_same_moment_one_wins(school):
    path = f"/lessons/{school.ada.lesson}/text"
    with school.browser("ada") as browser:
        made_from = _version(browser.get(path).text)
    barrier, answers = Barrier(4), []

    def save(number):
        with school.browser("ada") as tab:
            barrier.wait(timeout=30)
            text = LESSON.replace("Two hands", f"Tab {number}")
            answers.append(tab.post(path, {"text": text, "made_from": made_from}).status)

    threads = [Thread(target=save, args=(number,)) for number in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert sorted(answers) == [303, 409, 409, 409]
    with begin_reading(school.setup.store, school.ada.teacher) as transaction:
        assert len(list_versions(transaction, school.ada.lesson)) == 2
