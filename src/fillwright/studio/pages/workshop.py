"""The workshop: one fill made by hand, from figures and beats to the last stroke."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from fractions import Fraction
from typing import Annotated, Any

from msgspec import Meta, Struct
from starlette.responses import JSONResponse, Response

from fillwright.craft.player.kits import USUAL, find_kit, load_kits
from fillwright.craft.player.players import load_players
from fillwright.craft.written_fills import WrittenFill
from fillwright.errors import FillwrightError, FitError
from fillwright.lesson.edit import remove_fill
from fillwright.lesson.written_fills import format_fill, format_fill_values, read_fill
from fillwright.music.figure import Figure
from fillwright.music.grooves import find_groove, load_grooves
from fillwright.music.rudiments import load_rudiments
from fillwright.music.timing import STRAIGHT
from fillwright.score.engraving.engrave import engrave
from fillwright.score.engraving.kit_plan import draw_kit_plan
from fillwright.store.lessons import get_newest_version, list_lessons, list_series, save_text
from fillwright.store.settings import read_own_tables, read_settings
from fillwright.studio.pages.figures import list_own_figures
from fillwright.studio.sounds.kit_sounds import build_player_data
from fillwright.studio.web.forms import convert_fields
from fillwright.studio.web.render import redirect, render_page
from fillwright.studio.web.request import PageRequest
from fillwright.studio.work.cursor_marks import list_cursor_marks, locate_places
from fillwright.studio.work.lessons import NARROW_MM, WIDE_MM, parse_text, place_fill, plan_lesson
from fillwright.tables.kits_and_grooves import OwnTables
from fillwright.workbench.edit_fill import (
    ChainChoice,
    EditedFill,
    EditSettings,
    check_fill,
    choose_chain,
    choose_route,
)

_MOST_FIGURES = 4
"""Figures that are chained in the workshop. Ours."""

_MOST_BEATS = 64
"""Beats of a fill: 16 bars of 4/4. Ours."""

_LARGEST_NUMBER = 999_999
"""Largest number of a chain or route in an address. Ours."""

_WIDTHS_MM = {"wide": WIDE_MM, "narrow": NARROW_MM}
_DEFAULTS = {
    "figures": "single paradiddle",
    "beats": "4",
    "groove": "straight eighths",
    "kit": USUAL,
    "player": "steady",
    "tempo": "80",
    "chain": "0",
    "route": "0",
    "replaces": "",
    "lesson": "",
    "name": "",
    "sticking": "",
}
"""Fields of the workshop before anything is chosen."""

_SURFACES = (
    *("china", "second crash", "crash", "splash", "ride bell", "ride bow", "open hi-hat", "hi-hat"),
    *("high tom", "mid tom", "snare", "rim", "floor tom", "second floor tom", "kick"),
)
"""Drums and cymbals from the top of the staff down, in the order of the arrow keys."""

Index = Annotated[int, Meta(ge=0, le=_LARGEST_NUMBER, description="a whole number from 0")]
"""Number of a chain or a route, from 0."""


class WorkshopForm(Struct, kw_only=True):
    """The fields of the workshop: how to make a fill, or the fill itself as texts."""

    figures: Annotated[str, Meta(title="Figures", max_length=200)] = ""
    beats: Annotated[Fraction, Meta(title="Last beats", description="a number such as 2, 2.5 or 4")]
    groove: str = ""
    kit: str = ""
    player: str = ""
    tempo: Annotated[int, Meta(title="Tempo", ge=1, le=999_999, description="a whole number of bpm")]
    chain: Index = 0
    route: Index = 0
    lesson: Annotated[int, Meta(title="Lesson", ge=1, le=_LARGEST_NUMBER)] | None = None
    replaces: str = ""
    name: Annotated[str, Meta(title="Name", max_length=80)] = ""
    sticking: Annotated[str, Meta(title="Sticking", max_length=1_000)] = ""
    rhythm: Annotated[str, Meta(title="Rhythm", max_length=400)] = ""
    on: Annotated[str, Meta(title="Drums", max_length=4_000)] = ""
    rerouted: str = ""


def show(request: PageRequest) -> Response:
    """Show the fill of the address, or the first fill of its figures."""
    values = {**_DEFAULTS, **_read_choices(request), **dict(request.http.query_params)}
    if "figure" in values:
        values["figures"] = values["figure"]
    error: FillwrightError | None = None
    choice: ChainChoice | None = None
    edited: EditedFill | None = None
    try:
        form = convert_fields(WorkshopForm, values)
        settings = _make_settings(form, _read_tables(request, values))
        if form.sticking and form.rerouted:
            choice = choose_route(settings, _read_fill(form), form.route)
        elif form.sticking:
            edited = check_fill(settings, _read_fill(form))
        else:
            choice = _choose_chain(replace(settings, figures=_list_own_figures(request)), form)
        edited = choice.fill if choice else edited
    except FillwrightError as raised:
        error = raised
    return _render(request, values, choice, edited, error)


def try_out(request: PageRequest) -> Response:
    """Send a fill after a change, to be shown at once: notation, plan, and strokes that can't be reached.

    The page asks for the one drawing that it shows.
    """
    values = {**_DEFAULTS, **_read_choices(request), **request.fields}
    widths = {name: width for name, width in _WIDTHS_MM.items() if request.text("drawing") in ("", name)}
    try:
        form = convert_fields(WorkshopForm, values)
        edited = check_fill(_make_settings(form, _read_tables(request, values)), _read_fill(form))
    except FillwrightError as error:
        return JSONResponse({"wrong": str(error)}, status_code=422)
    return JSONResponse(_describe(edited, widths))


def save(request: PageRequest) -> Response:
    """Save the fill in a lesson, written out at the end of its text."""
    values = {**_DEFAULTS, **_read_choices(request), **request.fields}
    try:
        form = convert_fields(WorkshopForm, values)
        fill = _read_fill(form)
        if form.lesson is None:
            raise FitError("No lesson is chosen; choose one to save the fill in.")
        number = form.lesson
        with request.begin_writing() as transaction:
            planned = plan_lesson(transaction, number)
            replaced = planned.find_fill(form.replaces) if form.replaces else None
            figure = replaced.step.figure.name if replaced else planned.lesson.figures[-1].figure.name
            text = remove_fill(planned.text, replaced) if replaced else planned.text
            text = f"{text.rstrip()}\n\n{format_fill(fill, figure)}"
            text, name = place_fill(transaction, number, text, replaced)
            save_text(transaction, number, text)
    except FillwrightError as error:
        return _render(request, values, None, _try_fill(request, values), error)
    return redirect(f"/lessons/{number}?fill={name}", "saved")


def _read_choices(request: PageRequest) -> dict[str, str]:
    """Return kit and player from the teacher's settings."""
    with request.begin_reading() as transaction:
        settings = read_settings(transaction)
    return {name: str(settings[key]) for name, key in (("kit", "kit"), ("player", "level")) if key in settings}


def _render(
    request: PageRequest,
    values: Mapping[str, str],
    choice: ChainChoice | None,
    edited: EditedFill | None,
    error: FillwrightError | None,
) -> Response:
    with request.begin_reading() as transaction:
        every_series = [(series, list_lessons(transaction, series.id)) for series in list_series(transaction)]
    tables = _read_tables(request, values)
    return render_page(
        request,
        "workshop.html",
        status=200 if request.http.method == "GET" else 422,
        error=error,
        values=values,
        choice=choice,
        data=_describe(edited, _WIDTHS_MM) if edited else None,
        texts=format_fill_values(edited.written) if edited else {},
        every_series=every_series,
        figures=[figure.name for figure in (*_list_own_figures(request), *load_rudiments())],
        grooves=[groove.name for groove in (*tables.grooves, *load_grooves())],
        kits=[kit.name for kit in (*tables.kits, *load_kits().values())],
        players=tuple(load_players()),
    )


def _describe(edited: EditedFill, widths_mm: Mapping[str, int]) -> dict[str, Any]:
    """Return everything on the page that changes with a stroke, drawn at some widths."""
    drawings = {name: engrave(edited.sheet, width_mm=float(width)) for name, width in widths_mm.items()}
    start = edited.route.span.start
    places = [start + at for at in _list_stroke_times(edited)]
    marks = {name: list_cursor_marks(drawing, edited.sheet, float) for name, drawing in drawings.items()}
    return {
        **{name: drawing.svg for name, drawing in drawings.items()},
        "marks": {name: locate_places(drawing, edited.sheet, places) for name, drawing in drawings.items()},
        "play": {
            **build_player_data(edited.phrase, STRAIGHT),
            "tempo": int(edited.route.tempo),
            "way": marks,
        },
        "plan": draw_kit_plan(edited.route.fill.hits, edited.kit).svg,
        "grade": edited.route.grade,
        "ceiling": edited.ceiling,
        "reason": edited.route.reason,
        "tight": [{"stroke": stroke.stroke, "words": stroke.words} for stroke in edited.unreachable],
        "surfaces": [name for name in _SURFACES if edited.kit.has(name) or name == "kick"],
        **format_fill_values(edited.written),
    }


def _list_stroke_times(edited: EditedFill) -> list[Fraction]:
    """Return the time of each stroke of the fill as written, in whole notes from its start."""
    times, at = [], Fraction(0)
    for slot, length in zip(edited.written.slots, edited.written.rhythm.lengths, strict=True):
        if slot:
            times.append(at)
        at += length
    return times


def _read_tables(request: PageRequest, values: Mapping[str, str]) -> OwnTables:
    """Return the teacher's own grooves and kits; those of the lesson, if there is one, come first."""
    with request.begin_reading() as transaction:
        tables = read_own_tables(transaction)
        lesson = values["lesson"]
        if not (lesson.isascii() and lesson.isdigit() and int(lesson) <= _LARGEST_NUMBER):
            return tables
        try:
            return parse_text(get_newest_version(transaction, int(lesson)).text).own_tables.merge(tables)
        except FillwrightError:
            return tables  # there is no such lesson: saving the fill reports it


def _list_own_figures(request: PageRequest) -> tuple[Figure, ...]:
    with request.begin_reading() as transaction:
        return list_own_figures(transaction)


def _make_settings(form: WorkshopForm, tables: OwnTables) -> EditSettings:
    return EditSettings(
        groove=find_groove(form.groove, tables.grooves),
        kit=find_kit(form.kit, tables.kits),
        player=form.player,
        tempo=form.tempo,
    )


def _choose_chain(settings: EditSettings, form: WorkshopForm) -> ChainChoice:
    names = tuple(name.strip() for name in form.figures.split(",") if name.strip())
    if not 0 < len(names) <= _MOST_FIGURES:
        raise FitError(f"Found {len(names)} figures; name 1 to {_MOST_FIGURES}, separated by commas.")
    return choose_chain(settings, names, _check_beats(form.beats), chain=form.chain, route=form.route)


def _read_fill(form: WorkshopForm) -> WrittenFill:
    return read_fill(
        form.name or "A fill of my own",
        beats=_check_beats(form.beats),
        sticking=form.sticking,
        values=form.rhythm,
        on=form.on,
    )


def _try_fill(request: PageRequest, values: Mapping[str, str]) -> EditedFill | None:
    try:
        form = convert_fields(WorkshopForm, values)
        return check_fill(_make_settings(form, _read_tables(request, values)), _read_fill(form))
    except FillwrightError:
        return None


def _check_beats(beats: Fraction) -> Fraction:
    """Return the beats if a fill can take them.

    Raises:
        FitError: for none, too many, or another part of a beat than a half.
    """
    if not 0 < beats <= _MOST_BEATS or (beats * 2).denominator != 1:
        raise FitError(f"Last beats: found {float(beats):g}; write a number such as 2, 2.5 or 4.")
    return beats
