"""A student's record as plans need it: what is to be learnt, and everything tried so far."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from fillwright.store.desk import Desk
from fillwright.store.planning.noise import minutes_on
from fillwright.store.planning.plan import Goal, Plan, Tried, week
from fillwright.store.practice_log import practice_of
from fillwright.store.settings import settings
from fillwright.store.students import Student, assignments, one_student
from fillwright.store.takes import passes_of, takes_of
from fillwright.studio.work.lessons import Worked, work_out

MINUTES_A_DAY = 30
"""A day's practice where nobody said otherwise (ours)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Record:
    """Everything about one student that pages speak of.

    Attributes:
        student: who.
        lessons: every lesson assigned, worked out, by its number in the store.
        goals: fills to learn, in the order of the lessons.
        tried: everything played so far, in order of time.
        minutes: a day's practice.
        protected: whether the ears are.
    """

    student: Student
    lessons: dict[int, Worked]
    goals: tuple[Goal, ...]
    tried: tuple[Tried, ...]
    minutes: int
    protected: bool

    @property
    def budget(self) -> float:
        """Minutes a day that the noise of the student's kit allows."""
        return minutes_on(self.student.profile.practises_on, protected=self.protected)

    def plans(self, first: date, days: int = 7) -> tuple[Plan, ...]:
        """Plans for some days."""
        return week(first, self.goals, self.tried, minutes=self.minutes, budget=self.budget, days=days)


def record_of(desk: Desk, number: int) -> Record:
    """The record of a student.

    Raises:
        NotThereError: where the teacher has no such student.
    """
    student = one_student(desk, number)
    kept = settings(desk)
    given = assignments(desk, number)
    lessons = {lesson: work_out(desk, lesson) for lesson in dict.fromkeys(one.lesson for one in given)}
    goals: dict[tuple[int, str], Goal] = {}
    for one in given:
        for fill in lessons[one.lesson].fills:
            if one.fill in ("", fill.name) and (one.lesson, fill.name) not in goals:
                goals[one.lesson, fill.name] = Goal(
                    lesson=one.lesson,
                    fill=fill.name,
                    title=fill.title,
                    ladder=fill.ladder,
                    due=one.due,
                    grade=fill.step.route.grade,
                )
    return Record(
        student=student,
        lessons=lessons,
        goals=tuple(goals.values()),
        tried=_tried(desk, number),
        minutes=int(kept.get("minutes", MINUTES_A_DAY)),
        protected=bool(kept.get("protected", True)),
    )


def _tried(desk: Desk, number: int) -> tuple[Tried, ...]:
    takes = [
        (
            one.recorded,
            Tried(
                lesson=one.of.lesson, fill=one.of.fill, day=one.recorded.astimezone().date(), tempo=one.of.tempo
            ),
        )
        for one in takes_of(desk, number, most=10_000)
        if not one.passed
    ]
    passed = [
        (
            one.at,
            Tried(
                lesson=one.of.lesson,
                fill=one.of.fill,
                day=one.at.astimezone().date(),
                tempo=one.of.tempo,
                passed=True,
            ),
        )
        for one in passes_of(desk, number)
    ]
    practised = [
        (one.at, Tried(lesson=one.lesson, fill=one.fill, day=one.at.astimezone().date()))
        for one in practice_of(desk, number)
        if one.lesson is not None
    ]
    return tuple(one for _, one in sorted([*takes, *passed, *practised], key=lambda pair: pair[0]))
