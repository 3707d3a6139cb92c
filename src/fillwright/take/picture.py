"""The picture of a take: the music with a ruler over each line, tempo by bar, unevenness of the hands."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from collections.abc import Iterator, Mapping, Sequence
from copy import deepcopy
from dataclasses import dataclass

from fillwright.listen.report.model import Report
from fillwright.score.engraving.drawing import (
    HEAD_WIDTH,
    NUMBERS,
    SVG,
    find_groups,
    qualify,
    read_place,
    read_points,
    read_translation,
)
from fillwright.score.engraving.engrave import engrave
from fillwright.take import marks as mark
from fillwright.take.charts import CHART_HEIGHT, draw_charts
from fillwright.take.notes import build_sheet, find_note_ids
from fillwright.take.reference import Reference
from fillwright.take.ruler import Ruler, draw_extras, draw_rows, fit_ruler

WIDTH_MM = 174.0  # between the margins of an A4 page; ours
_UNITS = WIDTH_MM * mark.PER_MM
_GAP, _LINE_GAP = 260.0, 700.0  # between ruler and music, and between a line and the next ruler
_BELOW_ROWS = 270.0  # for extra strokes and missing grace notes
_LEGEND_HEIGHT = 420.0  # lengths here are in the engraver's units, 1/120 mm; ours
_OVER, _UNDER = 300.0, 90.0  # what a glyph or a word reaches over and under its own place
_EMPTY = f'<svg xmlns="{SVG}" version="1.1" overflow="visible"><svg><g class="page-margin"/></svg></svg>'
_ABSOLUTE = re.compile(r"M(-?[\d.]+) (-?[\d.]+)")


@dataclass(frozen=True, slots=True, kw_only=True)
class TakeDrawing:
    """An SVG document, and its height on paper; it is `WIDTH_MM` wide."""

    svg: str
    height_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class TakePicture:
    """The picture of a take in one drawing, and the same cut between its lines of music, for pages.

    Attributes:
        full: everything.
        parts: from top to bottom.
    """

    full: TakeDrawing
    parts: tuple[TakeDrawing, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Block:
    """A piece that stays together: what is drawn, downwards from 0, and its height."""

    drawn: tuple[ET.Element, ...]
    height: float


def draw_take(report: Report, reference: Reference) -> TakePicture:
    """Draw a take.

    Args:
        report: on the take.
        reference: what was to be played; if that can't be engraved, the charts come without music.
    """
    ET.register_namespace("", SVG)
    sheet = build_sheet(reference)
    if sheet is None:
        return _compose(ET.fromstring(_EMPTY), _build_charts(report, None))
    root = deepcopy(engrave(sheet, width_mm=WIDTH_MM).root)
    ids = find_note_ids(sheet, reference.expected)
    heads = _find_heads(root)
    places = {index: heads[note] for index, note in enumerate(ids) if note in heads}
    systems = find_groups(root, "system")
    lines = [_select_places(system, places, ids) for system in systems]
    ruler = fit_ruler(report, lines)
    blocks = [_place_line(report, ruler, line, system) for system, line in zip(systems, lines, strict=True)]
    return _compose(root, [*blocks, *_build_charts(report, ruler)])


def _place_line(report: Report, ruler: Ruler, places: Mapping[int, float], system: ET.Element) -> _Block:
    """Return a line of music with its ruler."""
    top, bottom = _measure_extent(system)
    y = 0.0
    drawn: list[ET.Element] = []
    if report.strokes:
        drawn += _parse(_draw_ruler(report, ruler, places))
        y = ruler.height + _GAP + (_BELOW_ROWS if _has_below(report, places) else 0.0)
    system.set("transform", f"translate(0, {y - top:.0f})")
    return _Block(drawn=(*drawn, system), height=y + bottom - top)


def _build_charts(report: Report, ruler: Ruler | None) -> list[_Block]:
    """Return the legend and the charts; nothing for a take that is not scored."""
    if not report.strokes:
        return []
    drawn = draw_charts(report, report.tempo_target, top=_LEGEND_HEIGHT if ruler else 0.0, width=_UNITS)
    if ruler:
        drawn = _draw_legend(report, ruler) + drawn
    height = CHART_HEIGHT + (_LEGEND_HEIGHT if ruler else 0.0)
    return [_Block(drawn=tuple(_parse(drawn)), height=height)]


def _compose(root: ET.Element, blocks: Sequence[_Block]) -> TakePicture:
    return TakePicture(
        full=_build_document(root, blocks), parts=tuple(_build_document(root, [block]) for block in blocks)
    )


def _build_document(root: ET.Element, blocks: Sequence[_Block]) -> TakeDrawing:
    """Return blocks one below the other, as a document with the outlines of its music."""
    page = next(iter(find_groups(root, "page-margin")))
    for child in list(page):
        page.remove(child)
    y = 0.0
    for block in blocks:
        group = ET.SubElement(page, qualify("g"), {"transform": f"translate(0, {y:.0f})"})
        group.extend(block.drawn)
        y += block.height + _LINE_GAP
    height = max(y - _LINE_GAP, 0.0) + 200
    root.set("viewBox", f"0 0 {_UNITS / 10:.0f} {height / 10:.0f}")
    root.set("color", mark.INK)
    for inner in root.findall(qualify("svg")):
        inner.set("viewBox", f"0 0 {_UNITS:.0f} {height:.0f}")
    return TakeDrawing(svg=ET.tostring(root, encoding="unicode"), height_mm=height / mark.PER_MM)


def _select_places(system: ET.Element, places: Mapping[int, float], ids: Sequence[str]) -> dict[int, float]:
    """Return x by stroke, for the strokes whose notes are on a line of music."""
    here = {group.get("id") for group in system.iter(qualify("g"))}
    return {index: x for index, x in places.items() if ids[index] in here}


def _has_below(report: Report, places: Mapping[int, float]) -> bool:
    """Return True if a mark is needed below the rows over the line of these strokes."""
    graces = any(stroke.grace and stroke.index in places for stroke in report.missing)
    bars = {(stroke.repetition, stroke.bar) for stroke in report.strokes if stroke.index in places}
    return graces or any((extra.repetition, extra.bar) in bars for extra in report.extra)


def _draw_ruler(report: Report, ruler: Ruler, places: Mapping[int, float]) -> list[str]:
    strokes = [stroke for stroke in report.strokes if stroke.index in places]
    drawn = draw_rows(ruler, strokes, places, top=0.0, right=_UNITS)
    bars = {(stroke.repetition, stroke.bar) for stroke in strokes}
    clock = sorted({(s.repetition, s.written_seconds, places[s.index]) for s in strokes if not s.grace})
    last = {repetition: seconds for repetition, seconds, _ in clock}
    clock = sorted(
        [
            *clock,
            *((repetition, seconds + 60 / report.tempo_target, _UNITS) for repetition, seconds in last.items()),
        ]
    )
    mine = [extra for extra in report.extra if (extra.repetition, extra.bar) in bars]
    return drawn + draw_extras(mine, clock, top=ruler.height + 30)


def _draw_legend(report: Report, ruler: Ruler) -> list[str]:
    """Return the legend: each mark that occurs with its meaning, and the scale."""
    y = 60.0
    length_ms = ruler.ms_per_mm * 5
    wide = 5 * mark.PER_MM
    drawn = [
        mark.draw_line(300, y - 130, 300, y + 130, width=11, stroke=mark.RULE),
        mark.draw_line(300, y, 300 - wide / 2, y, width=26, stroke=mark.INK),
        mark.draw_line(300 - wide / 2, y - 110, 300 - wide / 2, y + 110, width=44, stroke=mark.INK),
        mark.draw_text(480, y + 90, f"early by {length_ms / 2:g} ms", size=270),
    ]
    x = 2550.0
    samples: list[tuple[str, str]] = []
    if {"R", "L"} & set(ruler.limbs):
        drawn += [
            mark.draw_line(x, y, x + 420, y, width=26, stroke=mark.RIGHT),
            mark.draw_text(x + 520, y + 90, "right hand", size=270),
            mark.draw_line(x + 2000, y, x + 2420, y, width=26, stroke=mark.LEFT, dash=mark.DASH),
            mark.draw_text(x + 2520, y + 90, "left hand", size=270),
        ]
        x += 4050
    if report.missing:
        samples.append((mark.draw_ring(0, 0, 105, stroke=mark.INK, width=26), "missing"))
    if any(stroke.played and stroke.lag_ms is None and not stroke.grace for stroke in report.strokes):
        samples.append((mark.draw_dot(0, 0, 42, fill=mark.INK), "timing uncertain"))
    if report.extra:
        samples.append((mark.draw_wedge(0, -75, 150, fill=mark.INK), "extra"))
    if report.wrong_surface:
        samples.append((mark.draw_square(0, 0, 250, stroke=mark.INK), "on another drum"))
    if len(report.repetitions) > 1:
        samples.append((mark.draw_line(0, -75, 0, 75, width=10, stroke=mark.INK), "one repetition"))
    for sample, words in samples:
        drawn.append(f'<g transform="translate({x:.0f} {y:.0f})">{sample}</g>')
        drawn.append(mark.draw_text(x + 220, y + 90, words, size=270))
        x += 560 + 128 * len(words)
    return drawn


def _parse(drawn: Sequence[str]) -> Iterator[ET.Element]:
    yield from ET.fromstring(f'<g xmlns="{SVG}">{"".join(drawn)}</g>')


def _find_heads(root: ET.Element) -> dict[str, float]:
    """Return the x of each note head's middle by note id."""
    heads = {}
    for group in [*find_groups(root, "note"), *find_groups(root, "chord")]:
        head = next(iter(find_groups(group, "notehead")), None)
        if head is not None:
            scale = float(NUMBERS.findall(head[0].get("transform", ""))[2]) / 0.72
            heads[group.get("id", "")] = read_translation(head[0])[0] + HEAD_WIDTH / 2 * scale
    return heads


def _measure_extent(system: ET.Element) -> tuple[float, float]:
    """Return the highest and the lowest y of a line of music."""
    ys: list[float] = []
    for element in system.iter():
        if element.tag == qualify("use"):
            y = read_translation(element)[1]
            ys += [y - _OVER, y + _UNDER]
        elif element.tag == qualify("text"):
            y = read_place(element)[1]
            ys += [y - _OVER, y + _UNDER]
        elif element.tag in (qualify("polyline"), qualify("polygon")):
            ys += read_points(element)[1::2]
        elif element.tag == qualify("path") and "transform" not in element.attrib:
            ys += [float(y) for _, y in _ABSOLUTE.findall(element.get("d", ""))]
    lifted = [group for group in find_groups(system, "tempo") if group.get("transform")]
    for group in lifted:
        lift = read_translation(group)[1]
        ys += [read_place(text)[1] + lift - _OVER for text in group.iter(qualify("text"))]
    return min(ys), max(ys)
