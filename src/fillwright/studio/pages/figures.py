"""Rudiments and figures: a sheet for each, and figures that a teacher adds as sticking text."""

from __future__ import annotations

from collections.abc import Mapping
from functools import lru_cache
from itertools import groupby
from typing import Annotated, Any

from msgspec import Meta, Struct
from msgspec.structs import asdict
from starlette.responses import JSONResponse, Response

from fillwright.craft.rudiment_sheet import build_sheet_phrase
from fillwright.errors import FillwrightError, NotThereError, UnknownNameError
from fillwright.music.figure import Figure
from fillwright.music.rudiments import find_figure, load_rudiments, normalize_name, parse_rhythm
from fillwright.music.sticking import format_sticking, parse_sticking
from fillwright.music.timing import STRAIGHT
from fillwright.score.engraving.engrave import Engraving, engrave
from fillwright.score.sheet import Sheet
from fillwright.store.settings import OwnItem, delete_own, get_own, list_own, save_own
from fillwright.store.transaction import Transaction
from fillwright.studio.sounds.kit_sounds import build_player_data
from fillwright.studio.web.forms import convert_form, fill_form
from fillwright.studio.web.render import redirect, render_page
from fillwright.studio.web.request import PageRequest
from fillwright.studio.work.cursor_marks import list_cursor_marks
from fillwright.tables.blocks import quote

_WIDTHS_MM = {"wide": 120.0, "narrow": 84.0}
"""Widths of a sheet in mm: on a screen, and on a phone. Ours."""

_TEMPO = 80
"""Tempo at which a sheet starts to play, in bpm. Ours."""

_SPLIT = " / "
"""Text between sticking and rhythm in the store."""


class FigureForm(Struct, kw_only=True):
    """The form of a figure; `instead` is the name of the figure that it replaces."""

    name: Annotated[str, Meta(title="Name", min_length=1, max_length=80)]
    sticking: Annotated[str, Meta(title="Sticking", min_length=1, max_length=1_000)]
    rhythm: Annotated[str, Meta(title="Rhythm", min_length=1, max_length=400)]
    instead: str = ""


def show_list(request: PageRequest) -> Response:
    """Show all figures by group, the teacher's own first, and a form to add or edit one."""
    name = request.query("change")
    if not name:
        return _render_list(request)
    with request.begin_reading() as transaction:
        sticking, rhythm = _split_text(get_own(transaction, "figure", name))
    form = FigureForm(name=name, sticking=sticking, rhythm=rhythm, instead=name)
    return _render_list(request, values=asdict(form))


def save(request: PageRequest) -> Response:
    """Save a figure of the teacher's own."""
    try:
        form = convert_form(FigureForm, request)
        figure = _parse_figure(form.name, form.sticking, form.rhythm)
        _check_no_rudiment(figure.name)
        text = f"{format_sticking(figure.strokes)}{_SPLIT}{form.rhythm}"
        with request.begin_writing() as transaction:
            item = OwnItem(kind="figure", name=figure.name, text=text)
            save_own(transaction, item, replaces=form.instead)
    except FillwrightError as error:
        return _render_list(request, error, values=fill_form(FigureForm, request.fields))
    return redirect("/figures", "saved")


def delete(request: PageRequest) -> Response:
    """Delete one of the teacher's own. Lessons that use it keep its sticking."""
    with request.begin_writing() as transaction:
        delete_own(transaction, "figure", request.text("name"))
    return redirect("/figures", "deleted")


def show(request: PageRequest) -> Response:
    """Show the sheet of a figure."""
    figure = _find_figure(request)
    drawings = {name: _draw(figure, width).svg for name, width in _WIDTHS_MM.items()}
    is_own = figure.group == "own"
    return render_page(request, "figure.html", figure=figure, own=is_own, tempo=_TEMPO, drawings=drawings)


def send_sound(request: PageRequest) -> Response:
    """Send a figure for the player."""
    figure = _find_figure(request)
    sheet = _make_sheet(figure)
    marks = {name: list_cursor_marks(_draw(figure, width), sheet, float) for name, width in _WIDTHS_MM.items()}
    return JSONResponse({**build_player_data(sheet.phrase, STRAIGHT), "tempo": _TEMPO, "way": marks})


def list_own_figures(transaction: Transaction) -> tuple[Figure, ...]:
    """List the teacher's own figures."""
    return tuple(_parse_figure(item.name, *_split_text(item)) for item in list_own(transaction, "figure"))


def complete_row(transaction: Transaction, row: dict[str, str]) -> dict[str, str]:
    """Add sticking and rhythm to the row of a lesson form that names one of the teacher's own figures."""
    name = normalize_name(row["name"])
    item = next((item for item in list_own(transaction, "figure") if normalize_name(item.name) == name), None)
    if item is None or row["sticking"]:
        return row
    sticking, rhythm = _split_text(item)
    return {**row, "sticking": sticking, "rhythm": row["rhythm"] or rhythm}


def format_own_figure(item: OwnItem) -> str:
    """Return the lines of a lesson file that define a teacher's own figure, after its name."""
    sticking, rhythm = _split_text(item)
    return f"sticking = {quote(sticking)}\nrhythm = {quote(rhythm)}"


def _find_figure(request: PageRequest) -> Figure:
    """Return the figure in the path.

    Raises:
        NotThereError: if there is none of that name.
    """
    with request.begin_reading() as transaction:
        own_figures = list_own_figures(transaction)
    try:
        return find_figure(request.segment("name"), own_figures)
    except UnknownNameError as error:
        raise NotThereError(str(error)) from error


def _check_no_rudiment(name: str) -> None:
    """Raise UnknownNameError for the name of a rudiment."""
    for rudiment in load_rudiments():
        if normalize_name(name) in map(normalize_name, (rudiment.name, *rudiment.aliases)):
            raise UnknownNameError(f'"{name}" is a rudiment already; choose another name.')


def _split_text(item: OwnItem) -> tuple[str, str]:
    """Return sticking and rhythm."""
    sticking, _, rhythm = item.text.partition(_SPLIT)
    return sticking, rhythm


def _parse_figure(name: str, sticking: str, rhythm: str) -> Figure:
    """Make a figure from its texts.

    Raises:
        StickingError: for a sticking or a rhythm that can't be read.
        UnknownNameError: for a name with a comma, which separates names in a list.
    """
    if "," in name:
        raise UnknownNameError("A name can't have a comma, because commas separate figures; leave it out.")
    strokes = parse_sticking(sticking)
    return Figure(name=name, group="own", strokes=strokes, rhythms=(parse_rhythm(rhythm, len(strokes)),))


def _make_sheet(figure: Figure) -> Sheet:
    return Sheet(phrase=build_sheet_phrase(figure), cue=figure.cue)


@lru_cache(maxsize=200)
def _draw(figure: Figure, width_mm: float) -> Engraving:
    return engrave(_make_sheet(figure), width_mm=width_mm)


def _render_list(
    request: PageRequest, error: FillwrightError | None = None, *, values: Mapping[str, Any] | None = None
) -> Response:
    with request.begin_reading() as transaction:
        own_figures = list_own_figures(transaction)
    groups = [
        (group, tuple(figures)) for group, figures in groupby(load_rudiments(), key=lambda figure: figure.group)
    ]
    shown = values or {**fill_form(FigureForm, {}), "rhythm": "16"}
    return render_page(request, "figures.html", error=error, own=own_figures, groups=groups, values=shown)
