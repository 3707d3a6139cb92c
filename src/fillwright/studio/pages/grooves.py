"""Grooves: each as one bar of notation, and grooves of a teacher's own, line by line."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping, Sequence
from functools import lru_cache
from types import MappingProxyType

from starlette.responses import Response

from fillwright.errors import FillwrightError
from fillwright.music.grooves import Groove, grooves
from fillwright.music.meter import meter_names
from fillwright.music.phrase import phrase
from fillwright.music.surfaces import surfaces
from fillwright.score.engraving.engrave import engrave
from fillwright.score.sheet import Sheet
from fillwright.store.settings import Own, forget_own, keep_own, one_own, own_tables
from fillwright.studio.web.render import back_to, page
from fillwright.studio.web.request import Ask
from fillwright.studio.work.lessons import NARROW_MM
from fillwright.tables.kits_and_grooves import groove_text, new_groove

_HANDS = {"right": "R", "left": "L"}
_ROWS = (("hi-hat", "right"), ("snare", "left"), ("kick", "right"), ("foot hi-hat", "left"), ("hi-hat", "left"))
"""Surface and hand that the lines of a new groove start with."""


def index(ask: Ask) -> Response:
    """All of them, the teacher's own first, and a form for a new one, or for one that is to be changed."""
    name = ask.request.query_params.get("change", "")
    if not name:
        return _index(ask, rows=_rows(ask))
    with ask.reading() as desk:
        table = tomllib.loads(one_own(desk, "groove", name).text)["grooves"][name]
    lines = [_typed(line) for line in table["lines"]]
    rows = [*lines, *_rows(ask)[len(lines) :]]
    return _index(ask, rows=rows, typed={"name": name, "meter": table["meter"], "instead": name})


def add(ask: Ask) -> Response:
    """Keep a groove of the teacher's own."""
    lines = [_line(row) for row in _rows(ask) if row["on"].strip()]
    try:
        groove = new_groove(ask.text("name"), {"meter": ask.text("meter"), "lines": lines})
        text = groove_text(groove.name, groove.meter.name, lines)
        with ask.writing() as desk:
            keep_own(desk, Own(kind="groove", name=groove.name, text=text), instead_of=ask.text("instead"))
    except FillwrightError as error:
        typed = {name: ask.text(name) for name in ("name", "meter", "instead")}
        return _index(ask, rows=_rows(ask), typed=typed, wrong=str(error), status=422)
    return back_to("/grooves", "saved")


def forget(ask: Ask) -> Response:
    """Forget one of the teacher's own; lessons that use it keep its table."""
    with ask.writing() as desk:
        forget_own(desk, "groove", ask.text("name"))
    return back_to("/grooves", "deleted")


def _rows(ask: Ask) -> list[dict[str, str]]:
    """The lines of the form as they were typed, or as a new one starts."""
    usual = [{"surface": struck, "hand": hand, "on": ""} for struck, hand in _ROWS]
    return [
        {key: ask.fields.get(f"line-{index}-{key}", value) for key, value in row.items()}
        for index, row in enumerate(usual)
    ]


def _typed(line: Mapping[str, str]) -> dict[str, str]:
    """A line of a lesson file as the form has it."""
    hand = "left" if line.get("hand") == "L" else "right"
    return {"surface": line["surface"], "hand": hand, "on": line["at"]}


def _line(row: dict[str, str]) -> dict[str, str]:
    """A line as a lesson file has it: feet have no hand."""
    known = surfaces().get(row["surface"])
    hand = {} if known and known.foot else {"hand": _HANDS.get(row["hand"], row["hand"])}
    return {"surface": row["surface"], **hand, "at": " ".join(row["on"].split())}


@lru_cache(maxsize=200)
def _drawing(groove: Groove) -> str:
    sheet = Sheet(phrase=phrase(groove, None, bars=1), sticking=False)
    return engrave(sheet, width_mm=float(NARROW_MM)).svg


def _index(
    ask: Ask,
    *,
    rows: Sequence[Mapping[str, str]],
    typed: Mapping[str, str] = MappingProxyType({}),
    wrong: str = "",
    status: int = 200,
) -> Response:
    with ask.reading() as desk:
        own = own_tables(desk).grooves
    return page(
        ask,
        "grooves.html",
        status=status,
        own=own,
        grooves=grooves(),
        drawings={one.name: _drawing(one) for one in (*own, *grooves())},
        meters=meter_names(),
        surfaces=tuple(surfaces()),
        hands=tuple(_HANDS),
        wrong=wrong,
        typed={"name": "", "meter": "4/4", "instead": "", **typed},
        rows=rows,
    )
