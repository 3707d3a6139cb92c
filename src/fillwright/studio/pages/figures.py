"""Rudiments and figures: a sheet for each, and figures of a teacher's own written as sticking text."""

from __future__ import annotations

from collections.abc import Mapping
from functools import lru_cache
from itertools import groupby
from types import MappingProxyType

from starlette.responses import JSONResponse, Response

from fillwright.craft.rudiment_sheet import figure_phrase
from fillwright.errors import FillwrightError, NotThereError, UnknownNameError
from fillwright.music.figure import Figure
from fillwright.music.rudiments import find_figure, plain, rhythm, rudiments
from fillwright.music.sticking import format_sticking, parse_sticking
from fillwright.music.timing import STRAIGHT
from fillwright.score.engraving.engrave import Engraving, engrave
from fillwright.score.sheet import Sheet
from fillwright.store.desk import Desk
from fillwright.store.settings import Own, all_own, forget_own, keep_own, one_own
from fillwright.studio.sounds.kit_sounds import playable
from fillwright.studio.web.render import back_to, page
from fillwright.studio.web.request import Ask
from fillwright.studio.work.cursor_marks import way
from fillwright.tables.blocks import quoted

_WIDTHS = {"wide": 120.0, "narrow": 84.0}
_TEMPO = 80
_SPLIT = " / "
_TYPED = ("name", "sticking", "rhythm", "instead")


def index(ask: Ask) -> Response:
    """All of them by group, the teacher's own first, and a form for a new one or one to be changed."""
    name = ask.request.query_params.get("change", "")
    if not name:
        return _index(ask)
    with ask.reading() as desk:
        sticking, values = _texts(one_own(desk, "figure", name))
    return _index(ask, {"name": name, "sticking": sticking, "rhythm": values, "instead": name})


def add(ask: Ask) -> Response:
    """Keep a figure of the teacher's own."""
    try:
        figure = _read(ask.text("name").strip(), ask.text("sticking"), ask.text("rhythm"))
        if any(plain(figure.name) == plain(name) for one in rudiments() for name in (one.name, *one.aliases)):
            raise UnknownNameError(f'"{figure.name}" is a rudiment already; find a name of your own.')
        text = f"{format_sticking(figure.strokes)}{_SPLIT}{ask.text('rhythm').strip()}"
        with ask.writing() as desk:
            keep_own(desk, Own(kind="figure", name=figure.name, text=text), instead_of=ask.text("instead"))
    except FillwrightError as error:
        return _index(ask, {name: ask.text(name) for name in _TYPED}, wrong=str(error), status=422)
    return back_to("/figures", "saved")


def forget(ask: Ask) -> Response:
    """Forget one of the teacher's own; lessons that use it keep its text."""
    with ask.writing() as desk:
        forget_own(desk, "figure", ask.text("name"))
    return back_to("/figures", "deleted")


def show(ask: Ask) -> Response:
    """The sheet of one."""
    figure = _found(ask)
    drawings = {name: _drawn(figure, width).svg for name, width in _WIDTHS.items()}
    return page(ask, "figure.html", figure=figure, own=figure.group == "own", tempo=_TEMPO, drawings=drawings)


def sound(ask: Ask) -> Response:
    """A figure as the player plays it."""
    figure = _found(ask)
    sheet = _sheet(figure)
    ways = {name: way(_drawn(figure, width), sheet, float) for name, width in _WIDTHS.items()}
    return JSONResponse({**playable(sheet.phrase, STRAIGHT), "tempo": _TEMPO, "way": ways})


def _found(ask: Ask) -> Figure:
    """The figure in the path.

    Raises:
        NotThereError: where the teacher has none of that name.
    """
    with ask.reading() as desk:
        own = own_figures(desk)
    try:
        return find_figure(str(ask.request.path_params["name"]), own)
    except UnknownNameError as error:
        raise NotThereError(str(error)) from error


def own_figures(desk: Desk) -> tuple[Figure, ...]:
    """The teacher's own figures."""
    return tuple(_read(one.name, *_texts(one)) for one in all_own(desk, "figure"))


def with_own_figure(desk: Desk, row: dict[str, str]) -> dict[str, str]:
    """A figure of a form, with sticking and rhythm where its name is that of one of the teacher's own."""
    own = next((one for one in all_own(desk, "figure") if plain(one.name) == plain(row["name"])), None)
    if own is None or row["sticking"]:
        return row
    sticking, values = _texts(own)
    return {**row, "sticking": sticking, "rhythm": row["rhythm"] or values}


def own_figure_text(one: Own) -> str:
    """What stands below the name of a figure of a teacher's own in a lesson."""
    sticking, values = _texts(one)
    return f"sticking = {quoted(sticking)}\nrhythm = {quoted(values)}"


def _texts(one: Own) -> tuple[str, str]:
    """Sticking and rhythm."""
    sticking, _, values = one.text.partition(_SPLIT)
    return sticking, values


def _read(name: str, sticking: str, values: str) -> Figure:
    """A figure from its texts.

    Raises:
        StickingError: for a sticking or a rhythm that can't be read.
        UnknownNameError: for no name, or one that could not be told apart in a list.
    """
    if not 0 < len(name) <= 80:
        raise UnknownNameError(f"A name of {len(name)} characters can't be kept; write 1 to 80.")
    if "," in name:
        raise UnknownNameError("Figures are listed with commas; leave the comma out of the name.")
    strokes = parse_sticking(sticking)
    return Figure(name=name, group="own", strokes=strokes, rhythms=(rhythm(values, len(strokes)),))


def _sheet(figure: Figure) -> Sheet:
    return Sheet(phrase=figure_phrase(figure), cue=figure.cue)


@lru_cache(maxsize=200)
def _drawn(figure: Figure, width_mm: float) -> Engraving:
    return engrave(_sheet(figure), width_mm=width_mm)


def _index(
    ask: Ask, typed: Mapping[str, str] = MappingProxyType({}), *, wrong: str = "", status: int = 200
) -> Response:
    with ask.reading() as desk:
        own = own_figures(desk)
    groups = [(group, tuple(found)) for group, found in groupby(rudiments(), key=lambda one: one.group)]
    shown = {**dict.fromkeys(_TYPED, ""), "rhythm": "16", **typed}
    return page(ask, "figures.html", status=status, own=own, groups=groups, wrong=wrong, typed=shown)
