"""A fill engraved for the page: once for a desk and for paper, once as narrow as can be read, for a phone.

Both have the groove on one line and each bar of the fill on its own, so that the fill stands in the same place
for every fill and its notes are large enough to be read from the throne.
"""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from collections.abc import Callable
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import cache
from itertools import chain, groupby, pairwise

from fillwright.lesson.fills import LessonFill, format_swing
from fillwright.music.phrase import Part
from fillwright.music.timing import Feel
from fillwright.pack.practice.drawing import SmallDrawing, shrink_engraving, to_grains
from fillwright.pack.practice.strokes import round_place
from fillwright.score.engraving.cursor import Mark, find_cursor_marks
from fillwright.score.engraving.drawing import SERIF, qualify
from fillwright.score.engraving.engrave import UNITS_PER_SPACE, Engraving, engrave
from fillwright.score.sheet import Sheet

WIDE_MM = 126.0  # width of the music on a desk; ours, not measured
_WIDER_MM = 150.0  # where all counts are printed only then; ours, not measured
NARROW_MM = (75.0, 86.0, 100.0, 124.0)  # widths tried for a phone, narrowest first; ours, not measured
_MOST_MM_FOR_WORDS = 86.0  # wider, a phone would show the music too small for the sake of its count

_SPACE_MM = 1.5  # of a staff space, as engraved
_LETTER = 0.6  # of the size of a sticking letter, its width with room beside it
_REPEATS = {"wide": 7, "narrow": 3}
"""How many bars follow a line's first, at most."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """The cursor's path along one line of music.

    Attributes:
        top: of it, in the page's units.
        bottom: of it.
        points: moments as played in whole notes from the start of the phrase, ascending, and the x of each.
    """

    top: int
    bottom: int
    points: tuple[tuple[float, int], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Music:
    """One engraving of a fill.

    Attributes:
        drawing: made small.
        lines: of music, with the cursor's path along each.
    """

    drawing: SmallDrawing
    lines: tuple[Line, ...]


def engrave_wide(fill: LessonFill, feel: Feel, played: Callable[[Fraction], float]) -> Music:
    """Engrave for a desk and for paper: a little smaller where all counts fit only then."""
    sheet = _prepare_sheet(fill.sheet, feel, _REPEATS["wide"])
    engraved = engrave(sheet, width_mm=WIDE_MM)
    return _make_music(engrave(sheet, width_mm=_WIDER_MM) if engraved.sparse else engraved, sheet, played)


def engrave_narrow(fill: LessonFill, feel: Feel, played: Callable[[Fraction], float]) -> Music:
    """Engrave for a phone: as narrow as letters and counts keep apart, with all counts where they fit."""
    sheet = _prepare_sheet(fill.sheet, feel, _REPEATS["narrow"])
    engraved = cache(lambda width: engrave(sheet, width_mm=width))
    with_words = (engraved(width) for width in NARROW_MM if width <= _MOST_MM_FOR_WORDS)
    every = map(engraved, NARROW_MM)
    clear = (
        music for music in chain((music for music in with_words if not music.sparse), every) if _is_clear(music)
    )
    return _make_music(next(clear, None) or engraved(NARROW_MM[-1]), sheet, played)


def _is_clear(engraving: Engraving) -> bool:
    return not engraving.counts_touch and not letters_touch(engraving.root)


def _prepare_sheet(sheet: Sheet, feel: Feel, repeats: int) -> Sheet:
    """Return the sheet on its lines, without the tempo, which the page shows elsewhere, but with the swing."""
    swings = format_swing(feel)
    return replace(sheet, tempo=sheet.tempo if swings else "", break_before=_choose_breaks(sheet, repeats))


def _choose_breaks(sheet: Sheet, repeats: int) -> tuple[int, ...]:
    """Choose line breaks: at each bar that is written out, and after some repeat bars; not at the landing."""
    breaks, since = [], 0
    for bar in sheet.bars()[1:]:
        since += 1
        if bar.bar.part is Part.LANDING:
            continue
        if not sheet.is_repeat(bar) or since > repeats:
            breaks.append(bar.number)
            since = 0
    return tuple(breaks)


def letters_touch(root: ET.Element) -> bool:
    """Return True if two sticking letters are so close that they read as one."""
    rows: dict[str, list[tuple[float, float]]] = {}
    for text in root.iter(qualify("text")):
        word = text.text or ""
        if text.get("font-family") == SERIF and re.fullmatch(r"[RLKrl]{1,2}", word):
            half = len(word) * float(text.get("font-size", 0)) * _LETTER / 2
            rows.setdefault(text.get("y", ""), []).append((float(text.get("x", 0)), half))
    return any(
        right - left < half_left + half_right
        for row in rows.values()
        for (left, half_left), (right, half_right) in pairwise(sorted(row))
    )


def _make_music(engraving: Engraving, sheet: Sheet, played: Callable[[Fraction], float]) -> Music:
    marks = groupby(find_cursor_marks(engraving, sheet), key=lambda mark: mark.system)
    return Music(
        drawing=shrink_engraving(engraving.root),
        lines=tuple(_make_line(tuple(group), played) for _, group in marks),
    )


def _make_line(marks: tuple[Mark, ...], played: Callable[[Fraction], float]) -> Line:
    return Line(
        top=_to_page_units(marks[0].top_mm),
        bottom=_to_page_units(marks[0].bottom_mm),
        points=tuple((round_place(played(mark.at)), _to_page_units(mark.x_mm)) for mark in marks),
    )


def _to_page_units(mm: float) -> int:
    """Convert millimetres to the page's units."""
    return to_grains(mm / _SPACE_MM * UNITS_PER_SPACE)
