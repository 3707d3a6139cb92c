"""A student's record: assigned fills, and every attempt in order."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from fillwright.errors import NotThereError
from fillwright.store.database import open_store
from fillwright.store.lessons import add_lesson, add_series
from fillwright.store.practice_log import log_practice
from fillwright.store.settings import save_setting
from fillwright.store.students import Profile, add_student, assign
from fillwright.store.takes import Exercise, mark_passed
from fillwright.store.transaction import begin_writing, ensure_teacher
from fillwright.studio.work.lessons import plan_text
from fillwright.studio.work.progress import list_progress
from fillwright.studio.work.record import MINUTES_A_DAY, read_record
from tests.studio import FILL, LESSON

START = datetime(2026, 3, 2, 17, 0, tzinfo=UTC)


@pytest.fixture
def transaction_at(tmp_path):
    """Begin a transaction of the teacher, some days later."""
    store = open_store(tmp_path / "store")
    teacher = ensure_teacher(store)
    yield lambda days=0: begin_writing(store, teacher, lambda: START + timedelta(days=days))
    store.close()


@pytest.fixture
def student(transaction_at):
    """A student to whom one fill and then its whole lesson are assigned."""
    with transaction_at() as transaction:
        lesson = add_lesson(transaction, add_series(transaction, "A series"), LESSON)
        number = add_student(transaction, Profile(name="Mo", practises_on="practice pad"))
        assign(transaction, number, lesson, fill=FILL)
        assign(transaction, number, lesson)
    return number


def passed(transaction, student, tempo):
    """Mark a fill as passed."""
    mark_passed(transaction, Exercise(student=student, lesson=1, fill=FILL, tempo=tempo))


def test_a_fill_that_is_assigned_twice_is_listed_once(transaction_at, student):
    with transaction_at() as transaction:
        record = read_record(transaction, student)
    assert sorted(fill.fill for fill in record.assigned_fills) == sorted(
        one.name for one in plan_text(LESSON).fills
    )
    assert record.assigned_fills[0].fill == FILL
    assert record.minutes == MINUTES_A_DAY


def test_attempts_are_in_order_of_time(transaction_at, student):
    with transaction_at(2) as transaction:
        passed(transaction, student, 70)
    with transaction_at(1) as transaction:
        log_practice(transaction, student, 10, lesson=1, fill=FILL)
        log_practice(transaction, student, 10)
    with transaction_at(0) as transaction:
        passed(transaction, student, 60)
        attempts = read_record(transaction, student).attempts
    assert [(one.day.day, one.tempo, one.passed) for one in attempts] == [
        (2, 60, True),
        (3, 0, False),
        (4, 70, True),
    ]


def test_settings_of_the_teacher_shape_the_plan(transaction_at, student):
    with transaction_at() as transaction:
        save_setting(transaction, "minutes", 12)
        record = read_record(transaction, student)
        plan = record.plan(START.date(), days=1)[0]
    assert sum(one.minutes for one in plan.items) <= 12


def test_an_unknown_student_has_no_record(transaction_at):
    with transaction_at() as transaction, pytest.raises(NotThereError, match="no such student"):
        read_record(transaction, 7)


def test_progress_goes_up_and_to_the_right(transaction_at, student):
    for day, tempo in ((0, 60), (4, 80), (5, 70)):
        with transaction_at(day) as transaction:
            passed(transaction, student, tempo)
    with transaction_at(6) as transaction:
        line = next(one for one in list_progress(read_record(transaction, student)) if one.fill == FILL)
    points = [tuple(map(float, point.split(","))) for point in line.points.split()]
    assert (line.reached, line.words, line.is_started) == (80, "3 of 3 tempos passed", True)
    assert [x for x, _ in points] == pytest.approx([6.0, 188.4, 234.0])
    assert points[0][1] > points[1][1] == points[2][1]  # a slower tempo passed later takes nothing away


def test_a_fill_without_attempts_has_no_line(transaction_at, student):
    with transaction_at() as transaction:
        line = list_progress(read_record(transaction, student))[0]
    assert (line.points, line.words, line.is_started) == ("", "not passed yet", False)
