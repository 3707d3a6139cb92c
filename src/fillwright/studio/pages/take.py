"""Takes: recorded in the browser, uploaded, or played on an electronic kit; and the report on each."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated

from msgspec import Meta, Struct
from starlette.responses import JSONResponse, Response

from fillwright import budget
from fillwright.errors import FillwrightError, NotThereError
from fillwright.lesson.fills import LessonFill
from fillwright.listen.report.stored.schema import ReportRecord
from fillwright.pack.contents import to_file_fill
from fillwright.store.accounts import write_audit
from fillwright.store.criteria import judge_take
from fillwright.store.lessons import SavedLesson, get_lesson
from fillwright.store.quotas import check_storage
from fillwright.store.settings import read_criteria
from fillwright.store.students import get_student, list_assignments
from fillwright.store.takes import (
    FILE_SUFFIXES,
    Exercise,
    StoredTake,
    delete_take,
    get_picture,
    get_recording,
    get_report,
    get_take,
)
from fillwright.store.transaction import Transaction
from fillwright.studio.web.forms import FormError, convert_fields
from fillwright.studio.web.render import redirect, render_page
from fillwright.studio.web.request import PageRequest
from fillwright.studio.web.uploads import check_recording
from fillwright.studio.work.lessons import NARROW_MM, WIDE_MM, PlannedLesson, draw_fill, plan_lesson
from fillwright.studio.work.queue import Job, WorkKind
from fillwright.studio.work.take_jobs import SentTake, queue_take
from fillwright.take.reference import build_reference

_MOST_LATE_MS = 250
"""Lag against the click, in ms, beyond which the take started elsewhere and the click says nothing. Ours."""

_LONGEST_SECONDS = 3_600
"""Start of the phrase in a take, in seconds, beyond which it can't be meant. Ours."""


_UNPROCESSABLE = 422
"""HTTP status of a recording that can't be measured (RFC 9110, 15.5.21)."""


class TakeForm(Struct, kw_only=True):
    """The form of a take; `begins` is the time in seconds at which the click started, if the page knows it."""

    lesson: Annotated[int, Meta(title="Lesson", ge=1, le=2**31 - 1)]
    fill: str = ""
    tempo: Annotated[int, Meta(title="Tempo", ge=10, le=999, description="a tempo of the ladder")] | None = None
    begins: str = ""


def show_new(request: PageRequest) -> Response:
    """Show the page on which a take is recorded or chosen."""
    return _render_new(request, dict(request.http.query_params))


def add(request: PageRequest) -> Response:
    """Put a take into the queue, and wait a little for its report."""
    student = request.student_number()
    form = _read_form(request.fields)
    try:
        request.setup.queue.check_pending(WorkKind.TAKE, teacher=request.visitor.teacher, student=student)
        media_type, content = check_recording(request.files.get("recording"))
        with request.begin_reading() as transaction:
            _, planned, fill = _find_fill(request, transaction, form)
            check_storage(transaction, student, len(content))
        tempo = form.tempo or fill.ladder[0]
        take = SentTake(
            exercise=Exercise(student=student, lesson=form.lesson, fill=fill.name, tempo=tempo),
            reference=build_reference(to_file_fill(planned.lesson, fill), float(tempo)),
            media_type=media_type,
            content=content,
            describe=lambda report: _describe_click_lag(report, form.begins),
        )
        job = queue_take(
            request.setup.queue,
            take,
            store=request.setup.store,
            teacher=request.visitor.teacher,
            clock=request.setup.clock,
        )
        if request.setup.queue.place(job) == 0:
            job.ended.wait(request.setup.queue.patience)
        if job.error and not job.is_pending:
            raise job.error
    except NotThereError:
        raise
    except FillwrightError as error:
        return _render_new(request, request.fields, error)
    return redirect(job.result or f"/students/{student}/takes/waiting/{job.id}")


def show_waiting(request: PageRequest) -> Response:
    """Show the place of a take in the queue, or lead on to its page once it is measured."""
    job = _find_job(request)
    if job.result:
        return redirect(job.result)
    return render_page(
        request,
        "take-waiting.html",
        status=_UNPROCESSABLE if job.error else 200,
        job=job,
        student=job.student,
        place=request.setup.queue.place(job),
        minutes=budget.format_seconds(budget.WORK_SECONDS),
    )


def send_waiting(request: PageRequest) -> Response:
    """Send the place of a take in the queue, for the page to show live."""
    job = _find_job(request)
    place = request.setup.queue.place(job)
    return JSONResponse({"running": job.is_pending, "place": place, "failed": job.error is not None})


def cancel_waiting(request: PageRequest) -> Response:
    """Cancel a take that waits or is measured; nothing of it is kept."""
    job = _find_job(request)
    request.setup.queue.cancel(job)
    return redirect(f"/students/{job.student}", "cancelled")


def _find_job(request: PageRequest) -> Job:
    """Return the job in the path: of any student for a teacher, only their own for a student.

    Raises:
        NotThereError: if it belongs to somebody else, or is unknown.
    """
    student = request.student_number()
    return request.setup.queue.find(request.segment("job"), teacher=request.visitor.teacher, student=student)


def show(request: PageRequest) -> Response:
    """Show the report on a take."""
    with request.begin_reading() as transaction:
        take = _get_take(request, transaction)
        student = get_student(transaction, take.exercise.student)
        lesson = get_lesson(transaction, take.exercise.lesson)
        report = get_report(transaction, take.id)
        verdict = judge_take(report, read_criteria(transaction))
        drawing = get_picture(transaction, take.id)
    return render_page(
        request,
        "take.html",
        take=take,
        report=report,
        student=student,
        lesson=lesson,
        verdict=verdict,
        drawing=drawing,
        is_playable=take.media_type != "audio/midi",
    )


def send_recording(request: PageRequest) -> Response:
    """Send the recording of a take."""
    with request.begin_reading() as transaction:
        take = _get_take(request, transaction)
        media_type, content = get_recording(transaction, take.id)
    name = f"take-{take.id}{FILE_SUFFIXES.get(media_type, '.bin')}"
    headers = {"content-disposition": f'inline; filename="{name}"', "accept-ranges": "none"}
    return Response(content, media_type=media_type, headers=headers)


def delete(request: PageRequest) -> Response:
    """Delete a take and its recording."""
    with request.begin_writing() as transaction:
        take = _get_take(request, transaction)
        delete_take(transaction, take.id)
        detail = f"take {take.id} of student {take.exercise.student}"
        who = request.visitor.audit_name
        write_audit(transaction.connection, who=who, action="take deleted", now=transaction.now, detail=detail)
    return redirect(f"/students/{take.exercise.student}", "deleted")


def _get_take(request: PageRequest, transaction: Transaction) -> StoredTake:
    """Return the take in the path: of any student for a teacher, only their own for a student.

    Raises:
        NotThereError: if it belongs to somebody else.
    """
    take = get_take(transaction, request.number("take"))
    if request.visitor.student not in (None, take.exercise.student):
        raise NotThereError("There is no such take.")
    return take


def _read_form(values: Mapping[str, str]) -> TakeForm:
    """Convert the form, or the address of its page; a tempo that can't be read gives the slowest of the ladder.

    Raises:
        NotThereError: if no lesson is named.
    """
    try:
        return convert_fields(TakeForm, values)
    except FormError as error:
        if "lesson" in error.by_field:
            raise NotThereError("There is no such lesson.") from error
        return convert_fields(TakeForm, {**values, "tempo": ""})


def _render_new(
    request: PageRequest, values: Mapping[str, str], error: FillwrightError | None = None
) -> Response:
    number = request.student_number()
    form = _read_form(values)
    with request.begin_reading() as transaction:
        student = get_student(transaction, number)
        lesson, planned, fill = _find_fill(request, transaction, form)
    return render_page(
        request,
        "take-new.html",
        error=error,
        student=student,
        lesson=lesson,
        fill=fill,
        tempo=form.tempo or fill.ladder[0],
        wide=draw_fill(planned, fill.name, WIDE_MM),
        narrow=draw_fill(planned, fill.name, NARROW_MM),
    )


def _find_fill(
    request: PageRequest, transaction: Transaction, form: TakeForm
) -> tuple[SavedLesson, PlannedLesson, LessonFill]:
    """Return the lesson and fill of a take. A student can record what is assigned to them.

    Raises:
        NotThereError: if there is no such lesson or fill, or it is not assigned.
    """
    lesson = get_lesson(transaction, form.lesson)
    student = request.visitor.student
    if student is not None:
        assigned = {row.fill for row in list_assignments(transaction, student) if row.lesson == form.lesson}
        if "" not in assigned and form.fill not in assigned:
            raise NotThereError("There is no such lesson.")
    planned = plan_lesson(transaction, form.lesson)
    return lesson, planned, planned.find_fill(form.fill)


def _describe_click_lag(report: ReportRecord, begins: str) -> list[tuple[str, str]]:
    """Return a row with the lag of the take against the click, if the page knows when the click started."""
    try:
        seconds = float(begins)
    except ValueError:
        return []
    if not report.repetitions or not 0 <= seconds < _LONGEST_SECONDS:
        return []
    late_ms = round((report.repetitions[0].start_s - seconds) * 1000)
    if abs(late_ms) > _MOST_LATE_MS:
        return []
    value = f"{abs(late_ms)} ms {'late' if late_ms > 0 else 'early'}" if late_ms else "exactly on the click"
    return [("Against the click", value)]
