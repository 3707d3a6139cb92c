"""Students with their profiles, and their assignments."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass
from datetime import date, datetime
from typing import Any

from sqlalchemy import Row, Select, delete, select, update

from fillwright.craft.player.kits import USUAL, find_kit
from fillwright.craft.player.players import find_player
from fillwright.errors import StoreError
from fillwright.store.database import add_row
from fillwright.store.lessons import get_lesson
from fillwright.store.schema import assignment, student
from fillwright.store.settings import read_own_tables
from fillwright.store.transaction import Transaction

PRACTISES_ON = ("acoustic kit", "quiet kit", "electronic kit", "practice pad")
"""Instruments to practise on; `planning/noise.toml` has the loudness of each."""

_LONGEST_NAME = 80
"""Characters of a name, as the table has room for."""

_LONGEST_NOTES = 4_000
"""Characters of a teacher's notes about a student: about two pages. Ours."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Profile:
    """The profile of a student: everything that is stored about them as a person.

    Attributes:
        name: first name or nickname.
        hand: "right" or "left".
        level: of the player, as in lessons.
        kit: name of a kit, ours or the teacher's own; it stays if that kit is deleted.
        practises_on: one of PRACTISES_ON.
        notes: by the teacher, about the student.
    """

    name: str
    hand: str = "right"
    level: str = "first-year"
    kit: str = USUAL
    practises_on: str = "acoustic kit"
    notes: str = ""

    def __post_init__(self) -> None:
        """Refuse a profile that can't be stored.

        Raises:
            StoreError: for a name or notes of the wrong length, an unknown hand or an unknown instrument.
            UnknownNameError: for an unknown level.
        """
        if not 0 < len(self.name.strip()) <= _LONGEST_NAME:
            raise StoreError(
                f"The student's name has {len(self.name.strip())} characters; write 1 to {_LONGEST_NAME}. "
                "A first name or nickname is enough."
            )
        if len(self.notes) > _LONGEST_NOTES:
            raise StoreError(
                f"The notes have {len(self.notes):,} characters; write at most {_LONGEST_NOTES:,}."
            )
        if self.hand not in ("right", "left"):
            raise StoreError(f'"{self.hand}" is not a leading hand; use right or left.')
        if self.practises_on not in PRACTISES_ON:
            raise StoreError(
                f'"{self.practises_on}" is not an instrument to practise on; use one of: '
                f"{', '.join(PRACTISES_ON)}."
            )
        find_player(self.level)


@dataclass(frozen=True, slots=True, kw_only=True)
class Student:
    """A student in the store."""

    id: int
    profile: Profile
    created: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class Assignment:
    """A fill or a lesson that a student practises.

    Attributes:
        id: of the assignment.
        student: number of the student.
        lesson: number of the lesson.
        fill: name of the fill, "" for the whole lesson.
        assigned: time at which it was assigned.
        due: day by which it is to be learned, or None.
    """

    id: int
    student: int
    lesson: int
    fill: str
    assigned: datetime
    due: date | None


def add_student(transaction: Transaction, profile: Profile) -> int:
    """Add a student and return the number.

    Raises:
        UnknownNameError: for a kit that is neither ours nor the teacher's own.
    """
    find_kit(profile.kit, read_own_tables(transaction).kits)
    values = {"teacher_id": transaction.teacher, "created": transaction.now, **_encode_profile(profile)}
    return transaction.add(student, values, "The student can't be added.")


def change_student(transaction: Transaction, number: int, profile: Profile) -> None:
    """Replace a student's profile.

    Raises:
        NotThereError: if the teacher has no such student.
        UnknownNameError: for a new kit that is neither ours nor the teacher's own.
    """
    if profile.kit != get_student(transaction, number).profile.kit:
        find_kit(profile.kit, read_own_tables(transaction).kits)
    transaction.connection.execute(
        update(student).where(student.c.id == number).values(**_encode_profile(profile))
    )


def get_student(transaction: Transaction, number: int) -> Student:
    """Return the student of that number.

    Raises:
        NotThereError: if the teacher has none.
    """
    return _read_student(
        transaction.fetch_one(_select_students(transaction).where(student.c.id == number), "student")
    )


def list_students(transaction: Transaction) -> tuple[Student, ...]:
    """List the teacher's students, by name."""
    return tuple(
        map(
            _read_student,
            transaction.fetch_all(_select_students(transaction).order_by(student.c.name, student.c.id)),
        )
    )


def delete_student(transaction: Transaction, number: int) -> None:
    """Delete a student completely: assignments, takes with their recordings, progress, practice log, account.

    Raises:
        NotThereError: if the teacher has no such student.
    """
    get_student(transaction, number)
    transaction.connection.execute(delete(student).where(student.c.id == number))


def assign(
    transaction: Transaction,
    student_number: int,
    lesson_number: int,
    *,
    fill: str = "",
    due: date | None = None,
) -> int:
    """Assign a fill or a whole lesson to a student and return the number of the assignment.

    A fill or lesson that is assigned already gets the new due day.

    Raises:
        NotThereError: if the teacher has no such student or lesson.
    """
    get_student(transaction, student_number)
    get_lesson(transaction, lesson_number)
    for existing in list_assignments(transaction, student_number):
        if (existing.lesson, existing.fill) == (lesson_number, fill):
            change = update(assignment).where(assignment.c.id == existing.id).values(due=due)
            transaction.connection.execute(change)
            return existing.id
    values = {"student_id": student_number, "lesson_id": lesson_number, "fill": fill}
    return add_row(transaction.connection, assignment, {**values, "given": transaction.now, "due": due})


def list_assignments(transaction: Transaction, student_number: int) -> tuple[Assignment, ...]:
    """List a student's assignments, the oldest first.

    Raises:
        NotThereError: if the teacher has no such student.
    """
    get_student(transaction, student_number)
    query = select(assignment).where(assignment.c.student_id == student_number).order_by(assignment.c.id)
    return tuple(
        Assignment(
            id=row.id,
            student=row.student_id,
            lesson=row.lesson_id,
            fill=row.fill,
            assigned=row.given,
            due=row.due,
        )
        for row in transaction.fetch_all(query)
    )


def unassign(transaction: Transaction, student_number: int, number: int) -> None:
    """Delete an assignment.

    Raises:
        NotThereError: if the student has none of that number.
    """
    get_student(transaction, student_number)
    conditions = (assignment.c.id == number, assignment.c.student_id == student_number)
    transaction.fetch_one(select(assignment.c.id).where(*conditions), "assignment")
    transaction.connection.execute(delete(assignment).where(*conditions))


def _encode_profile(profile: Profile) -> Mapping[str, Any]:
    return {**asdict(profile), "name": profile.name.strip()}


def _select_students(transaction: Transaction) -> Select[Any]:
    return select(student).where(student.c.teacher_id == transaction.teacher)


def _read_student(row: Row[Any]) -> Student:
    profile = Profile(**{name: getattr(row, name) for name in Profile.__dataclass_fields__})
    return Student(id=row.id, profile=profile, created=row.created)
