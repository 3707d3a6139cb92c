"""The table of all pages: path, roles, handler."""

from __future__ import annotations

from dataclasses import dataclass

from fillwright.studio.pages import (
    account,
    figures,
    form,
    grooves,
    help_pages,
    kits,
    lesson,
    pack,
    practice,
    series,
    settings,
    sound,
    students,
    take,
    workshop,
)
from fillwright.studio.web.fonts import send_font
from fillwright.studio.web.guard import LARGEST_BODY_BYTES, LARGEST_FORM_BYTES
from fillwright.studio.web.request import Handler
from fillwright.studio.web.visitor import Role

TEACHER = frozenset({Role.TEACHER})
SIGNED_IN = frozenset({Role.TEACHER, Role.STUDENT})
ANYONE = frozenset(Role)


@dataclass(frozen=True, slots=True, kw_only=True)
class Page:
    """One page or action.

    Attributes:
        path: with its parameters, as Starlette writes them.
        handler: answers.
        roles: allowed to ask.
        method: GET for pages, POST for actions.
        largest: most bytes that can be sent to it.
    """

    path: str
    handler: Handler
    roles: frozenset[Role] = TEACHER
    method: str = "GET"
    largest: int = LARGEST_FORM_BYTES


def _show(path: str, handler: Handler, roles: frozenset[Role] = TEACHER) -> Page:
    return Page(path=path, handler=handler, roles=roles)


def _post(path: str, handler: Handler, roles: frozenset[Role] = TEACHER) -> Page:
    return Page(path=path, handler=handler, roles=roles, method="POST")


PAGES: tuple[Page, ...] = (
    _show("/", series.show_start, SIGNED_IN),
    _post("/series", series.add),
    _show("/series/{series:int}", series.show),
    _show("/series/{series:int}/edit", series.show_edit),
    _post("/series/{series:int}/edit", series.rename),
    _post("/series/{series:int}/delete", series.delete),
    _show("/series/{series:int}/book.pdf", series.send_book),
    _show("/series/{series:int}/new", lesson.show_new),
    _post("/series/{series:int}/new", lesson.handle_new),
    _show("/lessons/{lesson:int}", lesson.show),
    _show("/lessons/{lesson:int}/text", lesson.show_text),
    _post("/lessons/{lesson:int}/text", lesson.handle_text),
    _show("/lessons/{lesson:int}/form", form.show),
    _post("/lessons/{lesson:int}/form", form.save),
    _post("/lessons/{lesson:int}/remove", lesson.remove),
    _post("/lessons/{lesson:int}/restore", lesson.restore),
    _post("/lessons/{lesson:int}/fills/{fill}/{action}", lesson.change_fill),
    _post("/lessons/{lesson:int}/removed/{removed}/restore", lesson.restore_removed),
    _show("/lessons/{lesson:int}/pack", pack.show),
    _post("/lessons/{lesson:int}/pack", pack.build),
    _show("/lessons/{lesson:int}/pack/progress", pack.send_progress),
    _post("/lessons/{lesson:int}/pack/cancel", pack.cancel),
    _show("/lessons/{lesson:int}/pack.zip", pack.download),
    _show("/lessons/{lesson:int}/practice", pack.send_practice_page, SIGNED_IN),
    _show("/lessons/{lesson:int}/handout.pdf", pack.send_handout, SIGNED_IN),
    _show("/fonts/{name}.otf", send_font, ANYONE),
    _show("/sign-in", account.show_sign_in, ANYONE),
    _post("/sign-in", account.handle_sign_in, ANYONE),
    _post("/sign-out", account.handle_sign_out, SIGNED_IN),
    _show("/account", account.show, SIGNED_IN),
    _post("/account/password", account.handle_password, SIGNED_IN),
    _post("/account/sessions/end", account.handle_end_others, SIGNED_IN),
    _post("/account/sessions/{session:int}/end", account.handle_end_session, SIGNED_IN),
    _post("/account/invitation", account.invite_teacher),
    _show("/invitation/{secret}", account.show_invitation, ANYONE),
    _post("/invitation/{secret}", account.handle_invitation, ANYONE),
    _show("/figures", figures.show_list),
    _post("/figures", figures.save),
    _post("/figures/delete", figures.delete),
    _show("/figures/{name}", figures.show),
    _show("/figures/{name}/sound.json", figures.send_sound),
    _show("/grooves", grooves.show_list),
    _post("/grooves", grooves.save),
    _post("/grooves/delete", grooves.delete),
    _show("/kits", kits.show_list),
    _post("/kits", kits.save),
    _post("/kits/delete", kits.delete),
    _show("/workshop", workshop.show),
    _post("/workshop/try", workshop.try_out),
    _post("/workshop/save", workshop.save),
    _show("/settings", settings.show),
    _post("/settings", settings.save),
    _show("/help/shortcuts", help_pages.show_shortcuts, SIGNED_IN),
    _show("/help/glossary", help_pages.show_glossary, SIGNED_IN),
    _show("/students", students.show_list),
    _post("/students", students.add),
    _show("/students/{student:int}", students.show, SIGNED_IN),
    _post("/students/{student:int}", students.change),
    _post("/students/{student:int}/delete", students.delete),
    _post("/students/{student:int}/invitation", students.invite),
    _post("/students/{student:int}/access", students.reset_access),
    _show("/students/{student:int}/export.zip", students.export),
    _post("/students/{student:int}/assignments", practice.handle_assign),
    _post("/students/{student:int}/assignments/{assignment:int}/unassign", practice.handle_unassign),
    _post("/students/{student:int}/passed", practice.handle_pass),
    _post("/students/{student:int}/practice", practice.handle_log, SIGNED_IN),
    _show("/students/{student:int}/takes/new", take.show_new, SIGNED_IN),
    Page(
        path="/students/{student:int}/takes",
        handler=take.add,
        roles=SIGNED_IN,
        method="POST",
        largest=LARGEST_BODY_BYTES,
    ),
    _show("/students/{student:int}/takes/waiting/{job}", take.show_waiting, SIGNED_IN),
    _show("/students/{student:int}/takes/waiting/{job}/progress", take.send_waiting, SIGNED_IN),
    _post("/students/{student:int}/takes/waiting/{job}/cancel", take.cancel_waiting, SIGNED_IN),
    _show("/takes/{take:int}", take.show, SIGNED_IN),
    _show("/takes/{take:int}/recording", take.send_recording, SIGNED_IN),
    _post("/takes/{take:int}/delete", take.delete, SIGNED_IN),
    _show("/lessons/{lesson:int}/fills/{fill}/sound.json", sound.send_fill, SIGNED_IN),
    _show("/sound/kit.json", sound.send_kit, SIGNED_IN),
    _show("/sound/kit/{digest}/{layer:int}", sound.send_layer, SIGNED_IN),
    _show("/sound/{name}.mjs", sound.send_module, ANYONE),
    _show("/students/{student:int}/plan.pdf", practice.send_plan_pdf, SIGNED_IN),
    _show("/students/{student:int}/plan.ics", practice.send_plan_calendar, SIGNED_IN),
)
