"""A lesson edited in a form, which changes the same text and keeps its comments."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Any

from msgspec import Meta, Struct
from msgspec.structs import asdict
from starlette.responses import Response

from fillwright.craft.brief import TEACHING_ORDER
from fillwright.craft.player.kits import load_kits
from fillwright.craft.player.players import load_players
from fillwright.errors import FillwrightError, NotThereError
from fillwright.lesson.edit import add_own_tables, read_figure_rows, set_figures, set_values
from fillwright.lesson.file import Lesson
from fillwright.music.grooves import load_grooves
from fillwright.music.rudiments import load_rudiments
from fillwright.store.lessons import get_lesson, get_newest_version, get_series, save_text
from fillwright.store.settings import list_own, read_own_tables
from fillwright.studio.pages.figures import complete_row, list_own_figures
from fillwright.studio.web.forms import FormError, convert_form, fill_form, rows
from fillwright.studio.web.render import redirect, render_page
from fillwright.studio.web.request import PageRequest
from fillwright.studio.web.versions import check_lesson_version, choose_version
from fillwright.studio.work.lessons import parse_text

_NEW_ROWS = 3
"""Empty rows for new figures. Ours."""

_LONGEST_TEXT = 4_000
"""Characters of one field; the lesson file has limits of its own. Ours."""

Text = Annotated[str, Meta(max_length=_LONGEST_TEXT)]


class FigureRow(Struct, kw_only=True):
    """One figure of the form; an empty name removes it."""

    name: Annotated[str, Meta(title="Name", max_length=80)] = ""
    rhythm: Annotated[str, Meta(title="Rhythm", max_length=400)] = ""
    groove: Annotated[str, Meta(title="Groove", max_length=80)] = ""
    sticking: Annotated[str, Meta(title="Sticking", max_length=1_000)] = ""


class LessonForm(Struct, kw_only=True):
    """The form of a lesson. Empty texts take their key out of the lesson's text."""

    number: Annotated[int, Meta(title="Number", ge=1, le=9_999)]
    title: Text = ""
    goal: Text = ""
    teacher: Text = ""
    series: Text = ""
    tempo: Text = ""
    groove: Text = ""
    level: Text = ""
    hand: Text = ""
    kit: Text = ""
    page: Text = ""
    audio: Text = ""
    bars: Annotated[int, Meta(title="Bars in a phrase", ge=1, le=16)]
    per_step: Annotated[int, Meta(title="Fills for each step", ge=1, le=6)]
    landing: Text = ""
    notes: Text = ""
    steps: tuple[str, ...] = ()
    click: bool
    figures: Annotated[tuple[FigureRow, ...], Meta(title="Figures", extra=rows("figure"))] = ()


def show(request: PageRequest) -> Response:
    """Show the form, filled in."""
    number = request.number("lesson")
    with request.begin_reading() as transaction:
        text = get_newest_version(transaction, number).text
    return _render(request, _read_values(parse_text(text)), read_figure_rows(text))


def save(request: PageRequest) -> Response:
    """Change the text as the form says, and save it as a new version."""
    number = request.number("lesson")
    try:
        form = convert_form(LessonForm, request)
        with request.begin_writing() as transaction:
            check_lesson_version(request, transaction, number)
            text = get_newest_version(transaction, number).text
            text = set_values(text, _list_changes(form, _read_values(parse_text(text))))
            text = set_figures(text, [complete_row(transaction, asdict(row)) for row in form.figures])
            for kind in ("groove", "kit"):
                tables = {item.name: item.text for item in list_own(transaction, kind)}
                text = add_own_tables(text, kind, tables)
            save_text(transaction, number, text)
    except NotThereError:
        raise
    except FillwrightError as error:
        values = {**fill_form(LessonForm, request.fields), "click": "click" in request.fields}
        values["steps"] = request.lists.get("steps", ())
        return _render(request, values, _list_sent_rows(request), error)
    return redirect(f"/lessons/{number}", "saved")


def _list_changes(form: LessonForm, before: Mapping[str, Any]) -> dict[str, Any]:
    """Return the changed keys with their values as TOML has them; None for an emptied key.

    Raises:
        FormError: if no step is ticked.
    """
    if not form.steps:
        raise FormError.of_field(
            "steps", "Steps", "No step is ticked, so there would be no fill; tick one or more."
        )
    values = {name: value or None for name, value in asdict(form).items() if name != "figures"}
    values |= {
        "landing": _split_commas(form.landing),
        "notes": [line.strip() for line in form.notes.splitlines() if line.strip()],
        "steps": list(form.steps),
        "click": form.click,
    }
    old = {**before, "landing": _split_commas(before["landing"]), "notes": before["notes"].splitlines()}
    return {name: value for name, value in values.items() if value not in (old[name], old[name] or None)}


def _split_commas(text: str) -> list[str]:
    return [part.strip() for part in text.split(",") if part.strip()]


def _list_sent_rows(request: PageRequest) -> list[dict[str, str]]:
    """Return the rows of figures as they were sent."""
    sent: list[dict[str, str]] = []
    while f"figure-{len(sent)}-name" in request.fields:
        start = f"figure-{len(sent)}-"
        sent.append({name: request.text(start + name) for name in FigureRow.__struct_fields__})
    return sent


def _read_values(lesson: Lesson) -> dict[str, Any]:
    """Return the values of a lesson as the form shows them."""
    return {
        "title": lesson.title,
        "goal": lesson.goal,
        "teacher": lesson.teacher,
        "series": lesson.series,
        "tempo": ", ".join(map(str, lesson.tempo)),
        "number": lesson.number,
        "bars": lesson.bars,
        "per_step": lesson.per_step,
        "groove": lesson.groove.name,
        "level": lesson.level,
        "hand": "left" if lesson.hand.value == "L" else "right",
        "kit": lesson.kit.name,
        "page": lesson.page.value,
        "audio": lesson.audio,
        "landing": ", ".join(lesson.landing),
        "notes": "\n".join(lesson.notes),
        "steps": [kind.value for kind in lesson.kinds],
        "click": bool(lesson.click),
    }


def _render(
    request: PageRequest,
    values: Mapping[str, Any],
    figure_rows: list[dict[str, str]],
    error: FillwrightError | None = None,
) -> Response:
    number = request.number("lesson")
    with request.begin_reading() as transaction:
        saved = get_lesson(transaction, number)
        series = get_series(transaction, saved.series)
        newest = get_newest_version(transaction, number)
        text = newest.text
        own_tables = parse_text(text).own_tables.merge(read_own_tables(transaction))
        own_figures = list_own_figures(transaction)
    empty = [dict.fromkeys(FigureRow.__struct_fields__, "") for _ in range(_NEW_ROWS)]
    return render_page(
        request,
        "lesson-form.html",
        error=error,
        saved=saved,
        series=series,
        version=choose_version(request, str(newest.id), error),
        values=values,
        figure_rows=[*figure_rows, *empty],
        names=[figure.name for figure in (*own_figures, *load_rudiments())],
        steps=[kind.value for kind in TEACHING_ORDER],
        choices={
            "groove": [groove.name for groove in (*own_tables.grooves, *load_grooves())],
            "level": list(load_players()),
            "hand": ["right", "left"],
            "kit": [kit.name for kit in (*own_tables.kits, *load_kits().values())],
            "page": ["a4", "letter"],
            "audio": ["mp3", "flac", "ogg", "wav"],
        },
    )
