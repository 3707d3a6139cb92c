"""Export of everything about one student, as a zip of open formats: JSON, CSV, and the original recordings."""

from __future__ import annotations

import csv
import io
import json
import zipfile
from collections.abc import Iterable, Sequence
from dataclasses import asdict
from datetime import date, datetime
from typing import Any

from fillwright.listen.report.stored.storage import encode_report
from fillwright.store.lessons import get_lesson
from fillwright.store.practice_log import list_practice
from fillwright.store.students import get_student, list_assignments
from fillwright.store.takes import (
    FILE_SUFFIXES,
    StoredTake,
    get_recording,
    get_report,
    list_passes,
    list_takes,
)
from fillwright.store.transaction import Transaction

_MOST_TAKES = 1_000_000
"""Takes of one student, more than anybody records: all of them. Ours."""


def export_student(transaction: Transaction, number: int) -> bytes:
    """Export a student's whole record.

    Raises:
        NotThereError: if the teacher has no such student.
    """
    student = get_student(transaction, number)
    memory = io.BytesIO()
    with zipfile.ZipFile(memory, "w", zipfile.ZIP_DEFLATED) as archive:
        profile = {**asdict(student.profile), "since": student.created}
        archive.writestr("student.json", _write_json(profile))
        for name, table in _write_tables(transaction, number).items():
            archive.writestr(name, table)
        for take in list_takes(transaction, number, most=_MOST_TAKES):
            media_type, content = get_recording(transaction, take.id)
            name = f"takes/{take.recorded:%Y-%m-%d}-{take.id}"
            archive.writestr(f"{name}.json", _write_json(_describe_take(transaction, take)))
            archive.writestr(f"{name}{FILE_SUFFIXES.get(media_type, '.bin')}", content)
    return memory.getvalue()


def _write_tables(transaction: Transaction, number: int) -> dict[str, str]:
    """Return assignments, passes and practice log as CSV, by file name."""
    assignments = [
        (_get_title(transaction, row.lesson), row.fill or "the whole lesson", row.assigned, row.due or "")
        for row in list_assignments(transaction, number)
    ]
    passes = [
        (
            _get_title(transaction, row.exercise.lesson),
            row.exercise.fill,
            row.exercise.tempo,
            row.at,
            "take" if row.take else "teacher",
        )
        for row in list_passes(transaction, number)
    ]
    log = [
        (
            entry.at,
            entry.minutes,
            _get_title(transaction, entry.lesson) if entry.lesson else "",
            entry.fill,
            entry.tempo or "",
        )
        for entry in list_practice(transaction, number)
    ]
    return {
        "assignments.csv": _write_csv(assignments, ("lesson", "fill", "given", "due")),
        "passed.csv": _write_csv(passes, ("lesson", "fill", "tempo", "at", "by")),
        "practice.csv": _write_csv(log, ("at", "minutes", "lesson", "fill", "tempo")),
    }


def _describe_take(transaction: Transaction, take: StoredTake) -> dict[str, Any]:
    return {
        "lesson": _get_title(transaction, take.exercise.lesson),
        "fill": take.exercise.fill,
        "tempo": take.exercise.tempo,
        "passed": take.passed,
        "report": encode_report(get_report(transaction, take.id)),
    }


def _get_title(transaction: Transaction, lesson: int) -> str:
    saved = get_lesson(transaction, lesson)
    return f"{saved.number}. {saved.title}"


def _write_json(value: Any) -> str:
    return json.dumps(value, ensure_ascii=False, indent=1, default=_encode_moment)


def _encode_moment(value: Any) -> str:
    if isinstance(value, datetime | date):
        return value.isoformat()
    raise TypeError(f"{value!r} can't be written as JSON")


def _write_csv(rows: Iterable[Sequence[Any]], head: Sequence[str]) -> str:
    memory = io.StringIO()
    writer = csv.writer(memory)
    writer.writerow(head)
    writer.writerows([_encode_cell(value) for value in row] for row in rows)
    return memory.getvalue()


def _encode_cell(value: Any) -> Any:
    return value.isoformat() if isinstance(value, datetime | date) else value
