"""Kits: each from above, and kits that a teacher makes from one of ours."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping, Sequence
from typing import Annotated, Any

from msgspec import Meta, Struct, field
from starlette.responses import Response

from fillwright.craft.player.kits import USUAL, find_kit, load_kits
from fillwright.errors import FillwrightError
from fillwright.music.surfaces import load_surfaces
from fillwright.score.engraving.kit_plan import draw_kit
from fillwright.store.settings import (
    OwnItem,
    delete_own,
    get_own,
    read_own_tables,
    read_settings,
    save_own,
    save_setting,
)
from fillwright.store.transaction import Transaction
from fillwright.studio.web.forms import convert_form, fill_form
from fillwright.studio.web.render import redirect, render_page
from fillwright.studio.web.request import PageRequest
from fillwright.tables.kits_and_grooves import format_kit, make_kit


class KitForm(Struct, kw_only=True):
    """The form of a kit; `instead` is the name of the kit that it replaces."""

    name: Annotated[str, Meta(title="Name", min_length=1, max_length=80)]
    base: Annotated[str, Meta(title="Start from")] = field(default=USUAL, name="from")
    surfaces: tuple[str, ...] = ()
    instead: str = ""


def show_list(request: PageRequest) -> Response:
    """Show all kits, the teacher's own first, and a form to add or edit one."""
    name = request.query("change")
    if not name:
        return _render_list(request, selected=tuple(load_surfaces()))
    with request.begin_reading() as transaction:
        table = tomllib.loads(get_own(transaction, "kit", name).text)["kits"][name]
    selected = [surface for surface in load_surfaces() if surface not in table.get("without", ())]
    values = {"name": name, "from": table["from"], "instead": name}
    return _render_list(request, selected=selected, values=values)


def save(request: PageRequest) -> Response:
    """Save a kit of the teacher's own."""
    try:
        form = convert_form(KitForm, request)
        base = find_kit(form.base)
        without = [name for name in base.spots if name not in form.surfaces]
        kit = make_kit(form.name, {"from": base, "without": without})
        with request.begin_writing() as transaction:
            item = OwnItem(kind="kit", name=kit.name, text=format_kit(kit.name, base.name, without))
            save_own(transaction, item, replaces=form.instead)
            _replace_setting(transaction, form.instead, kit.name)
    except FillwrightError as error:
        selected = request.lists.get("surfaces", ())
        return _render_list(request, error, selected=selected, values=fill_form(KitForm, request.fields))
    return redirect("/kits", "saved")


def delete(request: PageRequest) -> Response:
    """Delete one of the teacher's own. Lessons that use it keep its table, students its name."""
    name = request.text("name")
    with request.begin_writing() as transaction:
        delete_own(transaction, "kit", name)
        _replace_setting(transaction, name, USUAL)
    return redirect("/kits", "deleted")


def _replace_setting(transaction: Transaction, before: str, name: str) -> None:
    """Set the kit of the settings, if it was the one before."""
    if read_settings(transaction).get("kit") == before:
        save_setting(transaction, "kit", name)


def _render_list(
    request: PageRequest,
    error: FillwrightError | None = None,
    *,
    selected: Sequence[str],
    values: Mapping[str, Any] | None = None,
) -> Response:
    with request.begin_reading() as transaction:
        own_kits = read_own_tables(transaction).kits
    ours = tuple(load_kits().values())
    return render_page(
        request,
        "kits.html",
        error=error,
        own=own_kits,
        kits=ours,
        drawings={kit.name: draw_kit(kit).svg for kit in (*own_kits, *ours)},
        surfaces=[name for name in load_surfaces() if any(kit.has(name) for kit in ours)],
        values=values or {"name": "", "from": USUAL, "instead": ""},
        selected=selected,
    )
