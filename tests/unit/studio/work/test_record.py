"""A student's record: what is to be learnt, and everything tried so far, in order."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest
from tests.studio import FILL, LESSON

from fillwright.errors import NotThereError
from fillwright.store.database import open_store
from fillwright.store.desk import only_teacher, writing
from fillwright.store.lessons import add_lesson, add_series
from fillwright.store.practice_log import log_practice
from fillwright.store.settings import keep_setting
from fillwright.store.students import Profile, add_student, assign
from fillwright.store.takes import Of, say_passed
from fillwright.studio.work.lessons import worked
from fillwright.studio.work.progress import progress_lines
from fillwright.studio.work.record import MINUTES_A_DAY, record_of

START = datetime(2026, 3, 2, 17, 0, tzinfo=UTC)


@pytest.fixture
def desk_at(tmp_path):
    """The teacher's desk, so many days later."""
    store = open_store(tmp_path / "store")
    teacher = only_teacher(store)
    yield lambda days=0: writing(store, teacher, lambda: START + timedelta(days=days))
    store.close()


@pytest.fixture
def student(desk_at):
    """A student to whom one fill and then its whole lesson are assigned."""
    with desk_at() as desk:
        lesson = add_lesson(desk, add_series(desk, "A series"), LESSON)
        number = add_student(desk, Profile(name="Mo", practises_on="practice pad"))
        assign(desk, number, lesson, fill=FILL)
        assign(desk, number, lesson)
    return number


def passed(desk, student, tempo):
    """The teacher's word."""
    say_passed(desk, Of(student=student, lesson=1, fill=FILL, tempo=tempo))


def test_a_fill_that_is_assigned_twice_is_one_goal(desk_at, student):
    with desk_at() as desk:
        record = record_of(desk, student)
    assert sorted(one.fill for one in record.goals) == sorted(one.name for one in worked(LESSON).fills)
    assert record.goals[0].fill == FILL
    assert record.minutes == MINUTES_A_DAY


def test_what_was_tried_stands_in_order_of_time(desk_at, student):
    with desk_at(2) as desk:
        passed(desk, student, 70)
    with desk_at(1) as desk:
        log_practice(desk, student, 10, lesson=1, fill=FILL)
        log_practice(desk, student, 10)
    with desk_at(0) as desk:
        passed(desk, student, 60)
        tried = record_of(desk, student).tried
    assert [(one.day.day, one.tempo, one.passed) for one in tried] == [
        (2, 60, True),
        (3, 0, False),
        (4, 70, True),
    ]


def test_settings_of_the_teacher_shape_the_plan(desk_at, student):
    with desk_at() as desk:
        keep_setting(desk, "minutes", 12)
        record = record_of(desk, student)
        plan = record.plans(START.date(), days=1)[0]
    assert sum(one.minutes for one in plan.items) <= 12


def test_nobody_has_no_record(desk_at):
    with desk_at() as desk, pytest.raises(NotThereError, match="no such student"):
        record_of(desk, 7)


def test_progress_goes_up_and_to_the_right(desk_at, student):
    for day, tempo in ((0, 60), (4, 80), (5, 70)):
        with desk_at(day) as desk:
            passed(desk, student, tempo)
    with desk_at(6) as desk:
        line = next(one for one in progress_lines(record_of(desk, student)) if one.fill == FILL)
    points = [tuple(map(float, point.split(","))) for point in line.points.split()]
    assert (line.reached, line.rung, line.words, line.begun) == (80, 3, "3 of 3 rungs", True)
    assert [x for x, _ in points] == pytest.approx([6.0, 188.4, 234.0])
    assert points[0][1] > points[1][1] == points[2][1]  # a slower tempo passed later takes nothing away


def test_a_fill_that_nobody_played_has_no_line(desk_at, student):
    with desk_at() as desk:
        line = progress_lines(record_of(desk, student))[0]
    assert (line.points, line.words, line.begun) == ("", "not passed yet", False)
