"""Series: their lessons in order, what they cover and what they leave out."""

from __future__ import annotations

from dataclasses import replace
from itertools import groupby

from starlette.responses import Response

from fillwright.errors import FillwrightError, NotThereError
from fillwright.lesson.series import gaps, taught
from fillwright.music.rudiments import rudiments
from fillwright.pack.book import book
from fillwright.store.lessons import add_series, all_series, lessons_of, newest, one_series
from fillwright.store.settings import settings
from fillwright.studio.web.render import back_to, page
from fillwright.studio.web.request import Ask
from fillwright.studio.work.lessons import parsed_all


def index(ask: Ask) -> Response:
    """All series with their lessons; a student is led to their own page."""
    if ask.visitor.student is not None:
        return back_to(f"/students/{ask.visitor.student}")
    return _index(ask)


def add(ask: Ask) -> Response:
    """Begin a series."""
    try:
        title = ask.text("title").strip()
        if not 0 < len(title) <= 80:
            raise FillwrightError("A series needs a title of 1 to 80 characters.")
        with ask.writing() as desk:
            number = add_series(desk, title)
    except FillwrightError as error:
        return _index(ask, wrong=str(error), status=422)
    return back_to(f"/series/{number}", "saved")


def show(ask: Ask) -> Response:
    """One series: lessons, coverage of the rudiments, gaps."""
    number = ask.number("series")
    with ask.reading() as desk:
        series = one_series(desk, number)
        lessons = lessons_of(desk, number)
        read = parsed_all([newest(desk, lesson.id).text for lesson in lessons])
    where: dict[str, list[int]] = {}
    for lesson in read:
        for each in lesson.figures:
            where.setdefault(each.figure.name, []).append(lesson.number)
    groups = [
        (group, [(figure.name, where.get(figure.name, [])) for figure in figures])
        for group, figures in groupby(rudiments(), key=lambda figure: figure.group)
    ]
    return page(
        ask,
        "series.html",
        series=series,
        lessons=lessons,
        taught=taught(read),
        gaps=gaps(read),
        groups=groups,
        covered=sum(figure.name in where for figure in rudiments()),
        total=len(rudiments()),
    )


def book_pdf(ask: Ask) -> Response:
    """The whole series as one book, on the teacher's paper."""
    number = ask.number("series")
    with ask.reading() as desk:
        series = one_series(desk, number)
        texts = [newest(desk, lesson.id).text for lesson in lessons_of(desk, number)]
        size = settings(desk).get("page")
    if not texts:
        raise NotThereError("This series has no lesson yet.")
    lessons = [replace(lesson, page=size or lesson.page) for lesson in parsed_all(texts)]
    content = book(lessons, title=series.title, processes=2)
    headers = {"content-disposition": f'inline; filename="series-{number}.pdf"'}
    return Response(content, media_type="application/pdf", headers=headers)


def _index(ask: Ask, *, wrong: str = "", status: int = 200) -> Response:
    with ask.reading() as desk:
        found = [(series, lessons_of(desk, series.id)) for series in all_series(desk)]
    return page(ask, "start.html", status=status, found=found, wrong=wrong)
