"""The practice log: minutes of practice, and the fill they were spent on."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import insert, select

from fillwright.errors import StoreError
from fillwright.music.timing import check_tempo
from fillwright.store.lessons import get_lesson
from fillwright.store.schema import practice
from fillwright.store.students import get_student
from fillwright.store.transaction import Transaction

MOST_MINUTES = 24 * 60
"""Minutes of one entry: a whole day."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PracticeEntry:
    """Minutes on a fill; `lesson` is None and `fill` "" for practice of anything else."""

    student: int
    lesson: int | None
    fill: str
    tempo: int | None
    at: datetime
    minutes: float


def log_practice(
    transaction: Transaction,
    student_number: int,
    minutes: float,
    *,
    lesson: int | None = None,
    fill: str = "",
    tempo: int | None = None,
) -> None:
    """Log some minutes of practice.

    Raises:
        NotThereError: if the teacher has no such student or lesson.
        StoreError: for no minutes, or more than a day has.
        TempoError: for a tempo that can't be played.
    """
    get_student(transaction, student_number)
    if lesson is not None:
        get_lesson(transaction, lesson)
    if tempo is not None:
        check_tempo(tempo)
    if not 0 < minutes <= MOST_MINUTES:
        raise StoreError(f"{minutes:g} minutes of practice can't be logged; write 1 to {MOST_MINUTES:,}.")
    values = {"student_id": student_number, "lesson_id": lesson, "fill": fill, "tempo": tempo}
    transaction.connection.execute(insert(practice).values(**values, at=transaction.now, minutes=minutes))


def list_practice(transaction: Transaction, student_number: int) -> tuple[PracticeEntry, ...]:
    """List a student's practice log, in order of time.

    Raises:
        NotThereError: if the teacher has no such student.
    """
    get_student(transaction, student_number)
    query = (
        select(practice).where(practice.c.student_id == student_number).order_by(practice.c.at, practice.c.id)
    )
    return tuple(
        PracticeEntry(
            student=row.student_id,
            lesson=row.lesson_id,
            fill=row.fill,
            tempo=row.tempo,
            at=row.at,
            minutes=row.minutes,
        )
        for row in transaction.fetch_all(query)
    )
