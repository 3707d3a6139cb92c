"""Kits: each from above, and kits of a teacher's own, made from one of ours."""

from __future__ import annotations

from starlette.responses import Response

from fillwright.craft.kits import USUAL, find_kit, kits
from fillwright.errors import FillwrightError
from fillwright.lesson.owntables import kit_text, new_kit
from fillwright.music.surfaces import surfaces
from fillwright.score.kitplan import whole_kit
from fillwright.store.settings import Own, forget_own, keep_own, keep_setting, own_tables, settings
from fillwright.studio.ask import Ask
from fillwright.studio.render import back_to, page


def index(ask: Ask) -> Response:
    """All of them, the teacher's own first, and a form for a new one."""
    return _index(ask)


def add(ask: Ask) -> Response:
    """Keep a kit of the teacher's own."""
    there = ask.lists.get("surfaces", ())
    try:
        base = find_kit(ask.text("from"))
        without = [name for name in base.spots if name not in there]
        kit = new_kit(ask.text("name"), {"from": base, "without": without})
        with ask.writing() as desk:
            keep_own(desk, Own(kind="kit", name=kit.name, text=kit_text(kit.name, base.name, without)))
    except FillwrightError as error:
        return _index(ask, wrong=str(error), status=422)
    return back_to("/kits", "saved")


def forget(ask: Ask) -> Response:
    """Forget one of the teacher's own; lessons that use it keep its table, students its name."""
    name = ask.text("name")
    with ask.writing() as desk:
        forget_own(desk, "kit", name)
        if settings(desk).get("kit") == name:
            keep_setting(desk, "kit", USUAL)
    return back_to("/kits", "deleted")


def _index(ask: Ask, *, wrong: str = "", status: int = 200) -> Response:
    with ask.reading() as desk:
        own = own_tables(desk).kits
    ours = tuple(kits().values())
    return page(
        ask,
        "kits.html",
        status=status,
        own=own,
        kits=ours,
        drawings={one.name: whole_kit(one).svg for one in (*own, *ours)},
        surfaces=[name for name in surfaces() if any(one.has(name) for one in ours)],
        wrong=wrong,
        typed={"name": ask.text("name"), "from": ask.text("from") or USUAL},
        there=ask.lists.get("surfaces", ()) if wrong else tuple(surfaces()),
    )
