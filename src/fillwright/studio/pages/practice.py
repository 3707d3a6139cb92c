"""A student's practice: assignments, the plan on paper and in a calendar, passes and the practice log."""

from __future__ import annotations

from datetime import date, time
from typing import Annotated

from msgspec import Meta, Struct, field
from starlette.responses import Response

from fillwright.errors import FillwrightError
from fillwright.store.planning.calendar import write_icalendar
from fillwright.store.planning.page import typeset_plans
from fillwright.store.practice_log import MOST_MINUTES, log_practice
from fillwright.store.settings import read_settings
from fillwright.store.students import assign, unassign
from fillwright.store.takes import Exercise, mark_passed
from fillwright.studio.pages.students import show_student
from fillwright.studio.web.forms import convert_form
from fillwright.studio.web.render import redirect
from fillwright.studio.web.request import PageRequest
from fillwright.studio.work.lessons import plan_lesson
from fillwright.studio.work.record import read_record

_PRACTICE_TIME = time(17, 30)
"""Time of day of practice in the calendar. Ours."""

_PAPER_DAYS = 3
"""Days of a plan on paper: what fits on one page. Ours."""

Number = Annotated[int, Meta(title="Lesson", ge=1, le=2**31 - 1, description="the number of a lesson")]
"""Number of a lesson in the store, as PostgreSQL\'s `integer` holds it."""

Fill = Annotated[str, Meta(title="Fill", max_length=120)]
"""Name of a fill, as the table has room for it."""

Tempo = Annotated[int, Meta(title="Tempo", ge=1, le=1000, description="a whole number of bpm")]
"""Tempo in bpm; the store checks that it can be played."""


class AssignForm(Struct, kw_only=True):
    """The form of an assignment: a lesson, or one of its fills as "lesson:fill"."""

    target: Annotated[
        str, Meta(title="Lesson", pattern=r"^[0-9]{1,9}(:.{0,120})?$", description="a lesson of the list")
    ] = field(name="what")
    due: Annotated[date, Meta(title="Due")] | None = None


class PassForm(Struct, kw_only=True):
    """The form that marks a fill as passed."""

    lesson: Number
    fill: Fill = ""
    tempo: Tempo


class LogForm(Struct, kw_only=True):
    """The form of the practice log; the fill is optional."""

    minutes: Annotated[int, Meta(title="Minutes practised today", ge=1, le=MOST_MINUTES)]
    lesson: Number | None = None
    fill: Fill = ""
    tempo: Tempo | None = None


def handle_assign(request: PageRequest) -> Response:
    """Assign a lesson or one of its fills."""
    number = request.student_number()
    try:
        form = convert_form(AssignForm, request)
        lesson_text, _, fill = form.target.partition(":")
        lesson = int(lesson_text)
        if fill:
            with request.begin_reading() as transaction:
                plan_lesson(transaction, lesson).find_fill(fill)
        with request.begin_writing() as transaction:
            assign(transaction, number, lesson, fill=fill, due=form.due)
    except FillwrightError as error:
        return show_student(request, error)
    return redirect(f"/students/{number}", "assigned")


def handle_unassign(request: PageRequest) -> Response:
    """Delete an assignment."""
    number = request.student_number()
    with request.begin_writing() as transaction:
        unassign(transaction, number, request.number("assignment"))
    return redirect(f"/students/{number}", "unassigned")


def handle_pass(request: PageRequest) -> Response:
    """Mark a fill as passed without a take."""
    number = request.student_number()
    try:
        form = convert_form(PassForm, request)
        with request.begin_writing() as transaction:
            exercise = Exercise(student=number, lesson=form.lesson, fill=form.fill, tempo=form.tempo)
            mark_passed(transaction, exercise)
    except FillwrightError as error:
        return show_student(request, error)
    return redirect(f"/students/{number}", "passed")


def handle_log(request: PageRequest) -> Response:
    """Log minutes of practice, by the student or the teacher."""
    number = request.student_number()
    try:
        form = convert_form(LogForm, request)
        with request.begin_writing() as transaction:
            log_practice(
                transaction, number, form.minutes, lesson=form.lesson, fill=form.fill, tempo=form.tempo
            )
    except FillwrightError as error:
        return show_student(request, error)
    return redirect(f"/students/{number}", "logged")


def send_plan_pdf(request: PageRequest) -> Response:
    """Send the plan of the next days on one page."""
    with request.begin_reading() as transaction:
        record = read_record(transaction, request.student_number())
        page_size = read_settings(transaction).get("page", "a4")
        plans = record.plan(transaction.today, days=_PAPER_DAYS)
    profile = record.student.profile
    content = typeset_plans(
        plans,
        student=profile.name,
        practises_on=profile.practises_on,
        protected=record.protected,
        page=page_size,
    )
    return Response(content, media_type="application/pdf")


def send_plan_calendar(request: PageRequest) -> Response:
    """Send the plan of the next week for a calendar."""
    number = request.student_number()
    with request.begin_reading() as transaction:
        record = read_record(transaction, number)
        content = write_icalendar(
            record.plan(transaction.today),
            student=record.student.profile.name,
            written=transaction.now,
            at=_PRACTICE_TIME,
        )
    headers = {"content-disposition": f'attachment; filename="practice-{number}.ics"'}
    return Response(content, media_type="text/calendar", headers=headers)
