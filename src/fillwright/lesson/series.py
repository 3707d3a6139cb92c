"""A series of lessons: what has been taught up to each, what a lesson may mix in, what is missing.

Pure functions of lessons in the order in which they are taught.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from fillwright.lesson.file import Lesson
from fillwright.music.figure import Figure
from fillwright.music.rudiments import load_rudiments

NOT_MET_FOR = 5
"""A figure that so many lessons in a row have not met is due again (ours)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Taught:
    """What a student has met so far.

    Attributes:
        figures: in the order in which they were taught, each once.
        grooves: names, in order of first use.
        meters: names, in order of first use.
        slowest: the lowest tempo of all ladders; None before the first lesson.
        fastest: the highest.
    """

    figures: tuple[Figure, ...]
    grooves: tuple[str, ...]
    meters: tuple[str, ...]
    slowest: int | None = None
    fastest: int | None = None

    def has(self, figure: Figure) -> bool:
        """Whether a figure of that name was taught."""
        return figure.name in {one.name for one in self.figures}


@dataclass(frozen=True, slots=True, kw_only=True)
class Gaps:
    """What a series has left out so far.

    Attributes:
        groups: of rudiments of which none was taught.
        rudiments: never taught, in the order of the sheet.
        not_met: figures that the last lessons have not met, with the number of the lesson that did last.
    """

    groups: tuple[str, ...]
    rudiments: tuple[str, ...]
    not_met: tuple[tuple[str, int], ...]


def collect_taught(lessons: Sequence[Lesson]) -> Taught:
    """What these lessons teach.

    Args:
        lessons: in order; a later lesson is taught all that stands before it.
    """
    asked = [each for lesson in lessons for each in lesson.figures]
    figures: dict[str, Figure] = {}
    for each in asked:
        figures.setdefault(each.figure.name, each.figure)
    tempos = [rung for lesson in lessons for rung in lesson.tempo]
    return Taught(
        figures=tuple(figures.values()),
        grooves=tuple(dict.fromkeys(each.groove.name for each in asked)),
        meters=tuple(dict.fromkeys(each.groove.meter.name for each in asked)),
        slowest=min(tempos, default=None),
        fastest=max(tempos, default=None),
    )


def place_in_series(lesson: Lesson, before: Sequence[Lesson]) -> Lesson:
    """A lesson as it stands in its series: where it names nothing earlier itself, what was taught so far.

    Args:
        lesson: of the series.
        before: the lessons before it, in order.
    """
    return lesson if lesson.earlier else replace(lesson, earlier=collect_taught(before).figures)


def find_untaught(lesson: Lesson, before: Sequence[Lesson]) -> tuple[str, ...]:
    """Figures that a lesson names as taught earlier although no lesson before it teaches them."""
    so_far = collect_taught(before)
    return tuple(figure.name for figure in lesson.earlier if not so_far.has(figure))


def find_gaps(lessons: Sequence[Lesson], *, within: int = NOT_MET_FOR) -> Gaps:
    """What is missing in a series.

    Args:
        lessons: in order.
        within: how many of the last lessons a figure must have been met in.
    """
    names = {figure.name for figure in collect_taught(lessons).figures}
    known = load_rudiments()
    groups = dict.fromkeys(figure.group for figure in known)
    met = {figure.group for figure in known if figure.name in names}
    return Gaps(
        groups=tuple(group for group in groups if group not in met),
        rudiments=tuple(figure.name for figure in known if figure.name not in names),
        not_met=tuple(_not_met(lessons, within)),
    )


def _not_met(lessons: Sequence[Lesson], within: int) -> Iterator[tuple[str, int]]:
    last: dict[str, int] = {}
    for place, lesson in enumerate(lessons):
        # what is mixed in is met again
        for figure in (*lesson.earlier, *(each.figure for each in lesson.figures)):
            last[figure.name] = place
    for name, place in last.items():
        if len(lessons) - 1 - place >= within:
            yield name, lessons[place].number
