"""Details of an engraving put right one by one, whatever stands around them."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from collections.abc import Callable
from functools import cache, partial
from importlib.resources import files

from fillwright.score.engraving.drawing import (
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

_FONT = "Leland"
_RIGHT_BRACKET = "E26B"
_BUZZ = "E22A"
_ADVANCES = {"ECA5": 425, "ECB7": 155}  # of the beat note and its dot


def fix_details(group: ET.Element) -> None:
    """Put right what is a shade off on one group of the drawing."""
    for kind in read_kinds(group):
        if kind in _BY_KIND:
            _BY_KIND[kind](group)


@cache
def _outline(code: str) -> str:
    """The outline of a music sign, from the engraver's own font data."""
    drawing = files("verovio").joinpath("data", _FONT, f"{code}.xml").read_text("utf-8")
    return str(re.findall(r' d="([^"]+)"', drawing)[0])


def _set_tempo(group: ET.Element) -> None:
    """The beat note as an outline, so that no page needs a music font, and the words beside it."""
    text = next(group.iter(qualify("text")))
    x, y = read_place(text)
    whole = read_words(text)
    signs = [char for char in whole if ord(char) >= 0xE000]
    words = "".join(char for char in whole if ord(char) < 0xE000 and char != "\u2009").strip()
    group.remove(text)
    scale = 0.42
    for sign in signs:
        code = f"{ord(sign):X}"
        shape = ET.SubElement(group, qualify("path"), d=_outline(code))
        shape.set("transform", f"translate({x:g}, {y:g}) scale({scale}, {-scale})")
        x += (_ADVANCES[code] + 60) * scale
    line = ET.SubElement(group, qualify("text"), x=f"{x + 40:g}", y=f"{y:g}")
    line.set("font-size", "330")
    line.set("font-family", SERIF)
    line.text = words


def _empty(group: ET.Element) -> None:
    """Slurs are drawn anew from the heads they join: see `finish`."""
    for child in list(group):
        group.remove(child)


def _level_brackets(measure: ET.Element) -> None:
    """The brackets of one bar lie level at one height, their numbers in the gap."""
    brackets = [(t, b) for t in find_groups(measure, "tuplet") for b in t if "tupletBracket" in read_kinds(b)]
    if not brackets:
        return
    top = min(y for _, bracket in brackets for line in bracket for y in read_points(line)[1::2])
    for tuplet, bracket in brackets:
        for line in bracket:
            outer, _, _, _, inner, _ = read_points(line)
            line.set("points", f"{outer:g},{top + 100:g} {outer:g},{top:g} {inner:g},{top:g}")
            line.set("stroke-width", "14")
        number = _tuplet_number(tuplet)
        if number is not None:
            move_glyph(number, read_translation(number)[0], top + 68)


def _tuplet_number(tuplet: ET.Element) -> ET.Element | None:
    return next((g[0] for g in tuplet if "tupletNum" in read_kinds(g) and len(g)), None)


def _set_tuplet(tuplet: ET.Element) -> None:
    """A number without a bracket stands clear of the beam."""
    number = _tuplet_number(tuplet)
    if number is not None and not any("tupletBracket" in read_kinds(g) for g in tuplet):
        x, y = read_translation(number)
        move_glyph(number, x, y - 45)


def _shrink_buzz(stem: ET.Element) -> None:
    """The z of a buzz fits between head and beam."""
    for use in stem:
        if use.tag == qualify("use") and read_glyph(use) == _BUZZ:
            move_glyph(use, *read_translation(use), scale=0.58)


def _clear_ghost(group: ET.Element) -> None:
    """The right bracket of a ghost note stands off its stem."""
    for use in group:
        x, y = read_translation(use)
        if read_glyph(use) == _RIGHT_BRACKET:
            move_glyph(use, x + 42, y)


_BY_KIND: dict[str, Callable[[ET.Element], None]] = {
    "tempo": _set_tempo,
    "stick": partial(set_text, family=SERIF, size=330),
    "verse": partial(set_text, family=SANS, size=285, soft=True),
    "slur": _empty,
    "measure": _level_brackets,
    "tuplet": _set_tuplet,
    "stem": _shrink_buzz,
    "notehead": _clear_ghost,
}
