"""A sheet as engraved music: a drawing with an id on every note."""

from __future__ import annotations

import threading
import xml.etree.ElementTree as ET
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path

import verovio

from fillwright.music.phrase import Part
from fillwright.score.engraving.counts import counts_touch
from fillwright.score.engraving.drawing import FONT, NUMBERS, format_svg
from fillwright.score.engraving.finish import Marks, finish
from fillwright.score.engraving.mei import write_mei
from fillwright.score.engraving.notation_key import Sign, name_sign, write_key_mei
from fillwright.score.sheet import Sheet, spell_graces

UNITS_PER_SPACE = 180
"""Units of the engraver from one staff line to the next (its own scale)."""

# The engraver's options. Sizes and distances are in its own half spaces, chosen on printed pages (ours, not
# measured); the font is the library's default.
_OPTIONS = {
    "adjustPageHeight": True,
    "beamMaxSlope": 0,
    "breaks": "line",
    "font": FONT,
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

_MOST_HEADS = (
    20  # note heads of a fill, grace notes among them, on one line with its groove (ours, not measured)
)
_LEAST_COUNT_GAP = 35.0  # units; counts closer than this are thinned out (ours, not measured)
_MOST_BARS = 8  # bars of groove on a line, once a phrase takes several lines (ours, not measured)

_local = threading.local()


@dataclass(frozen=True, kw_only=True, eq=False)
class Engraving:
    """Engraved music: a drawing that is parsed and finished once, when it is first needed.

    Attributes:
        raw: the drawing as the engraver made it.
        marks: what it takes to finish it.
        width_mm: width on paper.
        sparse: True if some counts are left out for want of room.
    """

    raw: str
    marks: Marks
    width_mm: float
    sparse: bool = False

    @cached_property
    def root(self) -> ET.Element:
        """The finished SVG document; note heads carry the ids of the written notes. Copy it before a change."""
        root = ET.fromstring(self.raw)
        finish(root, self.marks)
        return root

    def __getstate__(self) -> dict[str, object]:
        """Finish the drawing before it goes to another process, so that several finish theirs at a time."""
        return {**self.__dict__, "root": self.root}

    @cached_property
    def svg(self) -> str:
        """The finished SVG document as text."""
        return format_svg(self.root)

    @property
    def height_mm(self) -> float:
        """Height on paper."""
        _, _, width, height = (float(number) for number in NUMBERS.findall(self.root.get("viewBox", "")))
        return height / width * self.width_mm

    @property
    def systems(self) -> int:
        """Number of lines of music."""
        return _count_systems(self.raw)

    @property
    def counts_touch(self) -> bool:
        """True if two counts are so close that they read as one."""
        return counts_touch(self.raw, self.marks.words)


def engrave(sheet: Sheet, *, width_mm: float = 174.0, space_mm: float = 1.5) -> Engraving:
    """Engrave a sheet on one line where it fits, else with the fill on lines of its own.

    Args:
        sheet: what is engraved.
        width_mm: length of a line of music.
        space_mm: distance of two staff lines.
    """
    units = width_mm / space_mm * UNITS_PER_SPACE
    if not sheet.break_before and _is_crowded(sheet):
        sheet = sheet.break_lines(_choose_breaks(sheet))
    raw, drawn = _draw(sheet, units)
    if _counts_touch(raw, drawn):
        raw, drawn = _make_room(sheet, units)
    return Engraving(raw=raw, marks=_collect_marks(drawn), width_mm=width_mm, sparse=drawn.sparsely)


def engrave_key(signs: Sequence[Sign], *, width_mm: float = 174.0, space_mm: float = 1.5) -> Engraving:
    """Engrave a row of the notation key: one sign next to the other, each with its name below."""
    raw = _render(write_key_mei(signs), width_mm / space_mm * UNITS_PER_SPACE)
    graced = tuple(name_sign(i) for i, sign in enumerate(signs) if sign.stroke.kind.graces)
    words = {name_sign(i): sign.label for i, sign in enumerate(signs)}
    return Engraving(raw=raw, marks=Marks(words=words, graced=graced), width_mm=width_mm)


def _make_room(sheet: Sheet, units: float) -> tuple[str, Sheet]:
    """Draw a sheet whose counts would touch again: with more room for them, else with fewer counts."""
    raw, drawn = _draw(sheet, units, roomy=True)
    if _counts_touch(raw, drawn) and not sheet.break_before:
        raw, drawn = _draw(sheet.break_lines(_choose_breaks(sheet)), units)
    if _counts_touch(raw, drawn, gap=_LEAST_COUNT_GAP):
        return _draw(drawn.thin_counts(), units)
    return raw, drawn


def _draw(sheet: Sheet, units: float, *, roomy: bool = False) -> tuple[str, Sheet]:
    """Draw a sheet, with the fill on lines of its own where one line can't hold all.

    Returns:
        The engraver's drawing, and the sheet with the line breaks that it has.
    """
    raw = _render(write_mei(sheet, roomy=roomy), units)
    if not sheet.break_before and _count_systems(raw) > 1:
        sheet = sheet.break_lines(_choose_breaks(sheet))
        raw = _render(write_mei(sheet, roomy=roomy), units)
    return raw, sheet


def _count_systems(raw: str) -> int:
    return raw.count('class="system"')


def _counts_touch(raw: str, sheet: Sheet, **gap: float) -> bool:
    return counts_touch(raw, _collect_words(sheet), **gap)


def _collect_words(sheet: Sheet) -> dict[str, str]:
    return {note.id: word for note, word in sheet.counts()}


def _collect_marks(sheet: Sheet) -> Marks:
    notes = (note for bar in sheet.bars() if not sheet.is_repeat(bar) for note in bar.hands.notes())
    return Marks(
        words=_collect_words(sheet),
        fill=tuple(note.id for note in sheet.select_fill()),
        graced=tuple(note.id for note in notes if spell_graces(note)),
    )


def _is_crowded(sheet: Sheet) -> bool:
    """Return True if the fill has more heads, grace notes among them, than a line with its groove can take."""
    strokes = [hit.stroke.kind.graces + 1 for note in sheet.select_fill() for hit in note.hits]
    return len(sheet.bars()) > 2 and sum(strokes) > _MOST_HEADS


def _choose_breaks(sheet: Sheet) -> tuple[int, ...]:
    """Choose a new line for each bar of the fill and for every eight of groove; the landing joins the last."""
    fills = [bar.number for bar in sheet.bars()[1:] if bar.bar.part is Part.FILL]
    later = [bar.number for bar in sheet.bars()[1:] if bar.bar.part is Part.GROOVE and not bar.repeats]
    full = [bar.number for bar in sheet.bars()[_MOST_BARS::_MOST_BARS] if bar.bar.part is Part.GROOVE]
    return tuple(sorted({*fills, *later, *full}))


def _render(document: str, units: float) -> str:
    toolkit = _get_toolkit()
    toolkit.setOptions({**_OPTIONS, "pageWidth": round(units / 10)})
    toolkit.loadData(document)
    return str(toolkit.renderToSVG(1))


def _get_toolkit() -> verovio.toolkit:
    """Return this thread's toolkit; the resource path is per thread too, and unset it engraves blank pages."""
    if not hasattr(_local, "toolkit"):
        verovio.enableLog(verovio.LOG_OFF)
        verovio.setDefaultResourcePath(str(Path(verovio.__file__).parent / "data"))
        _local.toolkit = verovio.toolkit()
    toolkit: verovio.toolkit = _local.toolkit
    return toolkit
