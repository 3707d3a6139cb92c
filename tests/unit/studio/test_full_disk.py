"""A full disk in the studio: one sentence and status 507, what was typed is kept, and nothing is half saved."""

from __future__ import annotations

import pytest
from sqlalchemy import event

from fillwright.studio.work.full_disk import FULL_DISK
from tests.studio import LESSON, SETTINGS


@pytest.fixture
def full(school):
    """A school whose file may not grow by a page: SQLite reports the same as on a full disk."""
    engine = school.setup.store.engine
    engine.dispose()  # connections that are open have the old limit

    def limit(connection, _record):
        pages = connection.execute("PRAGMA page_count").fetchone()[0]
        connection.execute(f"PRAGMA max_page_count = {pages}")

    event.listen(engine, "connect", limit)
    yield school
    event.remove(engine, "connect", limit)


_LONG = "# A long remark.\n" * 12_000
_NOTES = "Likes brushes. " * 250


@pytest.mark.parametrize(
    ("path", "form", "kept"),
    [
        ("/lessons/{lesson}/text", {"text": LESSON + _LONG}, "# A long remark."),
        (
            "/series/{series}/new",
            {"text": LESSON.replace("number = 1", "number = 2") + _LONG},
            "# A long remark.",
        ),
    ],
    ids=["a lesson's text", "a new lesson"],
)
def test_a_lesson_on_a_full_disk(full, path, form, kept):
    before = full.rows()
    with full.browser("ada") as ada:
        answer = ada.post(path.format(lesson=full.ada.lesson, series=full.ada.series), form)
        assert answer.status == 507, answer.text[:2000]
        assert FULL_DISK in answer.text
        assert kept in answer.text.split("<textarea", 1)[1]
        assert full.rows() == before
        assert ada.get(f"/lessons/{full.ada.lesson}").status == 200


def test_students_and_settings_on_a_full_disk(full):
    before = full.rows()
    statuses = set()
    with full.browser("ada") as ada:
        for number in range(40):
            answer = ada.post("/students", {"name": f"Student {number}", "notes": _NOTES})
            statuses.add(answer.status)
            if answer.status == 507:
                assert FULL_DISK in answer.text
                assert _NOTES[:100] in answer.text
                break
        added = full.rows()["student"]
        settings = ada.post("/settings", {**SETTINGS, "minutes": "45"})
    assert statuses <= {303, 507}
    assert 507 in statuses
    assert len(added) == len(before["student"]) + number
    assert settings.status in {303, 507}
