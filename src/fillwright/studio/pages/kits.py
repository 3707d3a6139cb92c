"""Kits: each from above, and kits of a teacher's own, made from one of ours."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping, Sequence
from types import MappingProxyType

from starlette.responses import Response

from fillwright.craft.player.kits import USUAL, find_kit, kits
from fillwright.errors import FillwrightError
from fillwright.music.surfaces import surfaces
from fillwright.score.engraving.kit_plan import whole_kit
from fillwright.store.desk import Desk
from fillwright.store.settings import (
    Own,
    forget_own,
    keep_own,
    keep_setting,
    one_own,
    own_tables,
    settings,
)
from fillwright.studio.web.render import back_to, page
from fillwright.studio.web.request import Ask
from fillwright.tables.kits_and_grooves import kit_text, new_kit


def index(ask: Ask) -> Response:
    """All of them, the teacher's own first, and a form for a new one, or for one that is to be changed."""
    name = ask.request.query_params.get("change", "")
    if not name:
        return _index(ask, there=tuple(surfaces()))
    with ask.reading() as desk:
        table = tomllib.loads(one_own(desk, "kit", name).text)["kits"][name]
    there = [surface for surface in surfaces() if surface not in table.get("without", ())]
    return _index(ask, there=there, typed={"name": name, "from": table["from"], "instead": name})


def add(ask: Ask) -> Response:
    """Keep a kit of the teacher's own."""
    there = ask.lists.get("surfaces", ())
    try:
        base = find_kit(ask.text("from"))
        without = [name for name in base.spots if name not in there]
        kit = new_kit(ask.text("name"), {"from": base, "without": without})
        with ask.writing() as desk:
            own = Own(kind="kit", name=kit.name, text=kit_text(kit.name, base.name, without))
            keep_own(desk, own, instead_of=ask.text("instead"))
            _follow(desk, ask.text("instead"), kit.name)
    except FillwrightError as error:
        typed = {name: ask.text(name) for name in ("name", "from", "instead")}
        return _index(ask, there=there, typed=typed, wrong=str(error), status=422)
    return back_to("/kits", "saved")


def forget(ask: Ask) -> Response:
    """Forget one of the teacher's own; lessons that use it keep its table, students its name."""
    name = ask.text("name")
    with ask.writing() as desk:
        forget_own(desk, "kit", name)
        _follow(desk, name, USUAL)
    return back_to("/kits", "deleted")


def _follow(desk: Desk, before: str, name: str) -> None:
    """Let a kit be the setting where the one before it was."""
    if settings(desk).get("kit") == before:
        keep_setting(desk, "kit", name)


def _index(
    ask: Ask,
    *,
    there: Sequence[str],
    typed: Mapping[str, str] = MappingProxyType({}),
    wrong: str = "",
    status: int = 200,
) -> Response:
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
        typed={"name": "", "from": USUAL, "instead": "", **typed},
        there=there,
    )
