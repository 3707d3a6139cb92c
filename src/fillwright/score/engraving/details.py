"""Corrections of one detail of an engraving at a time, whatever is around it.

Distances are in drawing units, 180 to a staff space. They were set on engravings of the library's default face,
looked at as pages of 300 pixels an inch (ours, not measured).
"""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from collections.abc import Callable
from functools import cache, partial
from importlib.resources import files

from fillwright.score.engraving.counts import COUNT_SIZE
from fillwright.score.engraving.drawing import (
    FONT,
    SANS,
    SERIF,
    find_groups,
    move_glyph,
    qualify,
    read_glyph,
    read_kinds,
    read_place,
    read_points,
    read_translation,
    read_words,
    set_text,
)

_RIGHT_BRACKET = "E26B"
_BUZZ = "E22A"
_BUZZ_SCALE = 0.66  # drawing units to a glyph unit; other glyphs have 0.72

ADVANCES = {"ECA5": 302, "ECB7": 97}
"""Widths of the beat note and of its dot, in glyph units (the face's own table, h-a-x)."""

_BEAT_SCALE = 0.55  # drawing units to a glyph unit: the beat note is 1.3 times as high as a capital beside it
_BEAT_GAP = 60  # glyph units after the beat note and after its dot
_BEAT_WORDS_GAP = 40  # drawing units more before the words
_WORD_SIZE = 330.0  # size of the tempo's words and of sticking letters
_BRACKET_DROP = 100  # length of a tuplet bracket's ends
_BRACKET_WIDTH = 14  # thickness of a tuplet bracket
_NUMBER_BELOW_BRACKET = 60  # from a bracket's line down to the foot of its number
_NUMBER_LIFT = 45  # of a number that has no bracket, off the beam
_BRACKET_OFF_STEM = 42  # of a ghost note's right bracket


def fix_details(group: ET.Element) -> None:
    """Correct what is a shade off on one group of the drawing."""
    for kind in read_kinds(group):
        if kind in _BY_KIND:
            _BY_KIND[kind](group)


@cache
def _load_outline(code: str) -> str:
    """Return the outline of a music sign, from the engraver's own font data."""
    drawing = files("verovio").joinpath("data", FONT, f"{code}.xml").read_text("utf-8")
    return str(re.findall(r' d="([^"]+)"', drawing)[0])


def _set_tempo(group: ET.Element) -> None:
    """Draw the beat note as an outline, so that no page needs a music font, and set the words next to it."""
    text = next(group.iter(qualify("text")))
    x, y = read_place(text)
    letters = read_words(text)
    signs = [letter for letter in letters if ord(letter) >= 0xE000]
    words = "".join(letter for letter in letters if ord(letter) < 0xE000 and letter != "\u2009").strip()
    group.remove(text)
    for sign in signs:
        code = f"{ord(sign):X}"
        shape = ET.SubElement(group, qualify("path"), d=_load_outline(code))
        shape.set("transform", f"translate({x:g}, {y:g}) scale({_BEAT_SCALE}, {-_BEAT_SCALE})")
        x += (ADVANCES[code] + _BEAT_GAP) * _BEAT_SCALE
    line = ET.SubElement(group, qualify("text"), x=f"{x + _BEAT_WORDS_GAP:g}", y=f"{y:g}")
    line.set("font-size", f"{_WORD_SIZE:g}")
    line.set("font-family", SERIF)
    line.text = words


def _remove_drawing(group: ET.Element) -> None:
    """Remove a slur's drawing; `finish` draws it again from the heads that it joins."""
    for child in list(group):
        group.remove(child)


def _level_brackets(measure: ET.Element) -> None:
    """Set the brackets of one bar at one height, their numbers in the gap."""
    tuplets = find_groups(measure, "tuplet")
    brackets = [(tuplet, part) for tuplet in tuplets for part in tuplet if "tupletBracket" in read_kinds(part)]
    if not brackets:
        return
    top = min(y for _, bracket in brackets for line in bracket for y in read_points(line)[1::2])
    for tuplet, bracket in brackets:
        for line in bracket:
            outer, _, _, _, inner, _ = read_points(line)
            line.set("points", f"{outer:g},{top + _BRACKET_DROP:g} {outer:g},{top:g} {inner:g},{top:g}")
            line.set("stroke-width", f"{_BRACKET_WIDTH}")
        number = _find_number(tuplet)
        if number is not None:
            move_glyph(number, read_translation(number)[0], top + _NUMBER_BELOW_BRACKET)


def _find_number(tuplet: ET.Element) -> ET.Element | None:
    return next((part[0] for part in tuplet if "tupletNum" in read_kinds(part) and len(part)), None)


def _lift_number(tuplet: ET.Element) -> None:
    """Move a number without a bracket clear of the beam."""
    number = _find_number(tuplet)
    if number is not None and not any("tupletBracket" in read_kinds(part) for part in tuplet):
        x, y = read_translation(number)
        move_glyph(number, x, y - _NUMBER_LIFT)


def _shrink_buzz(stem: ET.Element) -> None:
    """Shrink the z of a buzz to fit between head and beam."""
    for use in stem:
        if use.tag == qualify("use") and read_glyph(use) == _BUZZ:
            move_glyph(use, *read_translation(use), scale=_BUZZ_SCALE)


def _clear_ghost(group: ET.Element) -> None:
    """Move the right bracket of a ghost note off its stem."""
    for use in group:
        x, y = read_translation(use)
        if read_glyph(use) == _RIGHT_BRACKET:
            move_glyph(use, x + _BRACKET_OFF_STEM, y)


_BY_KIND: dict[str, Callable[[ET.Element], None]] = {
    "tempo": _set_tempo,
    "stick": partial(set_text, family=SERIF, size=_WORD_SIZE),
    "verse": partial(set_text, family=SANS, size=COUNT_SIZE, soft=True),
    "slur": _remove_drawing,
    "measure": _level_brackets,
    "tuplet": _lift_number,
    "stem": _shrink_buzz,
    "notehead": _clear_ghost,
}
