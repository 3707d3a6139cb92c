"""Takes: recorded in the browser, uploaded, or played on an electronic kit; and the report on each."""

from __future__ import annotations

import tempfile
from pathlib import Path
from typing import Any

from starlette.responses import Response

from fillwright.errors import FillwrightError, NotThereError
from fillwright.lesson.fills import LessonFill
from fillwright.listen.report.number_table import figures
from fillwright.pack.contents import file_fill
from fillwright.score.parts.midi_notes import default_pads
from fillwright.store.accounts import note
from fillwright.store.criteria import verdict
from fillwright.store.desk import Desk
from fillwright.store.lessons import one_lesson
from fillwright.store.settings import criteria
from fillwright.store.students import assignments, one_student
from fillwright.store.takes import (
    ENDINGS,
    Of,
    Take,
    add_take,
    delete_take,
    one_take,
    picture_of,
    recording_of,
    report_of,
)
from fillwright.studio.web.render import back_to, page
from fillwright.studio.web.request import Ask
from fillwright.studio.web.uploads import recording
from fillwright.studio.work.lessons import NARROW_MM, WIDE_MM, Worked, drawn, work_out
from fillwright.take.picture import picture
from fillwright.take.reference import of_fill
from fillwright.take.take import Taken, as_json, listen_to

_MOST_LATE_MS = 250
"""Farther off, the take began elsewhere, and the click says nothing."""


def new_page(ask: Ask) -> Response:
    """Where a take is recorded or chosen."""
    return _new(ask, dict(ask.request.query_params))


def add(ask: Ask) -> Response:
    """Listen to a take and keep it with its report."""
    student = ask.own_student()
    try:
        with ask.reading() as desk:
            _, found, fill = _chosen(ask, desk, ask.fields)
            tempo = _tempo(ask.fields, fill)
        media_type, content = recording(ask.files.get("recording"))
        taken = _listened(found, fill, tempo, media_type, content)
        drawing = picture(taken.report, taken.against).whole.svg
        of = Of(student=student, lesson=_number(ask.fields, "lesson"), fill=fill.name, tempo=tempo)
        rows = [*figures(taken.report), *_against_click(taken, ask.text("begins"))]
        report = {**as_json(taken), "figures": rows}
        with ask.writing() as desk:
            number = add_take(desk, of, report, (media_type, content), criteria=criteria(desk), picture=drawing)
    except NotThereError:
        raise
    except FillwrightError as error:
        return _new(ask, dict(ask.fields), wrong=str(error), status=422)
    return back_to(f"/takes/{number}")


def show(ask: Ask) -> Response:
    """The report on a take."""
    with ask.reading() as desk:
        take = _own(ask, desk)
        student = one_student(desk, take.of.student)
        lesson = one_lesson(desk, take.of.lesson)
        report = report_of(desk, take.id)
        judged = verdict(report, criteria(desk))
        drawing = picture_of(desk, take.id)
    return page(
        ask,
        "take.html",
        take=take,
        report=report,
        student=student,
        lesson=lesson,
        verdict=judged,
        drawing=drawing,
        playable=take.media_type != "audio/midi",
    )


def sound(ask: Ask) -> Response:
    """The recording of a take."""
    with ask.reading() as desk:
        take = _own(ask, desk)
        media_type, content = recording_of(desk, take.id)
    name = f"take-{take.id}{ENDINGS.get(media_type, '.bin')}"
    headers = {"content-disposition": f'inline; filename="{name}"', "accept-ranges": "none"}
    return Response(content, media_type=media_type, headers=headers)


def delete(ask: Ask) -> Response:
    """Delete a take and its recording."""
    with ask.writing() as desk:
        take = _own(ask, desk)
        delete_take(desk, take.id)
        detail = f"take {take.id} of student {take.of.student}"
        note(desk.connection, who=ask.visitor.named, what="take deleted", now=desk.now, detail=detail)
    return back_to(f"/students/{take.of.student}", "deleted")


def _own(ask: Ask, desk: Desk) -> Take:
    """The take in the path: any of a teacher's students', a student's own.

    Raises:
        NotThereError: where it is another's.
    """
    take = one_take(desk, ask.number("take"))
    if ask.visitor.student not in (None, take.of.student):
        raise NotThereError("There is no such take.")
    return take


def _new(ask: Ask, given: dict[str, str], *, wrong: str = "", status: int = 200) -> Response:
    number = ask.own_student()
    with ask.reading() as desk:
        student = one_student(desk, number)
        lesson, found, fill = _chosen(ask, desk, given)
    return page(
        ask,
        "take-new.html",
        status=status,
        student=student,
        lesson=lesson,
        fill=fill,
        tempo=_tempo(given, fill) if not wrong else given.get("tempo", ""),
        wide=drawn(found, fill.name, WIDE_MM),
        narrow=drawn(found, fill.name, NARROW_MM),
        wrong=wrong,
    )


def _chosen(ask: Ask, desk: Desk, given: Any) -> tuple[Any, Worked, LessonFill]:
    """The lesson and fill that a take is of; a student may play what is assigned to them.

    Raises:
        NotThereError: where there is no such lesson or fill, or it is not theirs to play.
    """
    number = _number(given, "lesson")
    lesson = one_lesson(desk, number)
    student = ask.visitor.student
    if student is not None:
        own = {one.fill for one in assignments(desk, student) if one.lesson == number}
        if "" not in own and given.get("fill", "") not in own:
            raise NotThereError("There is no such lesson.")
    found = work_out(desk, number)
    return lesson, found, found.fill(given.get("fill", ""))


def _against_click(taken: Taken, begins: str) -> list[tuple[str, str]]:
    """How late the take is against the click it was played to, where the page knows when that began."""
    try:
        seconds = float(begins)
    except ValueError:
        return []
    if not taken.report.passes or not 0 <= seconds < 3600:
        return []
    late = round((taken.report.passes[0].start_seconds - seconds) * 1000)
    if abs(late) > _MOST_LATE_MS:
        return []
    words = f"{abs(late)} ms {'late' if late > 0 else 'early'}" if late else "on the spot"
    return [("Against the click", words)]


def _number(given: Any, name: str) -> int:
    text = given.get(name, "")
    if not (text.isascii() and text.isdigit() and len(text) < 10):
        raise NotThereError("There is no such lesson.")
    return int(text)


def _tempo(given: Any, fill: LessonFill) -> int:
    text = given.get("tempo", "")
    return int(text) if text.isascii() and text.isdigit() and 2 <= len(text) <= 3 else fill.ladder[0]


def _listened(found: Worked, fill: LessonFill, tempo: int, media_type: str, content: bytes) -> Taken:
    """What is said of a recording; it is read from a file, which is deleted behind it."""
    against = of_fill(file_fill(found.lesson, fill), float(tempo))
    with tempfile.TemporaryDirectory(prefix="fillwright-take-") as folder:
        path = Path(folder) / f"take{ENDINGS[media_type]}"
        path.write_bytes(content)
        try:
            return listen_to(path, against, pads=default_pads())
        except FillwrightError as error:
            raise type(error)(
                str(error).replace(str(path), "The take").replace('"The take"', "The take")
            ) from error
