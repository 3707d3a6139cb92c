"""Series: their lessons in order, the rudiments that they cover, and what is missing."""

from __future__ import annotations

from dataclasses import replace
from itertools import groupby
from typing import Annotated

from msgspec import Meta, Struct
from starlette.responses import Response

from fillwright.errors import FillwrightError, NotThereError
from fillwright.lesson.series import collect_taught, find_gaps
from fillwright.music.rudiments import load_rudiments
from fillwright.pack.book import typeset_book
from fillwright.store.accounts import write_audit
from fillwright.store.lessons import (
    LONGEST_TITLE,
    add_series,
    delete_series,
    get_newest_version,
    get_series,
    list_lessons,
    list_series,
    rename_series,
)
from fillwright.store.settings import read_settings
from fillwright.studio.web.forms import FormError, convert_form
from fillwright.studio.web.render import redirect, render_page
from fillwright.studio.web.request import PageRequest
from fillwright.studio.work.lessons import parse_texts
from fillwright.tables.page_format import PageFormat

_PROCESSES = 2
"""Processes that engrave a book. Ours."""


class SeriesForm(Struct, kw_only=True):
    """The form of a series: its title."""

    title: Annotated[str, Meta(title="Title", min_length=1, max_length=LONGEST_TITLE)]


def show_start(request: PageRequest) -> Response:
    """Show all series with their lessons; lead a student to their own page."""
    if request.visitor.student is not None:
        return redirect(f"/students/{request.visitor.student}")
    return _render_start(request)


def add(request: PageRequest) -> Response:
    """Add a series."""
    try:
        form = convert_form(SeriesForm, request)
        with request.begin_writing() as transaction:
            number = add_series(transaction, form.title)
    except FillwrightError as error:
        return _render_start(request, error)
    return redirect(f"/series/{number}", "added")


def show(request: PageRequest) -> Response:
    """Show one series: lessons, covered rudiments, gaps."""
    number = request.number("series")
    with request.begin_reading() as transaction:
        series = get_series(transaction, number)
        every = list_lessons(transaction, number, include_removed=True)
        lessons = [lesson for lesson in every if not lesson.is_removed]
        parsed = parse_texts([get_newest_version(transaction, lesson.id).text for lesson in lessons])
    lessons_by_figure: dict[str, list[int]] = {}
    for lesson in parsed:
        for entry in lesson.figures:
            lessons_by_figure.setdefault(entry.figure.name, []).append(lesson.number)
    rudiments = load_rudiments()
    groups = [
        (group, [(figure.name, lessons_by_figure.get(figure.name, [])) for figure in figures])
        for group, figures in groupby(rudiments, key=lambda figure: figure.group)
    ]
    return render_page(
        request,
        "series.html",
        series=series,
        lessons=lessons,
        removed=[lesson for lesson in every if lesson.is_removed],
        taught=collect_taught(parsed),
        gaps=find_gaps(parsed),
        groups=groups,
        covered=sum(figure.name in lessons_by_figure for figure in rudiments),
        total=len(rudiments),
    )


def show_edit(request: PageRequest) -> Response:
    """Show the page that renames or deletes a series."""
    return _render_edit(request)


def rename(request: PageRequest) -> Response:
    """Rename a series."""
    number = request.number("series")
    try:
        form = convert_form(SeriesForm, request)
        with request.begin_writing() as transaction:
            rename_series(transaction, number, form.title)
    except NotThereError:
        raise
    except FillwrightError as error:
        return _render_edit(request, error)
    return redirect(f"/series/{number}", "saved")


def delete(request: PageRequest) -> Response:
    """Delete a series with its lessons. Its title must be typed, so that no slip deletes it."""
    number = request.number("series")
    with request.begin_writing() as transaction:
        series = get_series(transaction, number)
        is_confirmed = request.text("confirmation").strip() == series.title
        if is_confirmed:
            delete_series(transaction, number)
            detail = f"series {number}"
            name = request.visitor.audit_name
            write_audit(
                transaction.connection, who=name, action="series deleted", now=transaction.now, detail=detail
            )
    if is_confirmed:
        return redirect("/", "deleted")
    message = f'Write the title exactly as here: "{series.title}".'
    return _render_edit(request, FormError.of_field("confirmation", "Title, to confirm", message))


def send_book(request: PageRequest) -> Response:
    """Send the whole series as one book, on the teacher's page size."""
    number = request.number("series")
    with request.begin_reading() as transaction:
        series = get_series(transaction, number)
        texts = [
            get_newest_version(transaction, lesson.id).text for lesson in list_lessons(transaction, number)
        ]
        page_size = read_settings(transaction).get("page")
    if not texts:
        raise NotThereError("This series has no lesson yet.")
    lessons = parse_texts(texts)
    if page_size:
        lessons = [replace(lesson, page=PageFormat(page_size)) for lesson in lessons]
    content = typeset_book(lessons, title=series.title, processes=_PROCESSES)
    headers = {"content-disposition": f'inline; filename="series-{number}.pdf"'}
    return Response(content, media_type="application/pdf", headers=headers)


def _render_start(request: PageRequest, error: FillwrightError | None = None) -> Response:
    with request.begin_reading() as transaction:
        every = [(series, list_lessons(transaction, series.id)) for series in list_series(transaction)]
    return render_page(request, "start.html", error=error, every_series=every, title=request.text("title"))


def _render_edit(request: PageRequest, error: FillwrightError | None = None) -> Response:
    number = request.number("series")
    with request.begin_reading() as transaction:
        series = get_series(transaction, number)
        count = len(list_lessons(transaction, number, include_removed=True))
    return render_page(
        request,
        "series-edit.html",
        error=error,
        series=series,
        title=request.text("title") or series.title,
        lesson_count=count,
    )
