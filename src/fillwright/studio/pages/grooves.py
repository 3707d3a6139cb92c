"""Grooves: each as one bar of notation, and grooves that a teacher adds line by line."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from functools import lru_cache
from typing import Annotated, Any

from msgspec import Meta, Struct, field
from starlette.responses import Response

from fillwright.errors import FillwrightError
from fillwright.music.grooves import Groove, load_grooves
from fillwright.music.meter import list_meters
from fillwright.music.phrase import build_phrase
from fillwright.music.surfaces import load_surfaces
from fillwright.score.engraving.engrave import engrave
from fillwright.score.sheet import Sheet
from fillwright.store.settings import OwnItem, delete_own, get_own, read_own_tables, save_own
from fillwright.studio.web.forms import convert_form, fill_form, rows
from fillwright.studio.web.render import redirect, render_page
from fillwright.studio.web.request import PageRequest
from fillwright.studio.work.lessons import NARROW_MM
from fillwright.tables.kits_and_grooves import format_groove, make_groove

_HANDS = {"right": "R", "left": "L"}
_LINES = (
    ("hi-hat", "right"),
    ("snare", "left"),
    ("kick", "right"),
    ("foot hi-hat", "left"),
    ("hi-hat", "left"),
)
"""Drum or cymbal and hand of each line of a new groove."""


class GrooveLine(Struct, kw_only=True):
    """One line of a groove: its strokes on one drum or cymbal with one hand or foot."""

    surface: Annotated[str, Meta(title="Drum or cymbal")] = ""
    hand: Annotated[str, Meta(title="Hand")] = ""
    counts: Annotated[str, Meta(title="Counts", max_length=400)] = field(default="", name="on")


class GrooveForm(Struct, kw_only=True):
    """The form of a groove; `instead` is the name of the groove that it replaces."""

    name: Annotated[str, Meta(title="Name", min_length=1, max_length=80)]
    meter: str = "4/4"
    instead: str = ""
    lines: Annotated[tuple[GrooveLine, ...], Meta(title="Lines", extra=rows("line"))] = ()


def show_list(request: PageRequest) -> Response:
    """Show all grooves, the teacher's own first, and a form to add or edit one."""
    name = request.query("change")
    if not name:
        return _render_list(request)
    with request.begin_reading() as transaction:
        table = tomllib.loads(get_own(transaction, "groove", name).text)["grooves"][name]
    lines = [_read_line(line) for line in table["lines"]]
    values = {"name": name, "meter": table["meter"], "instead": name}
    return _render_list(request, values=values, lines=lines)


def save(request: PageRequest) -> Response:
    """Save a groove of the teacher's own."""
    try:
        form = convert_form(GrooveForm, request)
        lines = [_format_line(line) for line in form.lines if line.counts]
        groove = make_groove(form.name, {"meter": form.meter, "lines": lines})
        text = format_groove(groove.name, groove.meter.name, lines)
        with request.begin_writing() as transaction:
            item = OwnItem(kind="groove", name=groove.name, text=text)
            save_own(transaction, item, replaces=form.instead)
    except FillwrightError as error:
        return _render_list(request, error, values=fill_form(GrooveForm, request.fields))
    return redirect("/grooves", "saved")


def delete(request: PageRequest) -> Response:
    """Delete one of the teacher's own. Lessons that use it keep its table."""
    with request.begin_writing() as transaction:
        delete_own(transaction, "groove", request.text("name"))
    return redirect("/grooves", "deleted")


def _read_line(line: Mapping[str, str]) -> dict[str, str]:
    """Return a line of a lesson file as the form has it."""
    hand = "left" if line.get("hand") == "L" else "right"
    return {"surface": line["surface"], "hand": hand, "on": line["at"]}


def _format_line(line: GrooveLine) -> dict[str, str]:
    """Return a line as a lesson file has it: feet have no hand."""
    surface = load_surfaces().get(line.surface)
    hand = {} if surface and surface.foot else {"hand": _HANDS.get(line.hand, line.hand)}
    return {"surface": line.surface, **hand, "at": " ".join(line.counts.split())}


def _list_lines(request: PageRequest, lines: list[dict[str, str]]) -> list[dict[str, str]]:
    """Return the lines of the form: as given, as sent, or as a new groove has them."""
    usual = [{"surface": surface, "hand": hand, "on": ""} for surface, hand in _LINES]
    sent = [
        {key: request.fields.get(f"line-{index}-{key}", value) for key, value in line.items()}
        for index, line in enumerate(usual)
    ]
    return [*lines, *sent[len(lines) :]]


@lru_cache(maxsize=200)
def _draw(groove: Groove) -> str:
    sheet = Sheet(phrase=build_phrase(groove, None, bars=1), sticking=False)
    return engrave(sheet, width_mm=float(NARROW_MM)).svg


def _render_list(
    request: PageRequest,
    error: FillwrightError | None = None,
    *,
    values: Mapping[str, Any] | None = None,
    lines: list[dict[str, str]] | None = None,
) -> Response:
    with request.begin_reading() as transaction:
        own_grooves = read_own_tables(transaction).grooves
    ours = load_grooves()
    return render_page(
        request,
        "grooves.html",
        error=error,
        own=own_grooves,
        grooves=ours,
        drawings={groove.name: _draw(groove) for groove in (*own_grooves, *ours)},
        meters=list_meters(),
        surfaces=tuple(load_surfaces()),
        hands=tuple(_HANDS),
        values=values or {"name": "", "meter": "4/4", "instead": ""},
        lines=_list_lines(request, lines or []),
    )
