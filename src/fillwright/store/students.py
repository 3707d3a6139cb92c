"""Students: a name to call them by, hand, level, kit and notes; what they are to practise."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass
from datetime import date, datetime
from typing import Any

from sqlalchemy import Row, Select, delete, select, update

from fillwright.craft.player.kits import USUAL, find_kit
from fillwright.craft.player.players import find_player
from fillwright.errors import StoreError
from fillwright.store.database import added
from fillwright.store.desk import Desk
from fillwright.store.lessons import one_lesson
from fillwright.store.schema import assignment, student
from fillwright.store.settings import own_tables

PRACTISES_ON = ("acoustic kit", "quiet kit", "electronic kit", "practice pad")
"""What a student practises on; how loud that is stands in `noise.toml`."""

_LONGEST_NAME, _LONGEST_NOTES = 80, 4_000


@dataclass(frozen=True, slots=True, kw_only=True)
class Profile:
    """What is asked of a student, and nothing more.

    Attributes:
        name: first name or nickname.
        hand: "right" or "left".
        level: of a player, as lessons have it.
        kit: name of a kit, one of ours or of the teacher's own; it stays when that is forgotten.
        practises_on: one of PRACTISES_ON.
        notes: the teacher's.
    """

    name: str
    hand: str = "right"
    level: str = "first-year"
    kit: str = USUAL
    practises_on: str = "acoustic kit"
    notes: str = ""

    def __post_init__(self) -> None:
        """Refuse what can't be kept, in a sentence.

        Raises:
            StoreError: for a name or notes of the wrong length, a hand or an instrument nobody knows.
            UnknownNameError: for a level nobody knows.
        """
        if not 0 < len(self.name.strip()) <= _LONGEST_NAME:
            raise StoreError(
                f"A student's name has {len(self.name.strip())} characters; a first name or nickname of 1 to "
                f"{_LONGEST_NAME} is enough."
            )
        if len(self.notes) > _LONGEST_NOTES:
            raise StoreError(
                f"The notes have {len(self.notes):,} characters; at most {_LONGEST_NOTES:,} are kept."
            )
        if self.hand not in ("right", "left"):
            raise StoreError(f'"{self.hand}" is no hand; it is right or left.')
        if self.practises_on not in PRACTISES_ON:
            raise StoreError(
                f'"{self.practises_on}" is nothing to practise on; known are: {", ".join(PRACTISES_ON)}.'
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
    """What a student is to practise.

    Attributes:
        id: of the assignment.
        student: number of the student.
        lesson: number of the lesson.
        fill: name of the fill, "" for the whole lesson.
        given: when.
        due: the day by which, or None.
    """

    id: int
    student: int
    lesson: int
    fill: str
    given: datetime
    due: date | None


def add_student(desk: Desk, profile: Profile) -> int:
    """Add a student; gives the number.

    Raises:
        UnknownNameError: for a kit that is neither ours nor the teacher's own.
    """
    find_kit(profile.kit, own_tables(desk).kits)
    values = {"teacher_id": desk.teacher, "created": desk.now, **_values(profile)}
    return desk.add(student, values, "The student can't be added.")


def change_student(desk: Desk, number: int, profile: Profile) -> None:
    """Replace what is known of a student.

    Raises:
        NotThereError: where the teacher has no such student.
        UnknownNameError: for another kit than before, neither ours nor the teacher's own.
    """
    if profile.kit != one_student(desk, number).profile.kit:
        find_kit(profile.kit, own_tables(desk).kits)
    desk.connection.execute(update(student).where(student.c.id == number).values(**_values(profile)))


def one_student(desk: Desk, number: int) -> Student:
    """The student of that number.

    Raises:
        NotThereError: where the teacher has none.
    """
    return _student(desk.row(_mine(desk).where(student.c.id == number), "student"))


def all_students(desk: Desk) -> tuple[Student, ...]:
    """Every student of the teacher, by name."""
    return tuple(map(_student, desk.rows(_mine(desk).order_by(student.c.name, student.c.id))))


def delete_student(desk: Desk, number: int) -> None:
    """Delete a student completely: assignments, takes with their sound, progress, practice log, account.

    Raises:
        NotThereError: where the teacher has no such student.
    """
    one_student(desk, number)
    desk.connection.execute(delete(student).where(student.c.id == number))


def assign(
    desk: Desk, student_number: int, lesson_number: int, *, fill: str = "", due: date | None = None
) -> int:
    """Give a student a fill or a whole lesson to practise; gives the number of the assignment.

    What is assigned already gets the new day by which it is due.

    Raises:
        NotThereError: where the teacher has no such student or lesson.
    """
    one_student(desk, student_number)
    one_lesson(desk, lesson_number)
    asked = (lesson_number, fill)
    given = next((one for one in assignments(desk, student_number) if (one.lesson, one.fill) == asked), None)
    if given:
        desk.connection.execute(update(assignment).where(assignment.c.id == given.id).values(due=due))
        return given.id
    values = {"student_id": student_number, "lesson_id": lesson_number, "fill": fill}
    return added(desk.connection, assignment, {**values, "given": desk.now, "due": due})


def assignments(desk: Desk, student_number: int) -> tuple[Assignment, ...]:
    """What a student is to practise, the oldest first.

    Raises:
        NotThereError: where the teacher has no such student.
    """
    one_student(desk, student_number)
    query = select(assignment).where(assignment.c.student_id == student_number).order_by(assignment.c.id)
    return tuple(
        Assignment(
            id=row.id,
            student=row.student_id,
            lesson=row.lesson_id,
            fill=row.fill,
            given=row.given,
            due=row.due,
        )
        for row in desk.rows(query)
    )


def take_back(desk: Desk, student_number: int, number: int) -> None:
    """Take an assignment back.

    Raises:
        NotThereError: where the student has none of that number.
    """
    one_student(desk, student_number)
    mine = (assignment.c.id == number, assignment.c.student_id == student_number)
    desk.row(select(assignment.c.id).where(*mine), "assignment")
    desk.connection.execute(delete(assignment).where(*mine))


def _values(profile: Profile) -> Mapping[str, Any]:
    return {**asdict(profile), "name": profile.name.strip()}


def _mine(desk: Desk) -> Select[Any]:
    return select(student).where(student.c.teacher_id == desk.teacher)


def _student(row: Row[Any]) -> Student:
    profile = Profile(**{name: getattr(row, name) for name in Profile.__dataclass_fields__})
    return Student(id=row.id, profile=profile, created=row.created)
