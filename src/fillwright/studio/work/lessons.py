"""Lessons worked out: parsed, planned and engraved once, and kept for the next page that asks.

Everything here is a function of the lesson's text and of what was taught before it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from fillwright.errors import NotThereError
from fillwright.lesson.edit import ordered
from fillwright.lesson.file import Lesson, parse_lesson
from fillwright.lesson.fills import LessonFill, contents
from fillwright.lesson.series import ahead, in_series
from fillwright.pack.handout import plan_of
from fillwright.score.engraving.engrave import Engraving, engrave
from fillwright.store.desk import Desk
from fillwright.store.lessons import lessons_of, newest, one_lesson
from fillwright.studio.work.once import once

WIDE_MM, NARROW_MM = 170, 84
"""Widths at which pages show notation: at a desk, on a phone."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Worked:
    """A lesson and all its fills.

    Attributes:
        text: as saved.
        lesson: as it stands in its series.
        fills: in order.
        left_out: a sentence for each step that can't be made.
        ahead: figures that it mixes in although no lesson before it teaches them.
    """

    text: str
    lesson: Lesson
    fills: tuple[LessonFill, ...]
    left_out: tuple[str, ...]
    ahead: tuple[str, ...]

    def fill(self, name: str) -> LessonFill:
        """The fill of a short name.

        Raises:
            NotThereError: where the lesson makes none of that name.
        """
        found = next((fill for fill in self.fills if fill.name == name), None)
        if found is None:
            raise NotThereError(f"This lesson has no fill called {name}; it may have been dropped or renamed.")
        return found


def work_out(desk: Desk, number: int) -> Worked:
    """The newest text of a lesson, worked out in its series.

    Raises:
        NotThereError: where the teacher has no such lesson.
    """
    return worked(newest(desk, number).text, _before(desk, number))


def _before(desk: Desk, number: int) -> tuple[str, ...]:
    """The newest texts of the lessons that come before one in its series."""
    saved = one_lesson(desk, number)
    return tuple(
        newest(desk, one.id).text for one in lessons_of(desk, saved.series) if one.number < saved.number
    )


def placed(desk: Desk, number: int, text: str, replaced: LessonFill | None) -> tuple[str, str]:
    """A lesson's text to which a fill was added, the new fill standing where another stood.

    Args:
        desk: where the lesson lies.
        number: of the lesson.
        text: of the lesson, with the new fill in it.
        replaced: whose place it takes; None for its own.

    Returns:
        The text, and the new fill's short name; "" where the lesson makes no fill that it did not make.
    """
    had = work_out(desk, number).fills
    fills = worked(text, _before(desk, number)).fills
    names = [one.name for one in had]
    new = next((one.name for one in fills if one.name not in names or _rewritten(one, had)), "")
    if not (replaced and new):
        return text, new
    stood = [one.name for one in had if one.part == replaced.part]
    order = [new if name == replaced.name else name for name in stood]
    apart = [name for name in parsed(text).order if name not in order]
    return ordered(text, [*apart, *order]), new


def _rewritten(fill: LessonFill, had: Sequence[LessonFill]) -> bool:
    """Whether a fill of one's own took over the name of one worked out."""
    return fill.own is not None and any(one.name == fill.name and one.own is None for one in had)


@once(maxsize=64)
def worked(text: str, before: tuple[str, ...] = ()) -> Worked:
    """A lesson's text worked out behind the texts of the lessons before it."""
    alone, earlier = parsed(text), parsed_all(before)
    lesson = in_series(alone, earlier)
    made = contents(lesson)
    return Worked(
        text=text, lesson=lesson, fills=made.fills, left_out=made.left_out, ahead=ahead(alone, earlier)
    )


@once(maxsize=512)
def parsed(text: str) -> Lesson:
    """A lesson's text, read."""
    return parse_lesson(text)


def parsed_all(texts: Sequence[str]) -> list[Lesson]:
    """Several, in order."""
    return [parsed(text) for text in texts]


@once(maxsize=512)
def drawn(found: Worked, name: str, width_mm: int) -> Engraving:
    """The notation of a fill at a width."""
    return engrave(found.fill(name).sheet, width_mm=float(width_mm))


@once(maxsize=512)
def plan_drawn(found: Worked, name: str) -> str:
    """The kit plan of a fill, as SVG."""
    return plan_of(found.lesson, found.fill(name)).svg
