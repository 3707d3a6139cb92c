"""The table of all pages: path, who may see it, what answers."""

from __future__ import annotations

from dataclasses import dataclass

from fillwright.studio.pages import (
    account,
    figures,
    form,
    grooves,
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
from fillwright.studio.pages import shortcuts as keys
from fillwright.studio.web.fonts import face
from fillwright.studio.web.guard import LARGEST_BODY_BYTES, LARGEST_FORM_BYTES
from fillwright.studio.web.request import Work
from fillwright.studio.web.visitor import Role

TEACHER = frozenset({Role.TEACHER})
SIGNED_IN = frozenset({Role.TEACHER, Role.STUDENT})
ANYONE = frozenset(Role)


@dataclass(frozen=True, slots=True, kw_only=True)
class Page:
    """One page or action.

    Attributes:
        path: with its parameters, as Starlette has them.
        work: what answers.
        who: may ask.
        method: GET for pages, POST for actions.
        largest: bytes that may be sent to it.
    """

    path: str
    work: Work
    who: frozenset[Role] = TEACHER
    method: str = "GET"
    largest: int = LARGEST_FORM_BYTES


def _do(path: str, work: Work, who: frozenset[Role] = TEACHER) -> Page:
    return Page(path=path, work=work, who=who, method="POST")


PAGES: tuple[Page, ...] = (
    Page(path="/", work=series.index, who=SIGNED_IN),
    _do("/series", series.add),
    Page(path="/series/{series:int}", work=series.show),
    Page(path="/series/{series:int}/book.pdf", work=series.book_pdf),
    Page(path="/series/{series:int}/new", work=lesson.new_page),
    _do("/series/{series:int}/new", lesson.new),
    Page(path="/lessons/{lesson:int}", work=lesson.show),
    Page(path="/lessons/{lesson:int}/text", work=lesson.text_page),
    _do("/lessons/{lesson:int}/text", lesson.save_text),
    Page(path="/lessons/{lesson:int}/form", work=form.show),
    _do("/lessons/{lesson:int}/form", form.change),
    _do("/lessons/{lesson:int}/put-away", lesson.put_away),
    _do("/lessons/{lesson:int}/fills/{fill}/{what}", lesson.change_fill),
    _do("/lessons/{lesson:int}/dropped/{dropped}", lesson.bring_back),
    Page(path="/lessons/{lesson:int}/pack", work=pack.show),
    _do("/lessons/{lesson:int}/pack", pack.build),
    Page(path="/lessons/{lesson:int}/pack/progress", work=pack.progress),
    Page(path="/lessons/{lesson:int}/pack.zip", work=pack.download),
    Page(path="/lessons/{lesson:int}/practice", work=pack.practice, who=SIGNED_IN),
    Page(path="/lessons/{lesson:int}/handout.pdf", work=pack.handout, who=SIGNED_IN),
    Page(path="/fonts/{name}.otf", work=face, who=ANYONE),
    Page(path="/sign-in", work=account.sign_in_page, who=ANYONE),
    _do("/sign-in", account.sign_in, ANYONE),
    _do("/sign-out", account.sign_out, SIGNED_IN),
    Page(path="/account", work=account.show, who=SIGNED_IN),
    _do("/account/password", account.change_password, SIGNED_IN),
    _do("/account/invitation", account.invite_teacher),
    Page(path="/invitation/{secret}", work=account.invitation_page, who=ANYONE),
    _do("/invitation/{secret}", account.accept_invitation, ANYONE),
    Page(path="/figures", work=figures.index),
    _do("/figures", figures.add),
    _do("/figures/forget", figures.forget),
    Page(path="/figures/{name}", work=figures.show),
    Page(path="/figures/{name}/sound.json", work=figures.sound),
    Page(path="/grooves", work=grooves.index),
    _do("/grooves", grooves.add),
    _do("/grooves/forget", grooves.forget),
    Page(path="/kits", work=kits.index),
    _do("/kits", kits.add),
    _do("/kits/forget", kits.forget),
    Page(path="/workshop", work=workshop.show),
    _do("/workshop/try", workshop.try_out),
    _do("/workshop/keep", workshop.keep),
    Page(path="/settings", work=settings.show),
    _do("/settings", settings.change),
    Page(path="/keys", work=keys.show, who=SIGNED_IN),
    Page(path="/students", work=students.index),
    _do("/students", students.add),
    Page(path="/students/{student:int}", work=students.show, who=SIGNED_IN),
    _do("/students/{student:int}", students.change),
    _do("/students/{student:int}/delete", students.delete),
    _do("/students/{student:int}/invitation", students.invite),
    _do("/students/{student:int}/access", students.reset_access),
    Page(path="/students/{student:int}/export.zip", work=students.export),
    _do("/students/{student:int}/assignments", practice.assign),
    _do("/students/{student:int}/assignments/{assignment:int}/take-back", practice.take_back),
    _do("/students/{student:int}/passed", practice.passed),
    _do("/students/{student:int}/practice", practice.log, SIGNED_IN),
    Page(path="/students/{student:int}/takes/new", work=take.new_page, who=SIGNED_IN),
    Page(
        path="/students/{student:int}/takes",
        work=take.add,
        who=SIGNED_IN,
        method="POST",
        largest=LARGEST_BODY_BYTES,
    ),
    Page(path="/takes/{take:int}", work=take.show, who=SIGNED_IN),
    Page(path="/takes/{take:int}/recording", work=take.sound, who=SIGNED_IN),
    _do("/takes/{take:int}/delete", take.delete, SIGNED_IN),
    Page(path="/lessons/{lesson:int}/fills/{fill}/sound.json", work=sound.of_fill, who=SIGNED_IN),
    Page(path="/sound/kit.json", work=sound.kit, who=SIGNED_IN),
    Page(path="/sound/kit/{digest}/{layer:int}", work=sound.kit_layer, who=SIGNED_IN),
    Page(path="/sound/{name}.mjs", work=sound.module, who=ANYONE),
    Page(path="/students/{student:int}/plan.pdf", work=practice.plan_pdf, who=SIGNED_IN),
    Page(path="/students/{student:int}/plan.ics", work=practice.plan_ics, who=SIGNED_IN),
)
