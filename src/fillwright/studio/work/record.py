"""A student's record as plans need it: assigned fills, and every attempt so far."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime

from fillwright.store.planning.noise import compute_minutes_on
from fillwright.store.planning.plan import AssignedFill, Attempt, DayPlan, plan_days
from fillwright.store.practice_log import list_practice
from fillwright.store.settings import read_settings
from fillwright.store.students import Assignment, Student, get_student, list_assignments
from fillwright.store.takes import Exercise, list_passes, list_takes
from fillwright.store.transaction import Transaction
from fillwright.studio.work.lessons import PlannedLesson, plan_lesson

MINUTES_A_DAY = 30
"""Minutes of practice a day, unless the teacher sets others. Ours."""

_MOST_TAKES = 10_000
"""Takes of one student that a plan looks at: 27 a day for a year. Ours."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PracticeRecord:
    """The record of one student.

    Attributes:
        student: name and profile.
        lessons: every assigned lesson, planned, by its number in the store.
        assigned_fills: fills to learn, in the order of the lessons.
        attempts: everything played so far, in order of time.
        minutes: of practice a day.
        protected: True if the student wears hearing protection.
    """

    student: Student
    lessons: Mapping[int, PlannedLesson]
    assigned_fills: tuple[AssignedFill, ...]
    attempts: tuple[Attempt, ...]
    minutes: int
    protected: bool

    @property
    def noise_minutes(self) -> float:
        """Minutes a day that the noise of the student's kit allows."""
        return compute_minutes_on(self.student.profile.practises_on, protected=self.protected)

    def plan(self, first: date, days: int = 7) -> tuple[DayPlan, ...]:
        """Plan some days of practice."""
        return plan_days(
            first,
            self.assigned_fills,
            self.attempts,
            minutes=self.minutes,
            noise_minutes=self.noise_minutes,
            days=days,
        )


def read_record(transaction: Transaction, number: int) -> PracticeRecord:
    """Read the record of a student.

    Raises:
        NotThereError: if the teacher has no such student.
    """
    student = get_student(transaction, number)
    settings = read_settings(transaction)
    assignments = list_assignments(transaction, number)
    numbers = dict.fromkeys(assignment.lesson for assignment in assignments)
    lessons = {lesson: plan_lesson(transaction, lesson) for lesson in numbers}
    return PracticeRecord(
        student=student,
        lessons=lessons,
        assigned_fills=_list_assigned_fills(assignments, lessons),
        attempts=_list_attempts(transaction, number),
        minutes=int(settings.get("minutes", MINUTES_A_DAY)),
        protected=bool(settings.get("protected", True)),
    )


def _list_assigned_fills(
    assignments: tuple[Assignment, ...], lessons: Mapping[int, PlannedLesson]
) -> tuple[AssignedFill, ...]:
    assigned: dict[tuple[int, str], AssignedFill] = {}
    for assignment in assignments:
        for fill in lessons[assignment.lesson].fills:
            key = (assignment.lesson, fill.name)
            if assignment.fill in ("", fill.name) and key not in assigned:
                assigned[key] = AssignedFill(
                    lesson=assignment.lesson,
                    fill=fill.name,
                    title=fill.title,
                    ladder=fill.ladder,
                    due=assignment.due,
                    grade=fill.step.route.grade,
                )
    return tuple(assigned.values())


def _list_attempts(transaction: Transaction, number: int) -> tuple[Attempt, ...]:
    failed = [
        (take.recorded, _to_attempt(take.exercise, take.recorded, passed=False))
        for take in list_takes(transaction, number, most=_MOST_TAKES)
        if not take.passed
    ]
    passed = [
        (item.at, _to_attempt(item.exercise, item.at, passed=True)) for item in list_passes(transaction, number)
    ]
    practised = [
        (entry.at, Attempt(lesson=entry.lesson, fill=entry.fill, day=entry.at.astimezone().date()))
        for entry in list_practice(transaction, number)
        if entry.lesson is not None
    ]
    return tuple(attempt for _, attempt in sorted([*failed, *passed, *practised], key=lambda pair: pair[0]))


def _to_attempt(exercise: Exercise, at: datetime, *, passed: bool) -> Attempt:
    return Attempt(
        lesson=exercise.lesson,
        fill=exercise.fill,
        day=at.astimezone().date(),
        tempo=exercise.tempo,
        passed=passed,
    )
