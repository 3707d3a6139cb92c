"""The cursor's way through a drawing on a page, in parts of the drawing's width and height."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from fractions import Fraction

from fillwright.score.engraving.cursor import Mark, cursor
from fillwright.score.engraving.engrave import Engraving
from fillwright.score.sheet import Sheet

_DIGITS = 5

Place = list[float]
"""Left, top and height, as parts of the drawing's width and height."""


def way(engraving: Engraving, sheet: Sheet, when: Callable[[Fraction], float]) -> list[list[float]]:
    """Every mark of an engraving, ascending: its time, left, top, height, and number of its line.

    Args:
        engraving: of the sheet.
        sheet: what was engraved.
        when: a written place as played, in whole notes.
    """
    return [
        [round(when(mark.at), _DIGITS), *_place(engraving, mark), mark.system]
        for mark in cursor(engraving, sheet)
    ]


def at_places(engraving: Engraving, sheet: Sheet, places: Iterable[Fraction]) -> list[Place]:
    """Where some written places stand; each is struck, so it has a mark."""
    found = {mark.at: mark for mark in cursor(engraving, sheet)}
    return [_place(engraving, found[at]) for at in places]


def _place(engraving: Engraving, mark: Mark) -> Place:
    return [
        round(mark.x_mm / engraving.width_mm, _DIGITS),
        round(mark.top_mm / engraving.height_mm, _DIGITS),
        round((mark.bottom_mm - mark.top_mm) / engraving.height_mm, _DIGITS),
    ]
