"""The cursor's positions in a drawing on a page, as parts of the drawing's width and height."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from fractions import Fraction

from fillwright.score.engraving.cursor import Mark, find_cursor_marks
from fillwright.score.engraving.engrave import Engraving
from fillwright.score.sheet import Sheet

_DIGITS = 5
"""Decimal places of a position: a 100,000th of a drawing is far below a pixel. Ours."""

Position = list[float]
"""Left, top and height, as parts of the drawing's width and height."""


def list_cursor_marks(
    engraving: Engraving, sheet: Sheet, get_time: Callable[[Fraction], float]
) -> list[list[float]]:
    """List every cursor mark of an engraving, ascending: time, left, top, height, and number of its line.

    Args:
        engraving: of the sheet.
        sheet: that was engraved.
        get_time: gives the time at which a written place is played, in whole notes.
    """
    return [
        [round(get_time(mark.at), _DIGITS), *_locate(engraving, mark), mark.system]
        for mark in find_cursor_marks(engraving, sheet)
    ]


def locate_places(engraving: Engraving, sheet: Sheet, places: Iterable[Fraction]) -> list[Position]:
    """Locate written places in a drawing. Each must have a stroke, because only strokes have marks."""
    marks = {mark.at: mark for mark in find_cursor_marks(engraving, sheet)}
    return [_locate(engraving, marks[at]) for at in places]


def _locate(engraving: Engraving, mark: Mark) -> Position:
    return [
        round(mark.x_mm / engraving.width_mm, _DIGITS),
        round(mark.top_mm / engraving.height_mm, _DIGITS),
        round((mark.bottom_mm - mark.top_mm) / engraving.height_mm, _DIGITS),
    ]
