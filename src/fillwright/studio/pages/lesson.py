"""A lesson: its fills by grade, one of them large, and its text."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any

from starlette.responses import Response

from fillwright.craft.written_fills import write_fill
from fillwright.errors import FillwrightError, MistakeKind, NotThereError, TableError
from fillwright.lesson.edit import (
    add_own_tables,
    pin_fill,
    remove_fill,
    restore_fill,
    set_order,
    set_values,
)
from fillwright.lesson.fills import LessonFill
from fillwright.lesson.written_fills import format_fill_values
from fillwright.music.rudiments import normalize_name
from fillwright.store.lessons import (
    SavedLesson,
    Series,
    add_lesson,
    get_lesson,
    get_newest_version,
    get_series,
    list_lessons,
    list_versions,
    save_text,
    set_lesson_removed,
)
from fillwright.store.settings import KINDS, OwnItem, list_own, read_settings
from fillwright.studio.pages.figures import format_own_figure
from fillwright.studio.pages.settings import LESSON_DEFAULTS
from fillwright.studio.web.render import list_sentences, redirect, render_page
from fillwright.studio.web.request import PageRequest
from fillwright.studio.web.versions import check_lesson_version, choose_version
from fillwright.studio.work.lessons import (
    NARROW_MM,
    WIDE_MM,
    PlannedLesson,
    draw_fill,
    draw_kit_plan,
    parse_text,
    place_fill,
    plan_lesson,
)

_FIRST_TEXT = """number = {number}
title = "Lesson {number}"
goal = "The goal of this lesson in one sentence."
tempo = "60..100 step 10"

[[figure]]
name = "single paradiddle"
"""


@dataclass(frozen=True, slots=True, kw_only=True)
class GradeBar:
    """A fill in the chart of grades: its number in the lesson, and the height of its bar, both from 0."""

    fill: LessonFill
    index: int
    height: int


def show(request: PageRequest) -> Response:
    """Show the lesson, with the fill from the address large."""
    number = request.number("lesson")
    with request.begin_reading() as transaction:
        saved = get_lesson(transaction, number)
        series = get_series(transaction, saved.series)
        planned = plan_lesson(transaction, number)
    name = request.query("fill")
    fill = next((fill for fill in planned.fills if fill.name == name), next(iter(planned.fills), None))
    values = _describe_fills(planned, fill)
    return render_page(request, "lesson.html", saved=saved, series=series, planned=planned, **values)


def _describe_fills(planned: PlannedLesson, fill: LessonFill | None) -> dict[str, Any]:
    bars = [
        GradeBar(fill=item, index=index, height=item.step.route.grade - 1)
        for index, item in enumerate(planned.fills)
    ]
    if fill is None:
        return {"fill": None, "bars": bars}
    index = planned.fills.index(fill)
    return {
        "fill": fill,
        "bars": bars,
        "previous": planned.fills[index - 1] if index else None,
        "next": planned.fills[index + 1] if index + 1 < len(planned.fills) else None,
        "wide": draw_fill(planned, fill.name, WIDE_MM),
        "narrow": draw_fill(planned, fill.name, NARROW_MM),
        "plan": draw_kit_plan(planned, fill.name),
        "workshop_query": _describe_for_workshop(planned, fill),
    }


def _describe_for_workshop(planned: PlannedLesson, fill: LessonFill) -> dict[str, str]:
    """Return the query with which the workshop shows the fill on another route."""
    beats = fill.phrase.meter.count_beats(fill.step.route.span.length)
    written = write_fill(fill.step.route, name=fill.step.route.words, beats=beats)
    return {
        **format_fill_values(written),
        "replaces": fill.name,
        "groove": fill.groove,
        "kit": planned.lesson.kit.name,
        "player": planned.lesson.level,
        "tempo": str(fill.ladder[0]),
    }


def show_new(request: PageRequest) -> Response:
    """Show a text to start a lesson with."""
    number = request.number("series")
    with request.begin_reading() as transaction:
        series = get_series(transaction, number)
    return _render_text(request, _write_first_text(request), series)


def _write_first_text(request: PageRequest) -> str:
    """Return a text with the next number, and with the settings that differ from the defaults."""
    with request.begin_reading() as transaction:
        lessons = list_lessons(transaction, request.number("series"), include_removed=True)
        settings = read_settings(transaction)
        own_kits = {item.name: item.text for item in list_own(transaction, "kit")}
    text = _FIRST_TEXT.format(number=max((lesson.number for lesson in lessons), default=0) + 1)
    changed = {
        name: settings[name]
        for name, default in LESSON_DEFAULTS.items()
        if settings.get(name, default) != default
    }
    return add_own_tables(set_values(text, changed), "kit", own_kits)


def handle_new(request: PageRequest) -> Response:
    """Add a lesson."""
    number = request.number("series")
    try:
        with request.begin_writing() as transaction:
            lesson = add_lesson(transaction, number, request.text("text"))
    except NotThereError:
        raise
    except FillwrightError as error:
        with request.begin_reading() as transaction:
            series = get_series(transaction, number)
        return _render_text(request, request.text("text"), series, error=error)
    return redirect(f"/lessons/{lesson}", "added")


def show_text(request: PageRequest) -> Response:
    """Show the text of a lesson and its earlier versions."""
    number = request.number("lesson")
    with request.begin_reading() as transaction:
        saved = get_lesson(transaction, number)
        series = get_series(transaction, saved.series)
        versions = list_versions(transaction, number)
    chosen = request.query("version")
    text = next((version.text for version in versions if str(version.id) == chosen), versions[0].text)
    return _render_text(request, text, series, saved=saved, versions=versions)


def handle_text(request: PageRequest) -> Response:
    """Save a version of the text."""
    number = request.number("lesson")
    try:
        with request.begin_writing() as transaction:
            check_lesson_version(request, transaction, number)
            save_text(transaction, number, request.text("text"))
    except NotThereError:
        raise
    except FillwrightError as error:
        with request.begin_reading() as transaction:
            saved = get_lesson(transaction, number)
            series = get_series(transaction, saved.series)
            versions = list_versions(transaction, number)
        text = request.text("text")
        return _render_text(request, text, series, saved=saved, versions=versions, error=error)
    return redirect(f"/lessons/{number}", "saved")


def remove(request: PageRequest) -> Response:
    """Remove a lesson from its series."""
    return _set_removed(request, removed=True)


def restore(request: PageRequest) -> Response:
    """Restore a lesson that was removed from its series."""
    return _set_removed(request, removed=False)


def _set_removed(request: PageRequest, *, removed: bool) -> Response:
    number = request.number("lesson")
    with request.begin_writing() as transaction:
        saved = get_lesson(transaction, number)
        set_lesson_removed(transaction, number, removed=removed)
    return redirect(f"/series/{saved.series}", "removed" if removed else "restored")


def change_fill(request: PageRequest) -> Response:
    """Remove a fill, pin it, or move it up or down within its figure."""
    number, action = request.number("lesson"), request.segment("action")
    if action not in _ACTIONS:
        raise NotThereError("There is no such page.")
    with request.begin_writing() as transaction:
        planned = plan_lesson(transaction, number)
        fill = planned.find_fill(request.segment("fill"))
        text, next_name = _ACTIONS[action](planned, fill)
        if action == "pin":
            text, next_name = place_fill(transaction, number, text, fill)
        save_text(transaction, number, text)
    done = {"remove": "removed", "pin": "pinned"}.get(action, "")
    return redirect(f"/lessons/{number}?fill={next_name}" if next_name else f"/lessons/{number}", done)


def restore_removed(request: PageRequest) -> Response:
    """Restore a fill that was removed."""
    number, name = request.number("lesson"), request.segment("removed")
    with request.begin_writing() as transaction:
        text = get_newest_version(transaction, number).text
        if name not in parse_text(text).leave_out:
            raise NotThereError(f"No fill called {name} was removed from this lesson.")
        save_text(transaction, number, restore_fill(text, name))
    return redirect(f"/lessons/{number}?fill={name}", "restored")


def _remove(planned: PlannedLesson, fill: LessonFill) -> tuple[str, str]:
    """Return the text without the fill, and the name of the fill to show next."""
    names = [item.name for item in planned.fills]
    index = names.index(fill.name)
    remaining = names[:index] + names[index + 1 :]
    next_name = remaining[min(index, len(remaining) - 1)] if remaining else ""
    return remove_fill(planned.text, fill), next_name


def _pin(planned: PlannedLesson, fill: LessonFill) -> tuple[str, str]:
    """Return the text with the fill written out at its end."""
    beats = fill.phrase.meter.count_beats(fill.step.route.span.length)
    return pin_fill(remove_fill(planned.text, fill), fill, name=fill.step.route.words, beats=beats), ""


def _move_up(planned: PlannedLesson, fill: LessonFill) -> tuple[str, str]:
    return _move(planned, fill, -1)


def _move_down(planned: PlannedLesson, fill: LessonFill) -> tuple[str, str]:
    return _move(planned, fill, 1)


def _move(planned: PlannedLesson, fill: LessonFill, offset: int) -> tuple[str, str]:
    """Return the text with the fill moved within its figure, and the fill's name."""
    names = [item.name for item in planned.fills if item.part == fill.part]
    index = names.index(fill.name)
    target = min(max(index + offset, 0), len(names) - 1)
    names.insert(target, names.pop(index))
    other_parts = [name for name in parse_text(planned.text).order if name not in names]
    return set_order(planned.text, [*other_parts, *names]), fill.name


_ACTIONS: dict[str, Callable[[PlannedLesson, LessonFill], tuple[str, str]]] = {
    "remove": _remove,
    "pin": _pin,
    "up": _move_up,
    "down": _move_down,
}
"""Changes of a fill, by the word in the address."""


def _suggest_own(request: PageRequest, error: TableError) -> Iterator[str]:
    """Yield what to write for an unknown name that is one of the teacher's own figures, grooves or kits."""
    unknown = {
        (mistake.category, normalize_name(mistake.name))
        for mistake in error.mistakes
        if mistake.kind is MistakeKind.UNKNOWN_NAME
    }
    with request.begin_reading() as transaction:
        items = [item for kind in KINDS for item in list_own(transaction, kind)]
    for item in items:
        if (item.kind, normalize_name(item.name)) in unknown:
            start = f'"{item.name}" is your own {item.kind}. Choose it in the form, or write it out:'
            yield f"{start}\n{_format_own(item)}"


def _format_own(item: OwnItem) -> str:
    return format_own_figure(item) if item.kind == "figure" else item.text.strip()


def _render_text(
    request: PageRequest,
    text: str,
    series: Series,
    *,
    saved: SavedLesson | None = None,
    versions: tuple[Any, ...] = (),
    error: FillwrightError | None = None,
) -> Response:
    """Render the text with every mistake and its line."""
    sentences: list[str] = []
    if isinstance(error, TableError):
        sentences = [mistake.describe() for mistake in error.mistakes]
        sentences = [f"{sentence[:1].upper()}{sentence[1:]}" for sentence in sentences]
        sentences += _suggest_own(request, error)
    elif error:
        sentences = list_sentences(error)
    return render_page(
        request,
        "lesson-text.html",
        error=error,
        series=series,
        saved=saved,
        text=text,
        sentences=sentences,
        versions=versions,
        version=choose_version(request, str(versions[0].id), error) if versions else "",
    )
