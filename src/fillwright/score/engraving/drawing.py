"""Parts of the engraver's drawing: places, lines and words in it, in its own units, 180 to a staff space."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET

FONT = "Leipzig"
"""The music typeface: the engraving library's own default."""

SERIF = "'Source Serif Pro', 'Source Serif 4', Georgia, serif"
SANS = "'Source Sans Pro', 'Source Sans 3', Helvetica, sans-serif"
SVG = "http://www.w3.org/2000/svg"

GLYPH_SCALE = 0.72
"""Drawing units to a unit of a glyph: glyphs are drawn a thousand units to four spaces (SMuFL)."""

HEAD_WIDTH = 314 * GLYPH_SCALE
"""Width of an ordinary note head, in drawing units (the face's own table, noteheadBlack)."""

NUMBERS = re.compile(r"-?\d+(?:\.\d+)?")
SMALL = 0.82
"""Size of a grace note's letter, as a share of the others (ours, not measured)."""


def format_svg(root: ET.Element) -> str:
    """Return a drawing as the text of an SVG document."""
    ET.register_namespace("", SVG)
    return ET.tostring(root, encoding="unicode")


def qualify(name: str) -> str:
    """Return an element's name as the parser spells it, with its namespace."""
    return f"{{{SVG}}}{name}"


def read_kinds(group: ET.Element) -> set[str]:
    """Read what the engraver says a group is: "note", "chord", "stem" and so on."""
    return set(group.get("class", "").split())


def find_groups(drawing: ET.Element, kind: str) -> list[ET.Element]:
    """Find every group of a kind below an element, in drawing order."""
    return [group for group in drawing.iter(qualify("g")) if kind in read_kinds(group)]


def read_translation(use: ET.Element) -> tuple[float, float]:
    """Read how far a glyph or a group is moved, across and down."""
    x, y = NUMBERS.findall(use.get("transform", ""))[:2]
    return float(x), float(y)


def move_glyph(use: ET.Element, x: float, y: float, *, scale: float = GLYPH_SCALE) -> None:
    """Move a glyph to another place."""
    use.set("transform", f"translate({x:g}, {y:g}) scale({scale}, {scale})")


def read_glyph(use: ET.Element) -> str:
    """Read the code of a glyph: E0A4 for a filled note head."""
    return use.get("href", "")[1:5]


def read_points(line: ET.Element) -> list[float]:
    """Read the numbers of a polyline, x and y in turn."""
    return [float(n) for n in NUMBERS.findall(line.get("points", ""))]


def read_place(text: ET.Element) -> tuple[float, float]:
    """Read the place of a text, across and down."""
    return float(text.get("x", 0)), float(text.get("y", 0))


def read_words(text: ET.Element) -> str:
    """Read the words of a text with all its spans."""
    return "".join(part.strip("\u00a0 \n") for part in text.itertext())


def set_text(
    group: ET.Element, *, family: str, size: float, soft: bool = False, weight: str = "normal"
) -> None:
    """Set plain text in a text face in place of nested spans; letters of grace notes are smaller."""
    small = "grace" in read_kinds(group)
    for text in group.iter(qualify("text")):
        words = read_words(text)
        for child in list(text):
            text.remove(child)
        text.text = words
        text.set("font-size", f"{size * SMALL if small else size:g}")
        text.set("font-family", family)
        if weight != "normal":
            text.set("font-weight", weight)
        if soft:
            text.set("opacity", "0.75")
