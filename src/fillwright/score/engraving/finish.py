"""The last corrections of an engraving: what the engraver leaves a shade off, set as a publisher would."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from collections.abc import Callable, Mapping
from dataclasses import dataclass

from fillwright.score.engraving.details import fix_details
from fillwright.score.engraving.drawing import (
    HEAD_WIDTH,
    NUMBERS,
    SERIF,
    find_groups,
    qualify,
    read_kinds,
    read_place,
    read_points,
    read_translation,
    set_text,
)

# In drawing units, 180 to a staff space (ours, not measured).
_ROOM, _ROOM_FOR_FLAGS = 50, 140  # how much lower letters and counts go; the same below flags of the feet
_LABEL_ADVANCE = 157  # average width of a letter of the fill's label
_FOOT_NOTE = re.compile(r"b\d+f")
_OUR_ID = re.compile(r"b\d+([hf]\d+-\d+([gk]\d)?)?$|E[0-9A-F]{3}-")

Places = dict[str, tuple[float, float]]
"""Left edge and middle of note heads, by note id."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Marks:
    """The marks on a drawing that the engraver does not make.

    Attributes:
        words: the word to print below a note, by the note's id.
        fill: ids of the notes that the fill's line runs over, in order.
        graced: ids of the notes with grace notes, in order.
    """

    words: Mapping[str, str]
    fill: tuple[str, ...] = ()
    graced: tuple[str, ...] = ()


def finish(root: ET.Element, marks: Marks) -> None:
    """Finish an engraving in place, for paper and for the page.

    Args:
        root: the drawing as the engraver made it.
        marks: to add.
    """
    heads = _find_heads(root)
    _strip_root(root)
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


def _find_heads(root: ET.Element) -> Places:
    """Find left edge and middle of each note head (of a chord, the lowest) by note id."""
    places: Places = {}
    for group in [*find_groups(root, "note"), *find_groups(root, "chord")]:
        head = next(iter(find_groups(group, "notehead")), None)
        if head is not None:
            places[group.get("id", "")] = read_translation(head[0])
    return places


def _strip_root(root: ET.Element) -> None:
    """Remove style sheet and credit: colour and stroke come from where the drawing is placed."""
    for child in list(root):
        if child.tag in (qualify("desc"), qualify("style")):
            root.remove(child)
    inner = root.find(qualify("svg"))
    if inner is not None:
        del inner.attrib["color"]
        del inner.attrib["font-family"]
        for page in inner:
            page.set("fill", "currentColor")
            _remove_where(page, lambda group: "placeholder" in read_kinds(group))


def _remove_where(parent: ET.Element, unwanted: Callable[[ET.Element], bool]) -> None:
    for child in list(parent):
        if unwanted(child):
            parent.remove(child)
        else:
            _remove_where(child, unwanted)


def _stroke_lines_only(page: ET.Element) -> None:
    """Stroke lines and fill shapes: a hairline round a beam would print as a fatter beam."""
    for element in page.iter():
        if "stroke-width" in element.attrib:
            element.set("stroke", "currentColor")


def _drop_unused_ids(root: ET.Element) -> None:
    """Drop all ids but those of notes and repeated bars."""
    for group in root.iter(qualify("g")):
        if "id" in group.attrib and not _OUR_ID.match(group.attrib["id"]):
            del group.attrib["id"]
    root.attrib.pop("id", None)
    for element in root.iter():
        element.text = element.text.strip() if element.text and not element.text.strip() else element.text
        element.tail = None


def _set_counts(root: ET.Element, heads: Places, words: Mapping[str, str]) -> None:
    """Set each count under the middle of its note head, in place of the word that made room for it."""
    for group in root.iter(qualify("g")):
        word = words.get(group.get("id", ""))
        for verse in group if word else ():
            if "verse" in read_kinds(verse):
                for text in verse.iter(qualify("text")):
                    text.text = word
                    text.set("x", f"{heads[group.attrib['id']][0] + HEAD_WIDTH / 2:g}")
                    text.set("text-anchor", "middle")


def _lower_words(system: ET.Element) -> None:
    """Move letters and counts a little lower, and clear of the flags of the feet where there are any."""
    feet = (note for note in system.iter(qualify("g")) if _FOOT_NOTE.match(note.get("id", "")))
    lower = _ROOM_FOR_FLAGS if any(find_groups(note, "flag") for note in feet) else _ROOM
    for group in [*find_groups(system, "stick"), *find_groups(system, "verse")]:
        for text in group.iter(qualify("text")):
            text.set("y", f"{float(text.get('y', 0)) + lower:g}")


def _lengthen(root: ET.Element, more: float) -> None:
    """Make the page longer by some drawing units."""
    for drawing, scale in ((root, 10), (root.find(qualify("svg")), 1)):
        if drawing is not None:
            left, top, width, height = NUMBERS.findall(drawing.get("viewBox", ""))
            drawing.set("viewBox", f"{left} {top} {width} {float(height) + more / scale:g}")


def _lift_tempo(root: ET.Element) -> None:
    """Lift the tempo clear of the brackets of its bar."""
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
    """Draw the fill's label with a hairline over its strokes on this line, closed where the fill ends."""
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
    """Draw shallow slurs from first grace note to main note, clear of a kick below."""
    for group, note in zip(find_groups(root, "slur"), graced, strict=True):
        grace, main = heads[f"{note}g0"], heads[note]
        x1, y1 = grace[0] + 70, grace[1] + 100
        x2, y2 = main[0] + 40, main[1] + 122
        ET.SubElement(group, qualify("path"), {"d": _draw_arc(x1, y1, x2, y2), "stroke-width": "6"})


def _draw_arc(x1: float, y1: float, x2: float, y2: float) -> str:
    """Return a slur's outline, thicker in the middle."""
    third = (x2 - x1) / 3
    low, thick = 62, 26
    return (
        f"M{x1:g} {y1:g} C{x1 + third:.0f} {y1 + low:g} {x2 - third:.0f} {y2 + low:g} {x2:g} {y2:g} "
        f"C{x2 - third:.0f} {y2 + low + thick:g} {x1 + third:.0f} {y1 + low + thick:g} {x1:g} {y1:g}Z"
    )
