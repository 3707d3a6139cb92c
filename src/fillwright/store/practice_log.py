"""The practice log: how many minutes, and on what."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import insert, select

from fillwright.errors import StoreError
from fillwright.music.timing import check_tempo
from fillwright.store.desk import Desk
from fillwright.store.lessons import one_lesson
from fillwright.store.schema import practice
from fillwright.store.students import one_student

MOST_MINUTES = 24 * 60


@dataclass(frozen=True, slots=True, kw_only=True)
class Practised:
    """Minutes on a fill; `lesson` is None and `fill` "" for practice on anything else."""

    student: int
    lesson: int | None
    fill: str
    tempo: int | None
    at: datetime
    minutes: float


def log_practice(
    desk: Desk,
    student_number: int,
    minutes: float,
    *,
    lesson: int | None = None,
    fill: str = "",
    tempo: int | None = None,
) -> None:
    """Write down some minutes of practice.

    Raises:
        NotThereError: where the teacher has no such student or lesson.
        StoreError: for no minutes, or more than a day has.
        TempoError: for a tempo that can't be played.
    """
    one_student(desk, student_number)
    if lesson is not None:
        one_lesson(desk, lesson)
    if tempo is not None:
        check_tempo(tempo)
    if not 0 < minutes <= MOST_MINUTES:
        raise StoreError(f"{minutes:g} minutes of practice can't be kept; write more than 0 and at most 1,440.")
    values = {"student_id": student_number, "lesson_id": lesson, "fill": fill, "tempo": tempo}
    desk.connection.execute(insert(practice).values(**values, at=desk.now, minutes=minutes))


def practice_of(desk: Desk, student_number: int) -> tuple[Practised, ...]:
    """A student's practice log, in order of time.

    Raises:
        NotThereError: where the teacher has no such student.
    """
    one_student(desk, student_number)
    query = (
        select(practice).where(practice.c.student_id == student_number).order_by(practice.c.at, practice.c.id)
    )
    return tuple(
        Practised(
            student=row.student_id,
            lesson=row.lesson_id,
            fill=row.fill,
            tempo=row.tempo,
            at=row.at,
            minutes=row.minutes,
        )
        for row in desk.rows(query)
    )
