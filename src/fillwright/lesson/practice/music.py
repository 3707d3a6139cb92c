"""A fill engraved for the page: once wide, for a desk and for paper, once as narrow as it can be read, for a phone."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from collections.abc import Callable
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import groupby, pairwise

from fillwright.lesson.fills import LessonFill, swing_words
from fillwright.lesson.practice.drawing import Small, grained, small
from fillwright.lesson.practice.strokes import place
from fillwright.music.phrase import Part
from fillwright.music.timing import Feel
from fillwright.score.cursor import Mark, cursor
from fillwright.score.drawing import SERIF, tag
from fillwright.score.engrave import UNITS_PER_SPACE, Engraving, engrave
from fillwright.score.finish import counts_touch
from fillwright.score.sheet import Sheet

WIDE_MM = 150.0
NARROW_MM = (75.0, 81.0, 87.0, 94.0, 102.0, 112.0, 124.0)
_MOST_MM_FOR_COUNTS = 94.0  # wider, a phone would show the music too small for the sake of its counts

_SPACE_MM = 1.5
_LETTER = 0.6  # of the size of a sticking letter, its width with room beside it
_REPEATS_A_LINE = 3


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """The cursor's way on one line of music.

    Attributes:
        top: of it, in the page's units.
        bottom: of it.
        points: moments as played in whole notes from the start of the phrase, ascending, and where each stands.
    """

    top: int
    bottom: int
    points: tuple[tuple[float, int], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Music:
    """One engraving of a fill.

    Attributes:
        drawing: made small.
        lines: of music, with the cursor's way on each.
    """

    drawing: Small
    lines: tuple[Line, ...]


def wide(fill: LessonFill, feel: Feel, played: Callable[[Fraction], float]) -> Music:
    """For a desk: as the handout has it."""
    sheet = _plain(fill.sheet, feel)
    return _music(engrave(sheet, width_mm=WIDE_MM), sheet, played)


def narrow(fill: LessonFill, feel: Feel, played: Callable[[Fraction], float]) -> Music:
    """For a phone: each bar of the fill on a line of its own, as narrow as letters and counts keep apart.

    Where counts would take too much room they are left out: the wide engraving has them.
    """
    sheet = replace(_plain(fill.sheet, feel), break_before=_breaks(fill.sheet))
    choices = [(width, counting) for counting in (sheet.counting, False) for width in NARROW_MM]
    for width, counting in choices:
        if counting and width > _MOST_MM_FOR_COUNTS:
            continue
        asked = replace(sheet, counting=counting)
        made = engrave(asked, width_mm=width)
        if not counts_touch(made.svg) and not letters_touch(made.svg):
            break
    return _music(made, asked, played)


def _plain(sheet: Sheet, feel: Feel) -> Sheet:
    """Without the tempo, which the page shows elsewhere; where eighths swing, it says so."""
    return replace(sheet, tempo=f"{sheet.tempo}{swing_words(feel)}" if swing_words(feel) else "")


def _breaks(sheet: Sheet) -> tuple[int, ...]:
    """A new line for each written bar that has much in it; the landing stays with the last of the fill."""
    found, since = [], 0
    for bar in sheet.bars()[1:]:
        full = not sheet.is_repeat(bar) and bar.bar.part is not Part.LANDING
        since += 1
        if full or (since >= _REPEATS_A_LINE and bar.bar.part is not Part.LANDING):
            found.append(bar.number)
            since = 0
    return tuple(found)


def letters_touch(svg: str) -> bool:
    """Whether two sticking letters of a finished engraving stand so close that they read as one."""
    rows: dict[str, list[tuple[float, float]]] = {}
    for text in ET.fromstring(svg).iter(tag("text")):
        word = text.text or ""
        if text.get("font-family") == SERIF and re.fullmatch(r"[RLKrl]{1,2}", word):
            half = len(word) * float(text.get("font-size", 0)) * _LETTER / 2
            rows.setdefault(text.get("y", ""), []).append((float(text.get("x", 0)), half))
    return any(
        right - left < half_left + half_right
        for row in rows.values()
        for (left, half_left), (right, half_right) in pairwise(sorted(row))
    )


def _music(engraving: Engraving, sheet: Sheet, played: Callable[[Fraction], float]) -> Music:
    marks = groupby(cursor(engraving, sheet), key=lambda mark: mark.system)
    return Music(drawing=small(engraving.svg), lines=tuple(_line(tuple(group), played) for _, group in marks))


def _line(marks: tuple[Mark, ...], played: Callable[[Fraction], float]) -> Line:
    return Line(
        top=_units(marks[0].top_mm),
        bottom=_units(marks[0].bottom_mm),
        points=tuple((place(played(mark.at)), _units(mark.x_mm)) for mark in marks),
    )


def _units(mm: float) -> int:
    """Millimetres in the page's units."""
    return grained(mm / _SPACE_MM * UNITS_PER_SPACE)
