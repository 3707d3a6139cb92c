"""A series as one book: contents, all lessons, an index by figure, the notation key."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from concurrent.futures import ProcessPoolExecutor
from importlib.resources import files
from multiprocessing import get_context

from fillwright.errors import FitError
from fillwright.lesson.file import Lesson
from fillwright.lesson.fills import LessonFill, build_fills
from fillwright.lesson.series import place_in_series
from fillwright.pack.handout import (
    collect_drawings,
    describe_last_part,
    describe_lesson,
    draw_keys,
    get_music_mm,
    get_typst_paper,
    load_shared_template,
)
from fillwright.score.engraving.engrave import Engraving, engrave
from fillwright.score.engraving.paper import typeset
from fillwright.score.sheet import Sheet

MOST_LESSONS = 200  # of one book; ours, a bound on memory

Progress = Callable[[str, int, int], None]
"""Called with the lesson just engraved, how many are done, and how many there are."""


def _ignore_progress(_title: str, _done: int, _total: int) -> None:
    pass


def typeset_book(
    lessons: Sequence[Lesson], *, title: str = "", progress: Progress = _ignore_progress, processes: int = 1
) -> bytes:
    """Return the book as PDF.

    A lesson that names nothing earlier mixes in what the lessons before it teach.

    Args:
        lessons: in order, at least one.
        title: of the book; the series of the first lesson by default.
        progress: called after every lesson.
        processes: how many engrave at the same time.

    Raises:
        FitError: for no lessons or too many.
    """
    if not 0 < len(lessons) <= MOST_LESSONS:
        raise FitError(f"A book can't have {len(lessons)} lessons; give it 1 to {MOST_LESSONS}.")
    first = lessons[0]
    page = first.page
    in_order = [place_in_series(lesson, lessons[:index]) for index, lesson in enumerate(lessons)]
    chapters = [(lesson, build_fills(lesson).fills) for lesson in in_order]
    fills = [fill for _, chapter_fills in chapters for fill in chapter_fills]
    keys = draw_keys(fills, page=page)
    drawings: dict[str, str] = {}
    for index, music in enumerate(_engrave_chapters(chapters, progress, processes)):
        drawings |= collect_drawings(*chapters[index], music, _name_prefix(index))
    data = {
        "title": title or first.series or first.title,
        "teacher": first.teacher,
        "summary": f"{_count(len(lessons), 'lesson')}, {_count(len(fills), 'fill')}",
        "page": get_typst_paper(page),
        "lessons": [describe_lesson(*chapter, _name_prefix(index)) for index, chapter in enumerate(chapters)],
        **describe_last_part(keys, first.level),
    }
    template = files(__package__).joinpath("book.typ").read_text("utf-8")
    return typeset(template, data, drawings | keys | load_shared_template())


Chapter = tuple[Lesson, tuple[LessonFill, ...]]


def _engrave_chapters(
    chapters: Sequence[Chapter], progress: Progress, processes: int
) -> list[dict[int, Engraving]]:
    """Engrave the music of every lesson, as wide as its own page allows."""
    asked = [
        [(fill.number, fill.sheet, get_music_mm(lesson, fill)) for fill in fills] for lesson, fills in chapters
    ]
    if processes == 1 or len(chapters) == 1:
        return _collect(map(_engrave_lesson, asked), chapters, progress)
    with ProcessPoolExecutor(max_workers=processes, mp_context=get_context("spawn")) as pool:
        return _collect(pool.map(_engrave_lesson, asked), chapters, progress)


def _collect(
    lessons: Iterable[dict[int, Engraving]], chapters: Sequence[Chapter], progress: Progress
) -> list[dict[int, Engraving]]:
    collected = []
    for done, music in enumerate(lessons, start=1):
        progress(chapters[done - 1][0].title, done, len(chapters))
        collected.append(music)
    return collected


def _engrave_lesson(asked: Sequence[tuple[int, Sheet, float]]) -> dict[int, Engraving]:
    return {number: engrave(sheet, width_mm=width) for number, sheet, width in asked}


def _name_prefix(index: int) -> str:
    return f"lesson-{index}-"


def _count(number: int, noun: str) -> str:
    return f"{number:,} {noun}" if number == 1 else f"{number:,} {noun}s"
