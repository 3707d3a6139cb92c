"""An engraving made small for the page: the same picture with its groups flattened and its signs shared.

A finished engraving names every note and carries the outlines of its own signs. A page that holds a hundred of
them keeps each outline once, joins lines of one thickness into one path, and counts in fiftieths of a staff
space.
"""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from xml.sax.saxutils import escape

from fillwright.score.engraving.drawing import GLYPH_SCALE, NUMBERS, SERIF, qualify, read_glyph, read_points
from fillwright.score.engraving.engrave import UNITS_PER_SPACE

GRAIN = UNITS_PER_SPACE / 50
"""Units of the engraver in one unit of the page's drawings."""

_STEP = re.compile(r"([MLHVvCZ])|(-?\d+(?:\.\d+)?)")
_LEVEL = re.compile(r"(M-?\d+ (-?\d+))L(-?\d+) \2(?!\d)")
_PLUMB = re.compile(r"(M(-?\d+) -?\d+)L\2 (-?\d+)")
_Offset = tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class SmallDrawing:
    """A flattened drawing.

    Attributes:
        body: the inside of its svg element; signs are used by their code, "E0A4".
        width: of its view box.
        height: of its view box.
        outlines: the outline of each sign that it uses, by code and scale; the page needs each once.
    """

    body: str
    width: int
    height: int
    outlines: Mapping[str, str]


@dataclass(slots=True)
class _Pile:
    """Shapes sorted by how they are drawn."""

    shapes: dict[str, str]
    lines: dict[float, list[str]] = field(default_factory=dict)
    filled: list[str] = field(default_factory=list)
    signs: list[str] = field(default_factory=list)
    words: dict[str, list[str]] = field(default_factory=dict)
    outlines: dict[str, str] = field(default_factory=dict)


def shrink_engraving(root: ET.Element) -> SmallDrawing:
    """Return a finished engraving made small.

    Args:
        root: the drawing of an `Engraving`; it stays as it is.
    """
    shapes = {
        g.get("id", "")[:4]: str(g[0].get("d")) for g in root.iterfind(f"{qualify('defs')}/{qualify('g')}")
    }
    page = root.find(qualify("svg"))
    if page is None:
        raise ValueError("this is not an engraving: it has no page inside")
    pile = _Pile(shapes=shapes)
    for child in page:
        _sort(child, (0.0, 0.0), pile)
    _, _, width, height = (float(n) for n in NUMBERS.findall(page.get("viewBox", "")))
    return SmallDrawing(
        body=_join_pile(pile),
        width=to_grains(width),
        height=to_grains(height),
        outlines=dict(sorted(pile.outlines.items())),
    )


def to_grains(units: float) -> int:
    """Convert units of the engraver to whole units of the page's drawings."""
    return round(units / GRAIN)


def read_shift(group: ET.Element) -> _Offset:
    """Return how far a group is moved, in units of the engraver."""
    numbers = NUMBERS.findall(group.get("transform", "")) or ("0", "0")
    return float(numbers[0]), float(numbers[1])


def _join_pile(pile: _Pile) -> str:
    lines = [
        f'<path class="l" stroke-width="{width / GRAIN:.2g}" d="{"".join(runs)}"/>'
        for width, runs in sorted(pile.lines.items())
    ]
    filled = [f'<path d="{"".join(pile.filled)}"/>'] if pile.filled else []
    words = [f"<g {style}>{''.join(texts)}</g>" for style, texts in sorted(pile.words.items())]
    return "".join([*lines, *filled, *pile.signs, *words])


def _sort(element: ET.Element, at: _Offset, pile: _Pile) -> None:
    """Put what an element draws on the pile, all moves added up."""
    name = element.tag
    if name == qualify("g"):
        dx, dy = read_shift(element)
        for child in element:
            _sort(child, (at[0] + dx, at[1] + dy), pile)
    elif name == qualify("use"):
        _sort_sign(element, at, pile)
    elif name == qualify("text"):
        _sort_text(element, at, pile)
    elif element.get("transform"):
        _sort_beat_note(element, at, pile)
    else:
        _sort_shape(element, at, pile)


def _sort_shape(element: ET.Element, at: _Offset, pile: _Pile) -> None:
    """Sort a line, a shape, or both: slurs are shapes with a line round them."""
    width, outline = element.get("stroke-width"), _trace_outline(element, at)
    if width:
        pile.lines.setdefault(float(width), []).append(_LEVEL.sub(r"\1H\3", _PLUMB.sub(r"\1V\3", outline)))
    if not width or outline.endswith("Z"):
        pile.filled.append(outline)


def _sort_sign(use: ET.Element, at: _Offset, pile: _Pile) -> None:
    x, y, *scales = (float(n) for n in NUMBERS.findall(use.get("transform", "")))
    code, scale = read_glyph(use), scales[0] if scales else 1.0
    key = code if scale == GLYPH_SCALE else f"{code}-{round(scale * 1000)}"
    size = f"{scale / GRAIN:.4g}"
    pile.outlines[key] = f'<path id="{key}" transform="scale({size},-{size})" d="{pile.shapes[code]}"/>'
    pile.signs.append(f'<use href="#{key}" x="{to_grains(x + at[0])}" y="{to_grains(y + at[1])}"/>')


def _sort_beat_note(path: ET.Element, at: _Offset, pile: _Pile) -> None:
    """Sort the note next to the tempo, an outline of its own."""
    x, y, scale = (float(n) for n in NUMBERS.findall(path.get("transform", ""))[:3])
    size = f"{scale / GRAIN:.4g}"
    where = f"translate({to_grains(x + at[0])},{to_grains(y + at[1])}) scale({size},-{size})"
    pile.signs.append(f'<path transform="{where}" d="{path.get("d")}"/>')


def _sort_text(text: ET.Element, at: _Offset, pile: _Pile) -> None:
    size = float(text.get("font-size", 0)) / GRAIN
    kinds = ["s" if text.get("font-family") == SERIF else "n"]
    kinds += ["m"] if text.get("text-anchor") == "middle" else []
    kinds += ["b"] if text.get("font-weight") else []
    style = f'class="{" ".join(kinds)}" font-size="{size:.3g}"'
    x, y = float(text.get("x", 0)) + at[0], float(text.get("y", 0)) + at[1]
    word = escape(text.text or "")
    pile.words.setdefault(style, []).append(f'<text x="{to_grains(x)}" y="{to_grains(y)}">{word}</text>')


def _trace_outline(element: ET.Element, at: _Offset) -> str:
    """Return a shape as one run of a path."""
    if element.tag == qualify("path"):
        return "".join(_move_path(element.get("d", ""), at))
    if element.tag in (qualify("polygon"), qualify("polyline")):
        numbers = read_points(element)
        end = "Z" if element.tag == qualify("polygon") else ""
        pairs = zip(numbers[::2], numbers[1::2], strict=True)
        return "M" + "L".join(f"{to_grains(x + at[0])} {to_grains(y + at[1])}" for x, y in pairs) + end
    if element.tag == qualify("ellipse"):
        cx, cy, rx, ry = (float(element.get(key, 0)) for key in ("cx", "cy", "rx", "ry"))
        left, middle, wide, high = map(to_grains, (cx - rx + at[0], cy + at[1], rx, ry))
        return f"M{left} {middle}a{wide} {high} 0 1 0 {2 * wide} 0a{wide} {high} 0 1 0 -{2 * wide} 0Z"
    x, y, width, height = (float(element.get(key, 0)) for key in ("x", "y", "width", "height"))
    left, top, wide, high = map(to_grains, (x + at[0], y + at[1], width, height))
    return f"M{left} {top}h{wide}v{high}h-{wide}Z"


def _move_path(path: str, at: _Offset) -> Iterator[str]:
    """Yield a path with every point moved, in page units; it may have M, L, H, V, C, Z and v."""
    command, count = "", 0
    for letter, number in _STEP.findall(path):
        if letter:
            command, count = letter, 0
            yield letter
            continue
        upright = command in "Vv" or (command != "H" and count % 2)
        offset = 0.0 if command == "v" else at[1] if upright else at[0]
        grains = to_grains(float(number) + offset)
        yield f" {grains}" if count and grains >= 0 else str(grains)
        count += 1
