"""Lessons parsed, planned and engraved once, and cached for the next page that needs them.

Everything here depends only on the lesson's text and on the lessons before it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from fillwright.errors import NotThereError
from fillwright.lesson.edit import set_order
from fillwright.lesson.file import Lesson, parse_lesson
from fillwright.lesson.fills import LessonFill, build_fills
from fillwright.lesson.series import find_untaught, place_in_series
from fillwright.pack.handout import draw_plan
from fillwright.score.engraving.engrave import Engraving, engrave
from fillwright.store.lessons import get_lesson, get_newest_version, list_lessons
from fillwright.store.transaction import Transaction
from fillwright.studio.work.shared_results import share_results

WIDE_MM, NARROW_MM = 170, 84
"""Widths of notation in mm: on a screen, and on a phone. Ours."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PlannedLesson:
    """A lesson with all its fills.

    Attributes:
        text: as saved.
        lesson: as it is in its series.
        fills: in order.
        skipped: a sentence for each step that can't be played or written.
        untaught: figures that it mixes in although no earlier lesson teaches them.
        before: texts of the lessons before it in its series.
    """

    text: str
    lesson: Lesson
    fills: tuple[LessonFill, ...]
    skipped: tuple[str, ...]
    untaught: tuple[str, ...]
    before: tuple[str, ...] = ()

    def find_fill(self, name: str) -> LessonFill:
        """Return the fill of that fill name.

        Raises:
            NotThereError: if the lesson has none of that name.
        """
        fill = next((fill for fill in self.fills if fill.name == name), None)
        if fill is None:
            raise NotThereError(f"This lesson has no fill called {name}. It may have been removed or renamed.")
        return fill


def plan_lesson(transaction: Transaction, number: int) -> PlannedLesson:
    """Plan the newest text of a lesson in its series.

    Raises:
        NotThereError: if the teacher has no such lesson.
    """
    return plan_text(get_newest_version(transaction, number).text, _list_earlier_texts(transaction, number))


def _list_earlier_texts(transaction: Transaction, number: int) -> tuple[str, ...]:
    """Return the newest texts of the lessons before one in its series."""
    saved = get_lesson(transaction, number)
    return tuple(
        get_newest_version(transaction, lesson.id).text
        for lesson in list_lessons(transaction, saved.series)
        if lesson.number < saved.number
    )


def place_fill(
    transaction: Transaction, number: int, text: str, replaced: LessonFill | None
) -> tuple[str, str]:
    """Move a fill that was added to a lesson's text to the place of another fill.

    Args:
        transaction: that reads the lesson as it was.
        number: of the lesson.
        text: of the lesson, with the new fill in it.
        replaced: fill whose place it takes; None to leave the order alone.

    Returns:
        The text, and the new fill's name; "" if the lesson makes no new fill.
    """
    before = plan_lesson(transaction, number).fills
    after = plan_text(text, _list_earlier_texts(transaction, number)).fills
    names = [fill.name for fill in before]
    new = next((fill.name for fill in after if fill.name not in names or _is_rewritten(fill, before)), "")
    if not (replaced and new):
        return text, new
    part_names = [fill.name for fill in before if fill.part == replaced.part]
    order = [new if name == replaced.name else name for name in part_names]
    other_parts = [name for name in parse_text(text).order if name not in order]
    return set_order(text, [*other_parts, *order]), new


def _is_rewritten(fill: LessonFill, before: Sequence[LessonFill]) -> bool:
    """Return True if a teacher's own fill took over the name of a planned one."""
    return fill.own is not None and any(old.name == fill.name and old.own is None for old in before)


@share_results(maxsize=64)
def plan_text(text: str, before: tuple[str, ...] = ()) -> PlannedLesson:
    """Plan a lesson's text after the texts of the lessons before it."""
    alone, earlier = parse_text(text), parse_texts(before)
    lesson = place_in_series(alone, earlier)
    contents = build_fills(lesson)
    return PlannedLesson(
        text=text,
        lesson=lesson,
        fills=contents.fills,
        skipped=contents.left_out,
        untaught=find_untaught(alone, earlier),
        before=before,
    )


@share_results(maxsize=512)
def parse_text(text: str) -> Lesson:
    """Parse a lesson's text."""
    return parse_lesson(text)


def parse_texts(texts: Sequence[str]) -> list[Lesson]:
    """Parse several texts, in order."""
    return [parse_text(text) for text in texts]


@share_results(maxsize=512)
def draw_fill(planned: PlannedLesson, name: str, width_mm: int) -> Engraving:
    """Draw the notation of a fill at a width."""
    return engrave(planned.find_fill(name).sheet, width_mm=float(width_mm))


@share_results(maxsize=512)
def draw_kit_plan(planned: PlannedLesson, name: str) -> str:
    """Draw the kit plan of a fill, as SVG."""
    return draw_plan(planned.lesson, planned.find_fill(name)).svg
