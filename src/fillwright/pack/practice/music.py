"""A fill engraved for the page: once for a desk and for paper, once as narrow as can be read, for a phone.

Both have the groove on one line and each bar of the fill on its own, so that the fill stands in the same place
on every step and its notes are large enough to be read from the throne.
"""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from collections.abc import Callable
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import cache
from itertools import chain, groupby, pairwise

from fillwright.lesson.fills import LessonFill, swing_words
from fillwright.music.phrase import Part
from fillwright.music.timing import Feel
from fillwright.pack.practice.drawing import SmallDrawing, to_grains, shrink_engraving
from fillwright.pack.practice.strokes import round_place
from fillwright.score.engraving.cursor import Mark, trace_cursor
from fillwright.score.engraving.drawing import SERIF, qualify
from fillwright.score.engraving.engrave import UNITS_PER_SPACE, Engraving, engrave
from fillwright.score.engraving.finish import counts_touch
from fillwright.score.sheet import Sheet

WIDE_MM = 126.0
_WIDER_MM = 150.0
NARROW_MM = (75.0, 86.0, 100.0, 124.0)
_MOST_MM_FOR_WORDS = 86.0  # wider, a phone would show the music too small for the sake of its count

_SPACE_MM = 1.5
_LETTER = 0.6  # of the size of a sticking letter, its width with room beside it
_REPEATS = {"wide": 7, "narrow": 3}
"""How many bars follow a line's first, at most."""


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

    drawing: SmallDrawing
    lines: tuple[Line, ...]


def engrave_wide(fill: LessonFill, feel: Feel, played: Callable[[Fraction], float]) -> Music:
    """For a desk and for paper, a little smaller where all counts are there only then."""
    sheet = _plain(fill.sheet, feel, _REPEATS["wide"])
    engraved = engrave(sheet, width_mm=WIDE_MM)
    return _music(engrave(sheet, width_mm=_WIDER_MM) if engraved.sparse else engraved, sheet, played)


def engrave_narrow(fill: LessonFill, feel: Feel, played: Callable[[Fraction], float]) -> Music:
    """For a phone, as narrow as letters and counts keep apart; with all counts where that is narrow enough."""
    sheet = _plain(fill.sheet, feel, _REPEATS["narrow"])
    engraved = cache(lambda width: engrave(sheet, width_mm=width))
    whole = (engraved(width) for width in NARROW_MM if width <= _MOST_MM_FOR_WORDS)
    every = map(engraved, NARROW_MM)
    clear = (each for each in chain((one for one in whole if not one.sparse), every) if _is_clear(each.svg))
    return _music(next(clear, None) or engraved(NARROW_MM[-1]), sheet, played)


def _is_clear(svg: str) -> bool:
    return not counts_touch(svg) and not letters_touch(svg)


def _plain(sheet: Sheet, feel: Feel, repeats: int) -> Sheet:
    """On its lines, without the tempo, which the page shows elsewhere; where eighths swing, it says so."""
    swings = swing_words(feel)
    return replace(sheet, tempo=sheet.tempo if swings else "", break_before=_breaks(sheet, repeats))


def _breaks(sheet: Sheet, repeats: int) -> tuple[int, ...]:
    """A new line for each bar that is written out, and after so many that are not; the landing stays."""
    found, since = [], 0
    for bar in sheet.bars()[1:]:
        since += 1
        if bar.bar.part is Part.LANDING:
            continue
        if not sheet.is_repeat(bar) or since > repeats:
            found.append(bar.number)
            since = 0
    return tuple(found)


def letters_touch(svg: str) -> bool:
    """Whether two sticking letters of a finished engraving stand so close that they read as one."""
    rows: dict[str, list[tuple[float, float]]] = {}
    for text in ET.fromstring(svg).iter(qualify("text")):
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
    marks = groupby(trace_cursor(engraving, sheet), key=lambda mark: mark.system)
    return Music(drawing=shrink_engraving(engraving.svg), lines=tuple(_line(tuple(group), played) for _, group in marks))


def _line(marks: tuple[Mark, ...], played: Callable[[Fraction], float]) -> Line:
    return Line(
        top=_units(marks[0].top_mm),
        bottom=_units(marks[0].bottom_mm),
        points=tuple((round_place(played(mark.at)), _units(mark.x_mm)) for mark in marks),
    )


def _units(mm: float) -> int:
    """Millimetres in the page's units."""
    return to_grains(mm / _SPACE_MM * UNITS_PER_SPACE)
