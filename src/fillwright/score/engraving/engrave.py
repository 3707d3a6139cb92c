"""A sheet as engraved music, SVG with an id on every note."""

from __future__ import annotations

import re
import threading
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import verovio

from fillwright.music.phrase import Part
from fillwright.score.engraving.finish import Marks, counts_touch, finish
from fillwright.score.engraving.mei import write_mei
from fillwright.score.engraving.notation_key import Sign, name_sign, write_key_mei
from fillwright.score.sheet import Sheet, spell_graces

UNITS_PER_SPACE = 180
"""Units of the engraver from one staff line to the next."""

_OPTIONS = {
    "adjustPageHeight": True,
    "beamMaxSlope": 0,
    "breaks": "line",
    "font": "Leland",
    "footer": "none",
    "graceFactor": 0.6,
    "header": "none",
    "lyricSize": 3.4,
    "lyricTopMinMargin": 2.2,
    "minLastJustification": 0,
    "pageHeight": 60000,
    "pageMarginBottom": 10,
    "pageMarginLeft": 0,
    "pageMarginRight": 0,
    "pageMarginTop": 10,
    "scale": 100,
    "smuflTextFont": "none",
    "spacingSystem": 6,
    "svgRemoveXlink": True,
    "svgViewBox": True,
    "xmlIdSeed": 1,
}

_MOST_HEADS = 20
_LEAST_COUNT_GAP = 35.0  # closer, counts are left out rather than run together
_MOST_BARS = 8  # of groove on a line, once a phrase takes several

_local = threading.local()


@dataclass(frozen=True, slots=True, kw_only=True)
class Engraving:
    """Engraved music.

    Attributes:
        svg: a whole SVG document; note heads and chords carry the ids of the written notes.
        width_mm: its width on paper.
        height_mm: its height on paper.
        systems: how many lines of music it has.
        sparse: whether some counts are left out for want of room.
    """

    svg: str
    width_mm: float
    height_mm: float
    systems: int
    sparse: bool = False


def engrave(sheet: Sheet, *, width_mm: float = 174.0, space_mm: float = 1.5) -> Engraving:
    """Engrave a sheet on one line where it fits, else with the fill on lines of its own.

    Args:
        sheet: what is engraved.
        width_mm: the measure.
        space_mm: distance of two staff lines.
    """
    units = width_mm / space_mm * UNITS_PER_SPACE
    if not sheet.break_before and _is_crowded(sheet):
        sheet = sheet.broken(_breaks(sheet))
    finished, drawn = _finished(sheet, units)
    if counts_touch(finished):
        finished, drawn = _with_room(sheet, units)
    return replace(_engraving(finished, width_mm), sparse=drawn.sparsely)


def _with_room(sheet: Sheet, units: float) -> tuple[str, Sheet]:
    """A drawing whose counts would touch, spaced by the notes alone, with more room for them, or with fewer."""
    made = _finished(sheet, units, roomy=True)
    if counts_touch(made[0]) and not sheet.break_before:
        made = _finished(sheet.broken(_breaks(sheet)), units)
    return _finished(made[1].sparse(), units) if counts_touch(made[0], gap=_LEAST_COUNT_GAP) else made


def _finished(sheet: Sheet, units: float, *, roomy: bool = False) -> tuple[str, Sheet]:
    """A drawing and what was drawn: with the fill on lines of its own where one line can't hold all."""
    svg = _render(write_mei(sheet, roomy=roomy), units)
    if not sheet.break_before and _systems(svg) > 1:
        sheet = sheet.broken(_breaks(sheet))
        svg = _render(write_mei(sheet, roomy=roomy), units)
    return finish(svg, _marks(sheet)), sheet


def engrave_key(signs: Sequence[Sign], *, width_mm: float = 174.0, space_mm: float = 1.5) -> Engraving:
    """Engrave a kit key: one sign beside the other, each with its name below."""
    svg = _render(write_key_mei(signs), width_mm / space_mm * UNITS_PER_SPACE)
    graced = tuple(name_sign(i) for i, sign in enumerate(signs) if sign.stroke.kind.graces)
    words = {name_sign(i): sign.label for i, sign in enumerate(signs)}
    return _engraving(finish(svg, Marks(words=words, graced=graced)), width_mm)


def _engraving(svg: str, width_mm: float) -> Engraving:
    width, height = re.findall(r'viewBox="0 0 (\S+) (\S+)"', svg)[0]
    return Engraving(
        svg=svg,
        width_mm=width_mm,
        height_mm=float(height) / float(width) * width_mm,
        systems=_systems(svg),
    )


def _marks(sheet: Sheet) -> Marks:
    notes = (note for bar in sheet.bars() if not sheet.is_repeat(bar) for note in bar.hands.notes())
    return Marks(
        words={note.id: word for note, word in sheet.counts()},
        fill=tuple(note.id for note in sheet.fill_notes()),
        graced=tuple(note.id for note in notes if spell_graces(note)),
    )


def _is_crowded(sheet: Sheet) -> bool:
    """Whether the fill has more heads, grace notes among them, than a line with its groove can take."""
    strokes = [hit.stroke.kind.graces + 1 for note in sheet.fill_notes() for hit in note.hits]
    return len(sheet.bars()) > 2 and sum(strokes) > _MOST_HEADS


def _breaks(sheet: Sheet) -> tuple[int, ...]:
    """A new line for each bar of the fill and for every eight of groove; the landing stays with the last."""
    fills = [bar.number for bar in sheet.bars()[1:] if bar.bar.part is Part.FILL]
    later = [bar.number for bar in sheet.bars()[1:] if bar.bar.part is Part.GROOVE and not bar.repeats]
    full = [bar.number for bar in sheet.bars()[_MOST_BARS::_MOST_BARS] if bar.bar.part is Part.GROOVE]
    return tuple(sorted({*fills, *later, *full}))


def _systems(svg: str) -> int:
    return svg.count('class="system"')


def _render(document: str, units: float) -> str:
    toolkit = _toolkit()
    toolkit.setOptions({**_OPTIONS, "pageWidth": round(units / 10)})
    toolkit.loadData(document)
    return str(toolkit.renderToSVG(1))


def _toolkit() -> verovio.toolkit:
    """One toolkit a thread; its resource path is per thread as well, and unset would engrave blank pages."""
    if not hasattr(_local, "toolkit"):
        verovio.enableLog(verovio.LOG_OFF)
        verovio.setDefaultResourcePath(str(Path(verovio.__file__).parent / "data"))
        _local.toolkit = verovio.toolkit()
    toolkit: verovio.toolkit = _local.toolkit
    return toolkit
