"""Students: who they are, and a page for each."""

from __future__ import annotations

from starlette.responses import Response

from fillwright.craft.player.kits import kits
from fillwright.craft.player.players import players
from fillwright.errors import FillwrightError
from fillwright.store.accounts import INVITATION_DAYS, has_account, note, reset
from fillwright.store.accounts import invite as make_invitation
from fillwright.store.desk import Desk
from fillwright.store.export import export_student
from fillwright.store.lessons import all_series, lessons_of, one_lesson
from fillwright.store.planning.page import noise_words
from fillwright.store.practice_log import practice_of
from fillwright.store.settings import own_tables
from fillwright.store.students import (
    PRACTISES_ON,
    Profile,
    add_student,
    all_students,
    assignments,
    change_student,
    delete_student,
    one_student,
)
from fillwright.store.takes import takes_of
from fillwright.studio.pages.pack import folder_of
from fillwright.studio.web.render import back_to, page
from fillwright.studio.web.request import Ask
from fillwright.studio.work.builds import standing
from fillwright.studio.work.progress import progress_lines
from fillwright.studio.work.record import record_of


def index(ask: Ask) -> Response:
    """All students, and a form for a new one."""
    return _index(ask)


def add(ask: Ask) -> Response:
    """Add a student."""
    try:
        with ask.writing() as desk:
            number = add_student(desk, _profile(ask))
    except FillwrightError as error:
        return _index(ask, wrong=str(error), status=422)
    return back_to(f"/students/{number}", "saved")


def show(ask: Ask) -> Response:
    """One student."""
    return show_student(ask)


def change(ask: Ask) -> Response:
    """Keep what is known of a student."""
    number = ask.own_student()
    try:
        with ask.writing() as desk:
            change_student(desk, number, _profile(ask))
    except FillwrightError as error:
        return show_student(ask, wrong=str(error), status=422)
    return back_to(f"/students/{number}", "saved")


def delete(ask: Ask) -> Response:
    """Delete a student completely; the name must be typed, so that no slip does it."""
    number = ask.own_student()
    with ask.writing() as desk:
        student = one_student(desk, number)
        right = ask.text("name").strip() == student.profile.name
        if right:
            delete_student(desk, number)
            _note(ask, desk, "student deleted", number)
    if right:
        return back_to("/students", "deleted")
    wrong = f"To delete the whole record, type the name as it stands here: {student.profile.name}."
    return show_student(ask, wrong=wrong, status=422)


def invite(ask: Ask) -> Response:
    """A one-time link for a student's own account, to hand over."""
    number = ask.own_student()
    with ask.writing() as desk:
        secret = make_invitation(
            desk.connection, now=desk.now, teacher_number=desk.teacher, student_number=number
        )
        _note(ask, desk, "student invited", number)
    return show_student(ask, link=ask.link(f"invitation/{secret}"))


def reset_access(ask: Ask) -> Response:
    """End a student's account and its sessions, and make a one-time link for another."""
    number = ask.own_student()
    with ask.writing() as desk:
        secret = reset(desk.connection, now=desk.now, teacher_number=desk.teacher, student_number=number)
        _note(ask, desk, "access reset", number)
    return show_student(ask, link=ask.link(f"invitation/{secret}"))


def export(ask: Ask) -> Response:
    """A student's whole record as a zip of open formats."""
    number = ask.own_student()
    with ask.reading() as desk:
        content = export_student(desk, number)
    disposition = f'attachment; filename="student-{number}.zip"'
    return Response(content, media_type="application/zip", headers={"content-disposition": disposition})


def _note(ask: Ask, desk: Desk, what: str, student: int) -> None:
    """A line in the audit; it names the student by number, since it outlives them."""
    note(desk.connection, who=ask.visitor.named, what=what, now=desk.now, detail=f"student {student}")


def _profile(ask: Ask) -> Profile:
    names = Profile.__dataclass_fields__
    given = {name: ask.fields[name] for name in names if name in ask.fields}
    return Profile(**{"name": "", **given})


def _choices(desk: Desk, kit: str = "") -> dict[str, tuple[str, ...]]:
    """What can be chosen; a kit that was chosen once stays so, even if it is forgotten by now."""
    names = (*(one.name for one in own_tables(desk).kits), *kits(), kit)
    return {
        "levels": tuple(players()),
        "kits": tuple(filter(None, dict.fromkeys(names))),
        "practises_on": PRACTISES_ON,
    }


def _index(ask: Ask, *, wrong: str = "", status: int = 200) -> Response:
    with ask.reading() as desk:
        found = all_students(desk)
        choices = _choices(desk)
    typed = {name: ask.text(name) for name in Profile.__dataclass_fields__}
    return page(ask, "students.html", status=status, students=found, wrong=wrong, given=typed, **choices)


def show_student(ask: Ask, *, wrong: str = "", link: str = "", status: int = 200) -> Response:
    """A student's page: plan, assignments, progress, takes."""
    number = ask.own_student()
    with ask.reading() as desk:
        record = record_of(desk, number)
        given = assignments(desk, number)
        lessons = [(series, lessons_of(desk, series.id)) for series in all_series(desk)]
        takes = takes_of(desk, number, most=20)
        log = practice_of(desk, number)
        plan = record.plans(desk.today, days=1)[0]
        signs_in = has_account(desk.connection, number)
        saved = {one.lesson: one_lesson(desk, one.lesson) for one in given}
        choices = _choices(desk, record.student.profile.kit)
    lines = progress_lines(record)
    return page(
        ask,
        "student.html",
        status=status,
        student=record.student,
        record=record,
        plan=plan,
        noise=noise_words(record.student.profile.practises_on, protected=record.protected),
        assignments=given,
        titles={number: lesson.title for number, lesson in saved.items()},
        packed=[number for number, lesson in saved.items() if standing(folder_of(ask, lesson))],
        lessons=lessons,
        takes=takes,
        week_minutes=sum(one.minutes for one in log if (desk.now - one.at).days < 7),
        lines=lines,
        fill_titles={(line.lesson, line.fill): line.title for line in lines},
        wrong=wrong,
        link=link,
        link_days=INVITATION_DAYS,
        signs_in=signs_in,
        **choices,
    )
