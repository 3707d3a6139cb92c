"""Practice of a student: assignments, the plan on page, paper and calendar, what was passed and played."""

from __future__ import annotations

from datetime import date, time

from starlette.responses import Response

from fillwright.errors import FillwrightError, StoreError
from fillwright.store.planning.calendar import icalendar
from fillwright.store.planning.page import plan_page
from fillwright.store.practice_log import log_practice
from fillwright.store.settings import settings
from fillwright.store.students import assign as give
from fillwright.store.students import take_back as take_one_back
from fillwright.store.takes import Of, say_passed
from fillwright.studio.pages.students import show_student
from fillwright.studio.web.render import back_to
from fillwright.studio.web.request import Ask
from fillwright.studio.work.lessons import work_out
from fillwright.studio.work.record import record_of

_BEGINS = time(17, 30)


def assign(ask: Ask) -> Response:
    """Assign a lesson or one of its fills."""
    number = ask.own_student()
    try:
        lesson, _, fill = ask.text("what").partition(":")
        due = _day(ask.text("due"))
        if fill:
            with ask.reading() as desk:
                work_out(desk, _whole(lesson, "lesson")).fill(fill)
        with ask.writing() as desk:
            give(desk, number, _whole(lesson, "lesson"), fill=fill, due=due)
    except StoreError as error:
        return show_student(ask, wrong=str(error), status=422)
    return back_to(f"/students/{number}", "assigned")


def take_back(ask: Ask) -> Response:
    """Take an assignment back."""
    number = ask.own_student()
    with ask.writing() as desk:
        take_one_back(desk, number, ask.number("assignment"))
    return back_to(f"/students/{number}", "taken-back")


def passed(ask: Ask) -> Response:
    """Let a fill be passed by the teacher's word."""
    number = ask.own_student()
    try:
        with ask.writing() as desk:
            say_passed(desk, _of(ask, number))
    except FillwrightError as error:
        return show_student(ask, wrong=str(error), status=422)
    return back_to(f"/students/{number}", "passed")


def log(ask: Ask) -> Response:
    """Write down minutes of practice: a student's own, or the teacher's word."""
    number = ask.own_student()
    try:
        minutes = _whole(ask.text("minutes"), "number of minutes")
        with ask.writing() as desk:
            if ask.text("lesson"):
                of = _of(ask, number)
                log_practice(desk, number, minutes, lesson=of.lesson, fill=of.fill, tempo=of.tempo)
            else:
                log_practice(desk, number, minutes)
    except FillwrightError as error:
        return show_student(ask, wrong=str(error), status=422)
    return back_to(f"/students/{number}", "logged")


def plan_pdf(ask: Ask) -> Response:
    """The next days on one page."""
    with ask.reading() as desk:
        record = record_of(desk, ask.own_student())
        size = settings(desk).get("page", "a4")
        plans = record.plans(desk.today, days=3)
    content = plan_page(
        plans,
        student=record.student.profile.name,
        practises_on=record.student.profile.practises_on,
        protected=record.protected,
        page=size,
    )
    return Response(content, media_type="application/pdf")


def plan_ics(ask: Ask) -> Response:
    """The next week for a calendar."""
    number = ask.own_student()
    with ask.reading() as desk:
        record = record_of(desk, number)
        content = icalendar(
            record.plans(desk.today), student=record.student.profile.name, made=desk.now, at=_BEGINS
        )
    headers = {"content-disposition": f'attachment; filename="practice-{number}.ics"'}
    return Response(content, media_type="text/calendar", headers=headers)


def _of(ask: Ask, student: int) -> Of:
    return Of(
        student=student,
        lesson=_whole(ask.text("lesson"), "lesson"),
        fill=ask.text("fill")[:120],
        tempo=_whole(ask.text("tempo"), "tempo"),
    )


def _whole(text: str, what: str) -> int:
    if not (text.isascii() and text.isdigit() and len(text) < 10):
        raise StoreError(f'"{text[:20]}" is no {what}; write a whole number.')
    return int(text)


def _day(text: str) -> date | None:
    if not text:
        return None
    try:
        return date.fromisoformat(text)
    except ValueError as error:
        raise StoreError(f'"{text[:20]}" is no day; write it as 2026-03-01.') from error
