"""A series as one book: contents, all lessons, an index by figure, the kit key."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from concurrent.futures import ProcessPoolExecutor
from importlib.resources import files
from multiprocessing import get_context

from fillwright.errors import FitError
from fillwright.lesson.file import Lesson
from fillwright.lesson.fills import LessonFill, contents
from fillwright.lesson.series import in_series
from fillwright.pack.handout import draw_keys, describe_last_part, describe_lesson, collect_drawings, get_music_mm, get_typst_paper, load_shared_template
from fillwright.score.engraving.engrave import Engraving, engrave
from fillwright.score.engraving.paper import typeset
from fillwright.score.sheet import Sheet

MOST_LESSONS = 200

Progress = Callable[[str, int, int], None]
"""Told the lesson just engraved, how many are done, and how many there are."""


def _quiet(_what: str, _done: int, _total: int) -> None:
    pass


def typeset_book(
    lessons: Sequence[Lesson], *, title: str = "", progress: Progress = _quiet, processes: int = 1
) -> bytes:
    """The book as PDF.

    A lesson that names nothing earlier mixes in what the lessons before it teach.

    Args:
        lessons: in order, at least one.
        title: of the book; the series of the first lesson by default.
        progress: told of every lesson.
        processes: how many engrave at the same time.

    Raises:
        FitError: for no lessons or too many.
    """
    if not 0 < len(lessons) <= MOST_LESSONS:
        raise FitError(f"A book of {len(lessons)} lessons can't be made; it has 1 to {MOST_LESSONS}.")
    first = lessons[0]
    page = first.page
    whole = [in_series(lesson, lessons[:place]) for place, lesson in enumerate(lessons)]
    chapters = [(lesson, contents(lesson).fills) for lesson in whole]
    fills = [fill for _, made in chapters for fill in made]
    keys = draw_keys(fills, page=page)
    drawings: dict[str, str] = {}
    for place, music in enumerate(_engraved(chapters, progress, processes)):
        drawings |= collect_drawings(*chapters[place], music, _prefix(place))
    data = {
        "title": title or first.series or first.title,
        "teacher": first.teacher,
        "summary": f"{_counted(len(lessons), 'lesson')}, {_counted(len(fills), 'fill')}",
        "page": get_typst_paper(page),
        "lessons": [describe_lesson(*chapter, _prefix(place)) for place, chapter in enumerate(chapters)],
        **describe_last_part(keys, first.level),
    }
    template = files(__package__).joinpath("book.typ").read_text("utf-8")
    return typeset(template, data, drawings | keys | load_shared_template())


Chapter = tuple[Lesson, tuple[LessonFill, ...]]


def _engraved(chapters: Sequence[Chapter], progress: Progress, processes: int) -> list[dict[int, Engraving]]:
    """The music of every lesson, on the measure of the book's page."""
    asked = [
        [(fill.number, fill.sheet, get_music_mm(lesson, fill)) for fill in fills] for lesson, fills in chapters
    ]
    if processes == 1 or len(chapters) == 1:
        return _told(map(_music, asked), chapters, progress)
    with ProcessPoolExecutor(max_workers=processes, mp_context=get_context("spawn")) as pool:
        return _told(pool.map(_music, asked), chapters, progress)


def _told(
    found: Iterable[dict[int, Engraving]], chapters: Sequence[Chapter], progress: Progress
) -> list[dict[int, Engraving]]:
    made = []
    for done, music in enumerate(found, start=1):
        progress(chapters[done - 1][0].title, done, len(chapters))
        made.append(music)
    return made


def _music(asked: Sequence[tuple[int, Sheet, float]]) -> dict[int, Engraving]:
    return {number: engrave(sheet, width_mm=width) for number, sheet, width in asked}


def _prefix(place: int) -> str:
    return f"lesson-{place}-"


def _counted(number: int, noun: str) -> str:
    return f"{number:,} {noun}" if number == 1 else f"{number:,} {noun}s"
