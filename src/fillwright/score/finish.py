"""The last hand on an engraving: what the engraver leaves a shade off, set as a publisher would.

Every function here takes the parsed drawing and puts one thing right; distances are in the drawing's own units,
180 to a staff space.
"""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

SERIF = "'Source Serif Pro', 'Source Serif 4', Georgia, serif"
SANS = "'Source Sans Pro', 'Source Sans 3', Helvetica, sans-serif"
SMUFL_FONT = "Leland"

_SVG = "http://www.w3.org/2000/svg"
_SPACE = 180
_GLYPH = 0.72  # glyphs are drawn a thousand units to four spaces
_HEAD_WIDTH = 325 * _GLYPH
_RIGHT_BRACKET = "E26B"
_BUZZ = "E22A"
_ROOM_FOR_FLAGS = 70
_LABEL_ADVANCE = 157  # of one letter of the fill's label, on average
Places = dict[str, tuple[float, float]]
_NUMBERS = re.compile(r"-?\d+(?:\.\d+)?")


@dataclass(frozen=True, slots=True, kw_only=True)
class Marks:
    """What the drawing itself does not say.

    Attributes:
        words: the word to print below a note, by the note's id.
        fill: ids of the notes that the fill's line runs over, in order.
        graced: ids of the notes with grace notes, in order.
    """

    words: Mapping[str, str]
    fill: tuple[str, ...] = ()
    graced: tuple[str, ...] = ()


def finish(svg: str, marks: Marks) -> str:
    """An engraving as it goes to paper and to the page.

    Args:
        svg: as the engraver drew it.
        marks: what the drawing itself does not say.
    """
    ET.register_namespace("", _SVG)
    root = ET.fromstring(svg)
    heads = _head_places(root)
    _plain_root(root)
    for system in root.iter(_tag("g")):
        if system.get("class") == "system":
            _set_span(system, heads, marks.fill)
    for parent in list(root.iter(_tag("g"))):
        kinds = parent.get("class", "").split()
        if "tempo" in kinds:
            _set_tempo(parent)
        elif "stick" in kinds:
            _set_text(parent, family=SERIF, size=330)
        elif "verse" in kinds:
            _set_text(parent, family=SANS, size=285, soft=True)
        elif "slur" in kinds:
            _set_slur(parent)
        elif "measure" in kinds:
            _level_brackets(parent)
        elif "tuplet" in kinds:
            _set_tuplet(parent)
        elif "stem" in kinds:
            _shrink_buzz(parent)
        elif "notehead" in kinds:
            _clear_ghost(parent)
    _set_counts(root, heads, marks.words)
    _lower_words(root)
    _lift_tempo(root)
    _join_slurs(root, heads, marks.graced)
    _drop_unused_ids(root)
    return ET.tostring(root, encoding="unicode")


def _tag(name: str) -> str:
    return f"{{{_SVG}}}{name}"


def _head_places(root: ET.Element) -> Places:
    """Left edge and middle of the note head (of a chord, the lowest) by note id."""
    places: Places = {}
    for group in root.iter(_tag("g")):
        if group.get("class") not in ("note", "chord"):
            continue
        for head in group.iter(_tag("g")):
            if head.get("class") == "notehead":
                places[group.get("id", "")] = _translation(head[0])
                break
    return places


def _translation(use: ET.Element) -> tuple[float, float]:
    x, y = _NUMBERS.findall(use.get("transform", ""))[:2]
    return float(x), float(y)


def _plain_root(root: ET.Element) -> None:
    """No style sheet and no credit inside: colour and stroke come from where the drawing is placed."""
    for child in list(root):
        if child.tag in (_tag("desc"), _tag("style")):
            root.remove(child)
    inner = root.find(_tag("svg"))
    if inner is not None:
        del inner.attrib["color"]
        del inner.attrib["font-family"]
        for page in inner:
            page.set("fill", "currentColor")
            page.set("stroke", "currentColor")
            _remove(page, lambda g: "placeholder" in g.get("class", ""))


def _remove(parent: ET.Element, unwanted: object) -> None:
    for child in list(parent):
        if callable(unwanted) and unwanted(child):
            parent.remove(child)
        else:
            _remove(child, unwanted)


def _drop_unused_ids(root: ET.Element) -> None:
    """Only notes and repeated bars keep their ids; the engraver's own say nothing."""
    for group in root.iter(_tag("g")):
        if "id" in group.attrib and not re.match(r"b\d|E[0-9A-F]{3}", group.attrib["id"]):
            del group.attrib["id"]
    root.attrib.pop("id", None)
    for element in root.iter():
        element.text = element.text.strip() if element.text and not element.text.strip() else element.text
        element.tail = None


def _words_of(text: ET.Element) -> str:
    return "".join(part.strip("\u00a0 \n") for part in text.itertext())


def _set_text(
    group: ET.Element, *, family: str, size: float, soft: bool = False, weight: str = "normal"
) -> None:
    """Plain text in our own face, in place of nested spans."""
    for text in group.iter(_tag("text")):
        words = _words_of(text)
        small = any(t.get("font-size") == "266px" for t in text.iter(_tag("tspan")))
        for child in list(text):
            text.remove(child)
        text.text = words
        text.set("font-size", f"{size * 0.82 if small else size:g}")
        text.set("font-family", family)
        text.set("stroke", "none")
        if weight != "normal":
            text.set("font-weight", weight)
        if soft:
            text.set("opacity", "0.75")


def _set_counts(root: ET.Element, heads: Places, words: Mapping[str, str]) -> None:
    """The word of each count under the middle of its note head, in place of the one that made room for it."""
    for group in root.iter(_tag("g")):
        word = words.get(group.get("id", ""))
        for verse in group if word else ():
            if verse.get("class") == "verse":
                for text in verse.iter(_tag("text")):
                    text.text = word
                    text.set("x", f"{heads[group.attrib['id']][0] + _HEAD_WIDTH / 2:g}")
                    text.set("text-anchor", "middle")


def _lower_words(root: ET.Element) -> None:
    """Letters and counts a little lower, clear of the flags of the feet, and the page as much longer."""
    for group in root.iter(_tag("g")):
        if {"stick", "verse"} & set(group.get("class", "").split()):
            for text in group.iter(_tag("text")):
                text.set("y", f"{float(text.get('y', 0)) + _ROOM_FOR_FLAGS:g}")
    for drawing, scale in ((root, 10), (root.find(_tag("svg")), 1)):
        if drawing is not None:
            left, top, width, height = _NUMBERS.findall(drawing.get("viewBox", ""))
            taller = float(height) + _ROOM_FOR_FLAGS / scale
            drawing.set("viewBox", f"{left} {top} {width} {taller:g}")


def _lift_tempo(root: ET.Element) -> None:
    """The tempo stands clear above the brackets of its bar."""
    for measure in root.iter(_tag("g")):
        if measure.get("class") != "measure":
            continue
        tempo = next((g for g in measure if g.get("class") == "tempo"), None)
        lines = list(measure.iter(_tag("polyline")))
        text = tempo.find(_tag("text")) if tempo is not None else None
        if tempo is None or text is None or not lines:
            continue
        top = min(y for line in lines for y in _points(line)[1::2]) - 235
        lift = min(0.0, top - float(text.get("y", 0)))
        tempo.set("transform", f"translate(0, {lift:g})")


@cache
def _outline(code: str) -> str:
    """The outline of a music sign, from the engraver's own font data."""
    drawing = files("verovio").joinpath("data", SMUFL_FONT, f"{code}.xml").read_text("utf-8")
    return str(re.findall(r' d="([^"]+)"', drawing)[0])


def _set_tempo(group: ET.Element) -> None:
    """The beat note as an outline, so that no page needs a music font, and the words beside it."""
    text = next(group.iter(_tag("text")))
    x, y = float(text.get("x", 0)), float(text.get("y", 0))
    whole = _words_of(text)
    signs = [char for char in whole if ord(char) >= 0xE000]
    words = "".join(char for char in whole if ord(char) < 0xE000 and char != "\u2009").strip()
    group.remove(text)
    scale = 0.42
    for sign in signs:
        code = f"{ord(sign):X}"
        shape = ET.SubElement(group, _tag("path"), d=_outline(code), stroke="none")
        shape.set("transform", f"translate({x:g}, {y:g}) scale({scale}, {-scale})")
        x += (425 + 60) * scale if code == "ECA5" else (155 + 60) * scale
    line = ET.SubElement(group, _tag("text"), x=f"{x + 40:g}", y=f"{y:g}")
    line.set("font-size", "330")
    line.set("font-family", SERIF)
    line.set("stroke", "none")
    line.text = words


def _set_span(system: ET.Element, heads: Places, fill: tuple[str, ...]) -> None:
    """The fill's label with a hairline over the strokes it takes on this line, closed where the fill ends."""
    group = next((g for g in system.iter(_tag("g")) if "span" in g.get("class", "").split()), None)
    if group is None:
        return
    _set_text(group, family=SERIF, size=330, weight="600")
    for child in list(group):
        if child.tag != _tag("text"):
            group.remove(child)
    text = group.find(_tag("text"))
    here = {g.get("id") for g in system.iter(_tag("g"))}
    last = next((note for note in reversed(fill) if note in here), None)
    if text is None or last is None:
        return
    x, y = float(text.get("x", 0)), float(text.get("y", 0)) - 105
    start = x + _LABEL_ADVANCE * len(text.text or "") + 90
    end = heads[last][0] + _HEAD_WIDTH
    if end > start + 100:
        closing = "v110" if last == fill[-1] else ""
        line = ET.SubElement(group, _tag("path"), d=f"M{start:g} {y:g} H{end:g} {closing}", fill="none")
        line.set("stroke-width", "14")


def _set_slur(group: ET.Element) -> None:
    """Slurs are redrawn from the heads they join: see `_join_slurs`."""
    for child in list(group):
        group.remove(child)


def _join_slurs(root: ET.Element, heads: Places, graced: tuple[str, ...]) -> None:
    """A shallow slur from the first grace note to its main note, clear of a kick below."""
    groups = [g for g in root.iter(_tag("g")) if g.get("class") == "slur"]
    for group, note in zip(groups, graced, strict=True):
        grace, main = heads[f"{note}g0"], heads[note]
        x1, y1 = grace[0] + 70, grace[1] + 100
        x2, y2 = main[0] + 40, main[1] + 122
        ET.SubElement(group, _tag("path"), {"d": _arc(x1, y1, x2, y2), "stroke-width": "6"})


def _arc(x1: float, y1: float, x2: float, y2: float) -> str:
    """A slur's outline, thicker in the middle."""
    third = (x2 - x1) / 3
    low, thick = 62, 26
    return (
        f"M{x1:g} {y1:g} C{x1 + third:.0f} {y1 + low:g} {x2 - third:.0f} {y2 + low:g} {x2:g} {y2:g} "
        f"C{x2 - third:.0f} {y2 + low + thick:g} {x1 + third:.0f} {y1 + low + thick:g} {x1:g} {y1:g}Z"
    )


def _level_brackets(measure: ET.Element) -> None:
    """The brackets of one bar lie level at one height, their numbers in the gap."""
    tuplets = [g for g in measure.iter(_tag("g")) if g.get("class") == "tuplet"]
    brackets = [(t, b) for t in tuplets for b in t if b.get("class") == "tupletBracket"]
    if not brackets:
        return
    top = min(y for _, bracket in brackets for line in bracket for y in _points(line)[1::2])
    for tuplet, bracket in brackets:
        for line in bracket:
            outer, _, _, _, inner, _ = _points(line)
            line.set("points", f"{outer:g},{top + 100:g} {outer:g},{top:g} {inner:g},{top:g}")
            line.set("stroke-width", "14")
        number = _tuplet_number(tuplet)
        if number is not None:
            _move(number, _translation(number)[0], top + 68)


def _points(line: ET.Element) -> list[float]:
    return [float(n) for n in _NUMBERS.findall(line.get("points", ""))]


def _tuplet_number(tuplet: ET.Element) -> ET.Element | None:
    return next((g[0] for g in tuplet if g.get("class") == "tupletNum" and len(g)), None)


def _set_tuplet(tuplet: ET.Element) -> None:
    """A number without a bracket stands clear of the beam."""
    number = _tuplet_number(tuplet)
    if number is not None and not any(g.get("class") == "tupletBracket" for g in tuplet):
        x, y = _translation(number)
        _move(number, x, y - 45)


def _shrink_buzz(stem: ET.Element) -> None:
    """The z of a buzz fits between head and beam."""
    for use in stem:
        if use.tag == _tag("use") and use.get("href", "")[1:5] == _BUZZ:
            x, y = _translation(use)
            use.set("transform", f"translate({x:g}, {y:g}) scale(0.58, 0.58)")


def _move(use: ET.Element, x: float, y: float) -> None:
    use.set("transform", f"translate({x:g}, {y:g}) scale({_GLYPH}, {_GLYPH})")


def _clear_ghost(group: ET.Element) -> None:
    """The right bracket of a ghost note stands off its stem, the left one as far from the head."""
    for use in group:
        code = use.get("href", "")[1:5]
        x, y = _translation(use)
        if code == _RIGHT_BRACKET:
            _move(use, x + 42, y)


def note_ids(svg: str) -> Iterator[str]:
    """The ids of notes and chords in an engraving, in drawing order."""
    for match in re.finditer(r'id="(b\d+[hf][^"]*)"', svg):
        yield match[1]
