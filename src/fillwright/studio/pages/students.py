"""Students: the list, and a page for each."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Any, Literal

from msgspec import Meta, Struct
from msgspec.structs import asdict
from starlette.responses import Response

from fillwright.craft.player.kits import USUAL, load_kits
from fillwright.craft.player.players import load_players
from fillwright.errors import FillwrightError, NotThereError
from fillwright.store.accounts import INVITATION_DAYS, has_account, reset_account, write_audit
from fillwright.store.accounts import invite as make_invitation
from fillwright.store.export import export_student
from fillwright.store.lessons import get_lesson, list_lessons, list_series
from fillwright.store.planning.page import describe_noise
from fillwright.store.practice_log import list_practice
from fillwright.store.settings import read_own_tables
from fillwright.store.students import (
    PRACTISES_ON,
    Profile,
    add_student,
    change_student,
    delete_student,
    get_student,
    list_assignments,
    list_students,
)
from fillwright.store.takes import list_takes
from fillwright.store.transaction import Transaction
from fillwright.studio.pages.pack import locate_packs
from fillwright.studio.web.forms import FormError, convert_form, list_labels
from fillwright.studio.web.render import redirect, render_page
from fillwright.studio.web.request import PageRequest
from fillwright.studio.web.versions import (
    EditConflictError,
    check_version,
    choose_version,
    compute_version,
    list_differences,
)
from fillwright.studio.work.builds import find_newest_pack
from fillwright.studio.work.progress import list_progress
from fillwright.studio.work.record import read_record

_MOST_TAKES = 20
"""Takes on a student's page, the newest. Ours."""

_LOG_DAYS = 7
"""Days of the practice log that the page adds up. Ours."""


class ProfileForm(Struct, kw_only=True):
    """The form of a student's profile."""

    name: Annotated[str, Meta(title="First name or nickname", min_length=1, max_length=80)]
    hand: Annotated[Literal["right", "left"], Meta(title="Leading hand")] = "right"
    level: Annotated[str, Meta(title="Level")] = "first-year"
    kit: Annotated[str, Meta(title="Kit")] = USUAL
    practises_on: Annotated[str, Meta(title="Practises on")] = PRACTISES_ON[0]
    notes: Annotated[str, Meta(title="About this student", max_length=4_000)] = ""


def show_list(request: PageRequest) -> Response:
    """Show all students, and a form for a new one."""
    return _render_list(request)


def add(request: PageRequest) -> Response:
    """Add a student."""
    try:
        with request.begin_writing() as transaction:
            number = add_student(transaction, _read_profile(request))
    except FillwrightError as error:
        return _render_list(request, error)
    return redirect(f"/students/{number}", "added")


def show(request: PageRequest) -> Response:
    """Show one student."""
    return show_student(request)


def change(request: PageRequest) -> Response:
    """Save a student's profile."""
    number = request.student_number()
    try:
        profile = _read_profile(request)
        with request.begin_writing() as transaction:
            _check_profile_version(request, transaction, number, profile)
            change_student(transaction, number, profile)
    except NotThereError:
        raise
    except FillwrightError as error:
        return show_student(request, error, sent=request.fields)
    return redirect(f"/students/{number}", "saved")


def _check_profile_version(
    request: PageRequest, transaction: Transaction, number: int, profile: Profile
) -> None:
    """Refuse a form that was made from an older profile than the stored one.

    Raises:
        EditConflictError: if the profile was saved in between.
    """

    def read_stored() -> dict[str, Any]:
        return asdict(_to_form(get_student(transaction, number).profile))

    check_version(
        request,
        transaction,
        "This profile",
        lambda: compute_version(read_stored()),
        lambda: list_differences(read_stored(), asdict(_to_form(profile)), list_labels(ProfileForm)),
    )


def delete(request: PageRequest) -> Response:
    """Delete a student completely. The name must be typed, so that no slip deletes them."""
    number = request.student_number()
    with request.begin_writing() as transaction:
        student = get_student(transaction, number)
        is_confirmed = request.text("name").strip() == student.profile.name
        if is_confirmed:
            delete_student(transaction, number)
            _audit(request, transaction, "student deleted", number)
    if is_confirmed:
        return redirect("/students", "deleted")
    message = f'Write the name exactly as here: "{student.profile.name}".'
    return show_student(request, FormError.of_field("name", "Name, to confirm", message))


def invite(request: PageRequest) -> Response:
    """Make a one-time link with which a student makes an account."""
    number = request.student_number()
    with request.begin_writing() as transaction:
        secret = make_invitation(
            transaction.connection,
            now=transaction.now,
            teacher_number=transaction.teacher,
            student_number=number,
        )
        _audit(request, transaction, "student invited", number)
    return show_student(request, link=request.link(f"invitation/{secret}"))


def reset_access(request: PageRequest) -> Response:
    """Delete a student's account with its sessions, and make a one-time link for a new one."""
    number = request.student_number()
    with request.begin_writing() as transaction:
        secret = reset_account(
            transaction.connection,
            now=transaction.now,
            teacher_number=transaction.teacher,
            student_number=number,
        )
        _audit(request, transaction, "access reset", number)
    return show_student(request, link=request.link(f"invitation/{secret}"))


def export(request: PageRequest) -> Response:
    """Send a student's whole record as a zip of open formats."""
    number = request.student_number()
    with request.begin_reading() as transaction:
        content = export_student(transaction, number)
    disposition = f'attachment; filename="student-{number}.zip"'
    return Response(content, media_type="application/zip", headers={"content-disposition": disposition})


def show_student(
    request: PageRequest,
    error: FillwrightError | None = None,
    *,
    link: str = "",
    sent: Mapping[str, str] | None = None,
) -> Response:
    """Show a student's page: plan, assignments, progress, takes.

    Args:
        request: to answer.
        error: to show.
        link: to pass on to the student.
        sent: fields of a profile that was not saved; they are kept in the form.
    """
    number = request.student_number()
    with request.begin_reading() as transaction:
        record = read_record(transaction, number)
        profile = record.student.profile
        assignments = list_assignments(transaction, number)
        lessons = {row.lesson: get_lesson(transaction, row.lesson) for row in assignments}
        log = list_practice(transaction, number)
        lines = list_progress(record)
        values: dict[str, Any] = {
            "plan": record.plan(transaction.today, days=1)[0],
            "takes": list_takes(transaction, number, most=_MOST_TAKES),
            "every_series": [
                (series, list_lessons(transaction, series.id)) for series in list_series(transaction)
            ],
            "week_minutes": sum(
                entry.minutes for entry in log if (transaction.now - entry.at).days < _LOG_DAYS
            ),
            "signs_in": has_account(transaction.connection, number),
            **_list_choices(transaction, profile.kit),
        }
    return render_page(
        request,
        "student.html",
        error=error,
        student=record.student,
        profile={**asdict(_to_form(profile)), **(sent or {})},
        version=choose_version(request, compute_version(asdict(_to_form(profile))), error),
        is_conflict=isinstance(error, EditConflictError),
        noise=describe_noise(profile.practises_on, protected=record.protected),
        assignments=assignments,
        titles={lesson: saved.title for lesson, saved in lessons.items()},
        packed=[lesson for lesson, saved in lessons.items() if find_newest_pack(locate_packs(request, saved))],
        lines=lines,
        fill_titles={(line.lesson, line.fill): line.title for line in lines},
        link=link,
        link_days=INVITATION_DAYS,
        **values,
    )


def _audit(request: PageRequest, transaction: Transaction, action: str, student: int) -> None:
    """Write a line into the audit, with the student's number instead of their name."""
    detail = f"student {student}"
    who = request.visitor.audit_name
    write_audit(transaction.connection, who=who, action=action, now=transaction.now, detail=detail)


def _read_profile(request: PageRequest) -> Profile:
    return Profile(**asdict(convert_form(ProfileForm, request)))


def _to_form(profile: Profile) -> ProfileForm:
    return ProfileForm(
        name=profile.name,
        hand="left" if profile.hand == "left" else "right",
        level=profile.level,
        kit=profile.kit,
        practises_on=profile.practises_on,
        notes=profile.notes,
    )


def _list_choices(transaction: Transaction, kit: str = "") -> dict[str, Any]:
    """Return the options of each field; the student's kit is one even if it was deleted."""
    names = (*(item.name for item in read_own_tables(transaction).kits), *load_kits(), kit)
    return {
        "levels": tuple(load_players()),
        "kits": tuple(filter(None, dict.fromkeys(names))),
        "practises_on": PRACTISES_ON,
    }


def _render_list(request: PageRequest, error: FillwrightError | None = None) -> Response:
    with request.begin_reading() as transaction:
        students = list_students(transaction)
        choices = _list_choices(transaction)
    usual = asdict(ProfileForm(name=""))
    profile = {name: request.text(name) or value for name, value in usual.items()}
    return render_page(request, "students.html", error=error, students=students, profile=profile, **choices)
