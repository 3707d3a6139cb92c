"""A series of lessons: figures taught before each lesson, figures that it may mix in, and gaps.

Pure functions of lessons in the order in which they are taught.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from fillwright.lesson.file import Lesson
from fillwright.music.figure import Figure
from fillwright.music.rudiments import load_rudiments

NOT_MET_FOR = 5  # lessons in a row without a figure, after which it is due again; ours


@dataclass(frozen=True, slots=True, kw_only=True)
class Taught:
    """Everything that the lessons so far teach.

    Attributes:
        figures: in the order in which they were taught, each once.
        grooves: names, in order of first use.
        meters: names, in order of first use.
        slowest: lowest tempo of all ladders, in bpm; None before the first lesson.
        fastest: highest tempo of them.
    """

    figures: tuple[Figure, ...]
    grooves: tuple[str, ...]
    meters: tuple[str, ...]
    slowest: int | None = None
    fastest: int | None = None

    def has(self, figure: Figure) -> bool:
        """Return True if a figure of that name was taught."""
        return figure.name in {taught.name for taught in self.figures}


@dataclass(frozen=True, slots=True, kw_only=True)
class Gaps:
    """Gaps of a series so far.

    Attributes:
        groups: of rudiments of which none was taught.
        rudiments: never taught, in the order of the sheet.
        not_met: figures that the last lessons don't have, each with the number of the last lesson that has it.
    """

    groups: tuple[str, ...]
    rudiments: tuple[str, ...]
    not_met: tuple[tuple[str, int], ...]


def collect_taught(lessons: Sequence[Lesson]) -> Taught:
    """Collect everything that some lessons teach.

    Args:
        lessons: in order.
    """
    lesson_figures = [figure for lesson in lessons for figure in lesson.figures]
    figures: dict[str, Figure] = {}
    for lesson_figure in lesson_figures:
        figures.setdefault(lesson_figure.figure.name, lesson_figure.figure)
    tempos = [tempo for lesson in lessons for tempo in lesson.tempo]
    return Taught(
        figures=tuple(figures.values()),
        grooves=tuple(dict.fromkeys(figure.groove.name for figure in lesson_figures)),
        meters=tuple(dict.fromkeys(figure.groove.meter.name for figure in lesson_figures)),
        slowest=min(tempos, default=None),
        fastest=max(tempos, default=None),
    )


def place_in_series(lesson: Lesson, before: Sequence[Lesson]) -> Lesson:
    """Return a lesson with the figures taught before it as its earlier figures, unless it names some itself.

    Args:
        lesson: of the series.
        before: the lessons before it, in order.
    """
    return lesson if lesson.earlier else replace(lesson, earlier=collect_taught(before).figures)


def find_untaught(lesson: Lesson, before: Sequence[Lesson]) -> tuple[str, ...]:
    """Find figures that a lesson names as taught earlier although no lesson before it teaches them."""
    so_far = collect_taught(before)
    return tuple(figure.name for figure in lesson.earlier if not so_far.has(figure))


def find_gaps(lessons: Sequence[Lesson], *, within: int = NOT_MET_FOR) -> Gaps:
    """Find the gaps of a series.

    Args:
        lessons: in order.
        within: number of last lessons in one of which a figure must occur.
    """
    names = {figure.name for figure in collect_taught(lessons).figures}
    known = load_rudiments()
    groups = dict.fromkeys(figure.group for figure in known)
    met = {figure.group for figure in known if figure.name in names}
    return Gaps(
        groups=tuple(group for group in groups if group not in met),
        rudiments=tuple(figure.name for figure in known if figure.name not in names),
        not_met=tuple(_find_not_met(lessons, within)),
    )


def _find_not_met(lessons: Sequence[Lesson], within: int) -> Iterator[tuple[str, int]]:
    last: dict[str, int] = {}
    for index, lesson in enumerate(lessons):
        # what is mixed in is met again
        for figure in (*lesson.earlier, *(taught.figure for taught in lesson.figures)):
            last[figure.name] = index
    for name, index in last.items():
        if len(lessons) - 1 - index >= within:
            yield name, lessons[index].number
