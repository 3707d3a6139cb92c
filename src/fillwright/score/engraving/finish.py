"""The last hand on an engraving: what the engraver leaves a shade off, set as a publisher would."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from itertools import pairwise

from fillwright.score.engraving.details import fix_details
from fillwright.score.engraving.drawing import (
    HEAD_WIDTH,
    NUMBERS,
    SANS,
    SERIF,
    SVG,
    find_groups,
    qualify,
    read_kinds,
    read_place,
    read_points,
    read_translation,
    set_text,
)

_ROOM, _ROOM_FOR_FLAGS = 50, 140
_LABEL_ADVANCE = 157  # of one letter of the fill's label, on average
_COUNT_LETTER, _COUNT_GAP = 0.5, 70  # width of a count's letter in its size; room between two counts
_FOOT_NOTE = re.compile(r"b\d+f")
_OUR_ID = re.compile(r"b\d+([hf]\d+-\d+([gk]\d)?)?$|E[0-9A-F]{3}-")

Places = dict[str, tuple[float, float]]
"""Left edge and middle of note heads, by note id."""


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
    ET.register_namespace("", SVG)
    root = ET.fromstring(svg)
    heads = _head_places(root)
    _plain_root(root)
    for group in list(root.iter(qualify("g"))):
        fix_details(group)
    _set_counts(root, heads, marks.words)
    for system in find_groups(root, "system"):
        _set_span(system, heads, marks.fill)
        _lower_words(system)
    _lengthen(root, _ROOM_FOR_FLAGS)
    _lift_tempo(root)
    _join_slurs(root, heads, marks.graced)
    _drop_unused_ids(root)
    _stroke_lines_only(root)
    return ET.tostring(root, encoding="unicode")


def _head_places(root: ET.Element) -> Places:
    """Left edge and middle of the note head (of a chord, the lowest) by note id."""
    places: Places = {}
    for group in [*find_groups(root, "note"), *find_groups(root, "chord")]:
        head = next(iter(find_groups(group, "notehead")), None)
        if head is not None:
            places[group.get("id", "")] = read_translation(head[0])
    return places


def _plain_root(root: ET.Element) -> None:
    """No style sheet and no credit inside: colour and stroke come from where the drawing is placed."""
    for child in list(root):
        if child.tag in (qualify("desc"), qualify("style")):
            root.remove(child)
    inner = root.find(qualify("svg"))
    if inner is not None:
        del inner.attrib["color"]
        del inner.attrib["font-family"]
        for page in inner:
            page.set("fill", "currentColor")
            _remove(page, lambda group: "placeholder" in read_kinds(group))


def _remove(parent: ET.Element, unwanted: Callable[[ET.Element], bool]) -> None:
    for child in list(parent):
        if unwanted(child):
            parent.remove(child)
        else:
            _remove(child, unwanted)


def _stroke_lines_only(page: ET.Element) -> None:
    """Lines are stroked, shapes only filled: a hairline round a beam would print as a fatter beam."""
    for element in page.iter():
        if "stroke-width" in element.attrib:
            element.set("stroke", "currentColor")


def _drop_unused_ids(root: ET.Element) -> None:
    """Only notes and repeated bars keep their ids; the engraver's own say nothing."""
    for group in root.iter(qualify("g")):
        if "id" in group.attrib and not _OUR_ID.match(group.attrib["id"]):
            del group.attrib["id"]
    root.attrib.pop("id", None)
    for element in root.iter():
        element.text = element.text.strip() if element.text and not element.text.strip() else element.text
        element.tail = None


def _set_counts(root: ET.Element, heads: Places, words: Mapping[str, str]) -> None:
    """The word of each count under the middle of its note head, in place of the one that made room for it."""
    for group in root.iter(qualify("g")):
        word = words.get(group.get("id", ""))
        for verse in group if word else ():
            if "verse" in read_kinds(verse):
                for text in verse.iter(qualify("text")):
                    text.text = word
                    text.set("x", f"{heads[group.attrib['id']][0] + HEAD_WIDTH / 2:g}")
                    text.set("text-anchor", "middle")


def _lower_words(system: ET.Element) -> None:
    """Letters and counts a little lower, and clear of the flags of the feet where there are any."""
    feet = (note for note in system.iter(qualify("g")) if _FOOT_NOTE.match(note.get("id", "")))
    lower = _ROOM_FOR_FLAGS if any(find_groups(note, "flag") for note in feet) else _ROOM
    for group in [*find_groups(system, "stick"), *find_groups(system, "verse")]:
        for text in group.iter(qualify("text")):
            text.set("y", f"{float(text.get('y', 0)) + lower:g}")


def _lengthen(root: ET.Element, more: float) -> None:
    """The page longer by some of the drawing's units."""
    for drawing, scale in ((root, 10), (root.find(qualify("svg")), 1)):
        if drawing is not None:
            left, top, width, height = NUMBERS.findall(drawing.get("viewBox", ""))
            drawing.set("viewBox", f"{left} {top} {width} {float(height) + more / scale:g}")


def _lift_tempo(root: ET.Element) -> None:
    """The tempo stands clear above the brackets of its bar."""
    for measure in find_groups(root, "measure"):
        tempo = next(iter(find_groups(measure, "tempo")), None)
        lines = list(measure.iter(qualify("polyline")))
        text = tempo.find(qualify("text")) if tempo is not None else None
        if tempo is None or text is None or not lines:
            continue
        top = min(y for line in lines for y in read_points(line)[1::2]) - 280
        lift = min(0.0, top - read_place(text)[1])
        tempo.set("transform", f"translate(0, {lift:g})")


def _set_span(system: ET.Element, heads: Places, fill: tuple[str, ...]) -> None:
    """The fill's label with a hairline over the strokes it takes on this line, closed where the fill ends."""
    group = next(iter(find_groups(system, "span")), None)
    if group is None:
        return
    here = {g.get("id") for g in system.iter(qualify("g"))}
    mine = [note for note in fill if note in here]
    dash = group.find(qualify("rect"))
    set_text(group, family=SERIF, size=330, weight="600")
    for child in list(group):
        if child.tag != qualify("text"):
            group.remove(child)
    text = group.find(qualify("text"))
    if not mine:
        return
    last = mine[-1]
    if text is not None:
        x, y = read_place(text)
        y -= 105
        start = x + _LABEL_ADVANCE * len(text.text or "") + 90
    elif dash is not None:  # a later line of the fill, without the label
        start, y = heads[mine[0]][0], read_place(dash)[1] - 72
    else:
        return
    end = heads[last][0] + HEAD_WIDTH
    if end > start + 100:
        closing = "v110" if last == fill[-1] else ""
        path = f"M{start:g} {y:g} H{end:g} {closing}"
        ET.SubElement(group, qualify("path"), {"d": path, "stroke-width": "14", "fill": "none"})


def _join_slurs(root: ET.Element, heads: Places, graced: tuple[str, ...]) -> None:
    """A shallow slur from the first grace note to its main note, clear of a kick below."""
    for group, note in zip(find_groups(root, "slur"), graced, strict=True):
        grace, main = heads[f"{note}g0"], heads[note]
        x1, y1 = grace[0] + 70, grace[1] + 100
        x2, y2 = main[0] + 40, main[1] + 122
        ET.SubElement(group, qualify("path"), {"d": _arc(x1, y1, x2, y2), "stroke-width": "6"})


def _arc(x1: float, y1: float, x2: float, y2: float) -> str:
    """A slur's outline, thicker in the middle."""
    third = (x2 - x1) / 3
    low, thick = 62, 26
    return (
        f"M{x1:g} {y1:g} C{x1 + third:.0f} {y1 + low:g} {x2 - third:.0f} {y2 + low:g} {x2:g} {y2:g} "
        f"C{x2 - third:.0f} {y2 + low + thick:g} {x1 + third:.0f} {y1 + low + thick:g} {x1:g} {y1:g}Z"
    )


def counts_touch(svg: str, *, gap: float = _COUNT_GAP) -> bool:
    """Whether two counts of a finished engraving stand so close that they read as one.

    Args:
        svg: of the engraving.
        gap: the least room between two, in units of the drawing.
    """
    rows: dict[str, list[tuple[float, float]]] = {}
    for text in ET.fromstring(svg).iter(qualify("text")):
        if text.get("text-anchor") == "middle" and text.get("font-family") == SANS:
            half = len(text.text or "") * float(text.get("font-size", 0)) * _COUNT_LETTER / 2
            rows.setdefault(text.get("y", ""), []).append((read_place(text)[0], half))
    return any(
        right - left < half_left + half_right + gap
        for row in rows.values()
        for (left, half_left), (right, half_right) in pairwise(sorted(row))
    )
