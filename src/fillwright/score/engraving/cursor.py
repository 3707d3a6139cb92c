"""The place of a cursor on engraved music at each place of the phrase.

It is read from the drawing: the heads of the notes carry the ids of the written notes, and with them their
places in time. A bar that is written as a repeat has no notes; the cursor crosses it beat by beat.
"""

from __future__ import annotations

import xml.etree.ElementTree as ET
from bisect import bisect_right
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from fillwright.score.engraving.drawing import HEAD_WIDTH, NUMBERS, SVG, find_groups, qualify, read_translation
from fillwright.score.engraving.engrave import UNITS_PER_SPACE, Engraving
from fillwright.score.sheet import Sheet
from fillwright.score.written import WrittenBar

_ABOVE, _BELOW = 3.4 * UNITS_PER_SPACE, 0.25 * UNITS_PER_SPACE
"""Reach of the line beyond the staff, in drawing units: past the beams, below the tempo, and not into the
letters (ours, not measured)."""

_INSET = 1.5 * UNITS_PER_SPACE
"""Drawing units between a bar line and the first or last place of a bar written as a repeat (ours)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Mark:
    """The cursor at one place of the phrase.

    Attributes:
        at: the place, in whole notes from the start of the phrase.
        x_mm: the middle of the note head there, from the left edge of the drawing.
        top_mm: upper end of the cursor's line, from the upper edge of the drawing.
        bottom_mm: lower end of the line.
        system: number of the line of music, from 0.
    """

    at: Fraction
    x_mm: float
    top_mm: float
    bottom_mm: float
    system: int


def find_cursor_marks(engraving: Engraving, sheet: Sheet) -> tuple[Mark, ...]:
    """Find the cursor's way through an engraving, ascending in time.

    There is a mark for every place where something is struck, for every beat of a bar written as a repeat, and
    for the end of each line of music; the first place of the next line has the same time as that end. Between
    two marks of one line the cursor goes evenly (`find_cursor`). Grace notes have none of their own.

    Args:
        engraving: of the sheet.
        sheet: what was engraved.
    """
    scale, down = _read_scale(engraving.root, engraving.width_mm)
    bars = iter(sheet.bars())
    marks: list[Mark] = []
    for number, system in enumerate(find_groups(engraving.root, "system")):
        lines = [(next(bars), measure) for measure in find_groups(system, "measure")]
        top, bottom = _measure_reach(system)
        for at, x in _place_line(sheet, lines):
            marks.append(
                Mark(
                    at=at,
                    x_mm=x * scale,
                    top_mm=(top + down) * scale,
                    bottom_mm=(bottom + down) * scale,
                    system=number,
                )
            )
    return tuple(marks)


def find_cursor(marks: Sequence[Mark], at: Fraction) -> Mark:
    """Find the cursor at any place: evenly between two marks of a line, at rest before and after.

    Args:
        marks: from `find_cursor_marks`.
        at: in whole notes from the start of the phrase.
    """
    index = bisect_right(marks, at, key=lambda mark: mark.at)
    here = marks[max(0, index - 1)]
    if index in (0, len(marks)) or marks[index].system != here.system:
        return replace(here, at=at)
    there = marks[index]
    part = float((at - here.at) / (there.at - here.at))
    return replace(here, at=at, x_mm=here.x_mm + part * (there.x_mm - here.x_mm))


def _read_scale(root: ET.Element, width_mm: float) -> tuple[float, float]:
    """Read the millimetres to a unit of the drawing, and how many units its content is moved down."""
    inner = root.find(qualify("svg"))
    if inner is None:
        raise ValueError("this drawing does not come from engrave")
    width = float(NUMBERS.findall(inner.get("viewBox", ""))[2])
    page = next(iter(find_groups(inner, "page-margin")), None)
    return width_mm / width, read_translation(page)[1] if page is not None else 0.0


def _measure_reach(system: ET.Element) -> tuple[float, float]:
    """Measure the upper and the lower end of the cursor's line on a line of music, in drawing units."""
    heights = [line[1] for line in _read_staff_lines(system)]
    return min(heights) - _ABOVE, max(heights) + _BELOW


def _read_staff_lines(element: ET.Element) -> list[tuple[float, float, float]]:
    """Read the staff lines below an element: left end, height and right end of each."""
    lines = []
    for staff in find_groups(element, "staff"):
        for path in staff.findall(f"{{{SVG}}}path"):
            left, height, right = (float(n) for n in NUMBERS.findall(path.get("d", ""))[:3])
            lines.append((left, height, right))
    return lines


def _place_line(sheet: Sheet, lines: list[tuple[WrittenBar, ET.Element]]) -> Iterator[tuple[Fraction, float]]:
    """Yield times and x of one line of music, ascending in both, its end the last."""
    length = sheet.phrase.meter.bar
    last = -1.0
    for index, (bar, measure) in enumerate(lines):
        start = (bar.number - 1) * length
        places = _place_beats(sheet, measure) if sheet.is_repeat(bar) else _place_notes(bar, measure)
        if index == 0 and 0 not in places:
            places[Fraction(0)] = _read_staff_lines(measure)[0][0] + _INSET
        for at in sorted(places):
            if places[at] > last:  # a head set aside from its neighbour's must not turn the cursor back
                last = places[at]
                yield start + at, last
    end = max(line[2] for line in _read_staff_lines(lines[-1][1]))
    yield lines[-1][0].number * length, end


def _place_beats(sheet: Sheet, measure: ET.Element) -> dict[Fraction, float]:
    """Place each beat of a bar written as a repeat, evenly across it."""
    left, _, right = _read_staff_lines(measure)[0]
    across = right - left - 2 * _INSET
    starts = sheet.phrase.meter.beat_starts
    return {at: left + _INSET + across * float(at / sheet.phrase.meter.bar) for at in starts}


def _place_notes(bar: WrittenBar, measure: ET.Element) -> dict[Fraction, float]:
    """Find the middle of the note heads at each place of a bar; where hand and foot meet, the hand's."""
    heads: dict[str, float] = {}
    for group in [*find_groups(measure, "note"), *find_groups(measure, "chord")]:
        glyphs = [read_translation(head[0])[0] for head in find_groups(group, "notehead") if len(head)]
        if glyphs:
            heads[group.get("id", "")] = min(glyphs) + HEAD_WIDTH / 2
    notes = [*bar.feet.notes(), *bar.hands.notes()]
    return {note.at: heads[note.id] for note in notes if note.id in heads}
