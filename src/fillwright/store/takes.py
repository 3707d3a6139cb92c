"""Takes with their reports, and the tempos that students have passed."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import Row, Select, delete, insert, select

from fillwright.errors import StoreError
from fillwright.listen.report.stored.schema import ReportRecord
from fillwright.listen.report.stored.storage import decode_report, encode_report
from fillwright.music.timing import check_tempo
from fillwright.store.criteria import Criteria, judge_take
from fillwright.store.database import add_row
from fillwright.store.lessons import get_lesson
from fillwright.store.schema import passed, student, take, take_media
from fillwright.store.students import get_student
from fillwright.store.transaction import Transaction

LARGEST_TAKE_BYTES = 40_000_000
"""Bytes of a recording: about ten minutes at 44.1 kHz, 16 bits, with room to spare. Ours."""

_MEGABYTE = 1_000_000
"""Bytes in a megabyte (IEC 80000-13: mega is a million)."""

FILE_SUFFIXES = {
    "audio/wav": ".wav",
    "audio/flac": ".flac",
    "audio/ogg": ".ogg",
    "audio/webm": ".webm",
    "audio/mp4": ".m4a",
    "audio/mpeg": ".mp3",
    "audio/aac": ".aac",
    "audio/midi": ".mid",
}
"""Media types of recordings that are accepted, each with the ending of its files."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Exercise:
    """A fill at a tempo for a student: the subject of a take or a pass.

    Attributes:
        student: number of the student.
        lesson: number of the lesson.
        fill: name of the fill in it.
        tempo: in bpm, in the meter's beats.
    """

    student: int
    lesson: int
    fill: str
    tempo: int


@dataclass(frozen=True, slots=True, kw_only=True)
class StoredTake:
    """A take in the store.

    Attributes:
        id: of the take.
        exercise: that was played.
        recorded: time at which it was stored.
        media_type: of the recording.
        passed: True if it met the criteria of its day.
    """

    id: int
    exercise: Exercise
    recorded: datetime
    media_type: str
    passed: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Pass:
    """A fill passed at a tempo.

    Attributes:
        exercise: that was passed.
        at: time of the pass.
        take: number of the take that passed; None if the teacher marked it.
    """

    exercise: Exercise
    at: datetime
    take: int | None


def add_take(
    transaction: Transaction,
    exercise: Exercise,
    report: ReportRecord,
    recording: tuple[str, bytes],
    *,
    criteria: Criteria,
    picture: str = "",
) -> int:
    """Add a take with its report, and a pass if it meets the criteria; return the number of the take.

    Args:
        transaction: of the teacher.
        exercise: that was played.
        report: on the take.
        recording: its media type and content.
        criteria: of a pass.
        picture: drawing of the take over the notation, as SVG.

    Raises:
        NotThereError: if the teacher has no such student or lesson.
        StoreError: for a recording that is too large.
    """
    _check_exercise(transaction, exercise)
    media_type, content = recording
    if len(content) > LARGEST_TAKE_BYTES:
        raise StoreError(
            f"The recording has {len(content) / _MEGABYTE:.0f} MB. A take can have "
            f"{LARGEST_TAKE_BYTES // _MEGABYTE} MB."
        )
    is_pass = judge_take(report, criteria).passed
    columns = _encode_exercise(exercise)
    values = {**columns, "recorded": transaction.now, "media_type": media_type, "passed": is_pass}
    number = add_row(transaction.connection, take, {**values, "report": encode_report(report)})
    transaction.connection.execute(insert(take_media).values(take_id=number, content=content, picture=picture))
    if is_pass:
        transaction.connection.execute(insert(passed).values(**columns, at=transaction.now, take_id=number))
    return number


def list_takes(transaction: Transaction, student_number: int, *, most: int = 200) -> tuple[StoredTake, ...]:
    """List a student's takes, the newest first.

    Raises:
        NotThereError: if the teacher has no such student.
    """
    get_student(transaction, student_number)
    query = select(*_LISTED).where(take.c.student_id == student_number).order_by(take.c.id.desc()).limit(most)
    return tuple(map(_read_take, transaction.fetch_all(query)))


def get_take(transaction: Transaction, number: int) -> StoredTake:
    """Return the take of that number.

    Raises:
        NotThereError: if the teacher has none.
    """
    return _read_take(transaction.fetch_one(_select_takes(transaction, take.c.id == number), "take"))


def get_report(transaction: Transaction, number: int) -> ReportRecord:
    """Return the report of a take; reports of earlier versions are converted.

    Raises:
        NotThereError: if the teacher has no such take.
        FillwrightError: for a damaged report, or one by a newer version.
    """
    get_take(transaction, number)
    row = transaction.fetch_one(select(take.c.report).where(take.c.id == number), "take")
    return decode_report(row.report, where=f"The report on take {number}")


def get_recording(transaction: Transaction, number: int) -> tuple[str, bytes]:
    """Return media type and content of a take's recording.

    Raises:
        NotThereError: if the teacher has no such take.
    """
    media_type = get_take(transaction, number).media_type
    query = select(take_media.c.content).where(take_media.c.take_id == number)
    return media_type, bytes(transaction.fetch_one(query, "recording").content)


def get_picture(transaction: Transaction, number: int) -> str:
    """Return the drawing of a take, as SVG; "" if there is none.

    Raises:
        NotThereError: if the teacher has no such take.
    """
    get_take(transaction, number)
    query = select(take_media.c.picture).where(take_media.c.take_id == number)
    return str(transaction.fetch_one(query, "picture").picture)


def delete_take(transaction: Transaction, number: int) -> None:
    """Delete a take and its recording. Its pass stays, as if the teacher had marked it.

    Raises:
        NotThereError: if the teacher has no such take.
    """
    get_take(transaction, number)
    transaction.connection.execute(delete(take).where(take.c.id == number))


def mark_passed(transaction: Transaction, exercise: Exercise) -> None:
    """Mark a fill as passed without a take.

    Raises:
        NotThereError: if the teacher has no such student or lesson.
        TempoError: for a tempo that can't be played.
    """
    _check_exercise(transaction, exercise)
    values = {**_encode_exercise(exercise), "at": transaction.now, "take_id": None}
    transaction.connection.execute(insert(passed).values(**values))


def list_passes(transaction: Transaction, student_number: int) -> tuple[Pass, ...]:
    """List everything that a student has passed, in order of time.

    Raises:
        NotThereError: if the teacher has no such student.
    """
    get_student(transaction, student_number)
    query = select(passed).where(passed.c.student_id == student_number).order_by(passed.c.at, passed.c.id)
    return tuple(
        Pass(exercise=_read_exercise(row), at=row.at, take=row.take_id) for row in transaction.fetch_all(query)
    )


def _check_exercise(transaction: Transaction, exercise: Exercise) -> None:
    get_student(transaction, exercise.student)
    get_lesson(transaction, exercise.lesson)
    check_tempo(exercise.tempo)


def _encode_exercise(exercise: Exercise) -> dict[str, Any]:
    return {
        "student_id": exercise.student,
        "lesson_id": exercise.lesson,
        "fill": exercise.fill,
        "tempo": exercise.tempo,
    }


def _read_exercise(row: Row[Any]) -> Exercise:
    return Exercise(student=row.student_id, lesson=row.lesson_id, fill=row.fill, tempo=row.tempo)


_LISTED = [column for column in take.c if column is not take.c.report]
"""Columns of a list of takes. Reports are long, so they are read one by one."""


def _select_takes(transaction: Transaction, *conditions: Any) -> Select[Any]:
    return select(*_LISTED).join(student).where(student.c.teacher_id == transaction.teacher, *conditions)


def _read_take(row: Row[Any]) -> StoredTake:
    return StoredTake(
        id=row.id,
        exercise=_read_exercise(row),
        recorded=row.recorded,
        media_type=row.media_type,
        passed=row.passed,
    )
