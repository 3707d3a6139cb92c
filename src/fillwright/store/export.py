"""Everything about one student as a zip of open formats: JSON, CSV, and the recordings as they came."""

from __future__ import annotations

import csv
import io
import json
import zipfile
from collections.abc import Iterable, Sequence
from dataclasses import asdict
from datetime import date, datetime
from typing import Any

from fillwright.store.desk import Desk
from fillwright.store.lessons import one_lesson
from fillwright.store.practice_log import practice_of
from fillwright.store.students import assignments, one_student
from fillwright.store.takes import ENDINGS, passes_of, recording_of, report_of, takes_of

_ALL = 1_000_000


def export_student(desk: Desk, number: int) -> bytes:
    """A student's whole record.

    Raises:
        NotThereError: where the teacher has no such student.
    """
    student = one_student(desk, number)
    memory = io.BytesIO()
    with zipfile.ZipFile(memory, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("student.json", _json({**asdict(student.profile), "since": student.created}))
        archive.writestr("assignments.csv", _table(_assigned(desk, number), ("lesson", "fill", "given", "due")))
        passed = [
            (_title(desk, one.of.lesson), one.of.fill, one.of.tempo, one.at, "take" if one.take else "teacher")
            for one in passes_of(desk, number)
        ]
        archive.writestr("passed.csv", _table(passed, ("lesson", "fill", "tempo", "at", "by")))
        log = [
            (one.at, one.minutes, _title(desk, one.lesson) if one.lesson else "", one.fill, one.tempo or "")
            for one in practice_of(desk, number)
        ]
        archive.writestr("practice.csv", _table(log, ("at", "minutes", "lesson", "fill", "tempo")))
        for take in takes_of(desk, number, most=_ALL):
            media_type, content = recording_of(desk, take.id)
            name = f"takes/{take.recorded:%Y-%m-%d}-{take.id}"
            about = {
                "lesson": _title(desk, take.of.lesson),
                "fill": take.of.fill,
                "tempo": take.of.tempo,
                "passed": take.passed,
                "report": report_of(desk, take.id),
            }
            archive.writestr(f"{name}.json", _json(about))
            ending = ENDINGS.get(media_type, ".bin")
            archive.writestr(f"{name}{ending}", content)
    return memory.getvalue()


def _assigned(desk: Desk, number: int) -> list[tuple[Any, ...]]:
    return [
        (_title(desk, one.lesson), one.fill or "the whole lesson", one.given, one.due or "")
        for one in assignments(desk, number)
    ]


def _title(desk: Desk, lesson: int) -> str:
    found = one_lesson(desk, lesson)
    return f"{found.number}. {found.title}"


def _json(value: Any) -> str:
    return json.dumps(value, ensure_ascii=False, indent=1, default=_moment)


def _moment(value: Any) -> str:
    if isinstance(value, datetime | date):
        return value.isoformat()
    raise TypeError(f"{value!r} can't be written as JSON")


def _table(rows: Iterable[Sequence[Any]], head: Sequence[str]) -> str:
    memory = io.StringIO()
    writer = csv.writer(memory)
    writer.writerow(head)
    writer.writerows([_cell(value) for value in row] for row in rows)
    return memory.getvalue()


def _cell(value: Any) -> Any:
    return value.isoformat() if isinstance(value, datetime | date) else value
