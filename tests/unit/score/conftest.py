"""A drawing read back: where its words, notes and lines stand."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field

import pytest

from fillwright.score.engraving.engrave import Engraving, engrave
from fillwright.score.sheet import Sheet

_NUMBER = r"-?\d+(?:\.\d+)?"
_OF_WORDS = {"stick", "verse", "span", "tempo"}
_NARROW = set("lrtieaf1,.;:'|!-() ")


@dataclass(frozen=True, slots=True, kw_only=True)
class Word:
    """A text as it stands on the page."""

    kind: str
    text: str
    x: float
    y: float
    size: float
    family: str
    anchor: str
    system: int

    @property
    def width(self) -> float:
        """About as wide as it is printed: half its size a letter, less for narrow ones."""
        return sum(self.size * (0.34 if letter in _NARROW else 0.56) for letter in self.text)

    @property
    def left(self) -> float:
        return self.x - (self.width / 2 if self.anchor == "middle" else 0)

    @property
    def right(self) -> float:
        return self.left + self.width


@dataclass(slots=True)
class Drawing:
    """What a test asks of a drawing; distances are the engraver's, 180 to a staff space."""

    svg: str
    root: ET.Element = field(init=False)
    words: list[Word] = field(init=False, default_factory=list)
    heads: dict[str, tuple[float, float]] = field(init=False, default_factory=dict)
    shapes: list[tuple[float, float]] = field(init=False, default_factory=list)

    def __post_init__(self) -> None:
        self.root = ET.fromstring(self.svg)
        for number, system in enumerate(self.groups("system")):
            self._walk(system, "", number, 0.0)

    def _walk(self, element: ET.Element, kind: str, system: int, lift: float) -> None:
        classes = element.get("class", "").split()
        if _OF_WORDS & set(classes):
            kind = " ".join(name for name in classes if name != "dir")
        moved = re.match(rf"translate\(0, ({_NUMBER})\)$", element.get("transform", ""))
        lift += float(moved[1]) if moved else 0.0
        name = element.tag.rpartition("}")[2]
        if name == "text":
            self._word(element, kind, system, lift)
        elif name in ("use", "polygon", "polyline", "path", "rect"):
            self.shapes += places_of(element)
        if {"note", "chord"} & set(classes) and "id" in element.attrib:
            head = next(use for use in element.iter() if use.tag.endswith("use"))
            self.heads[element.attrib["id"]] = places_of(head)[0]
        for child in element:
            self._walk(child, kind, system, lift)

    def _word(self, element: ET.Element, kind: str, system: int, lift: float) -> None:
        self.words.append(
            Word(
                kind=kind,
                text=element.text or "",
                x=float(element.get("x", 0)),
                y=float(element.get("y", 0)) + lift,
                size=float(element.get("font-size", 0)),
                family=element.get("font-family", ""),
                anchor=element.get("text-anchor", "start"),
                system=system,
            )
        )

    def groups(self, kind: str) -> list[ET.Element]:
        return [g for g in self.root.iter() if kind in g.get("class", "").split()]

    def rows(self, kind: str) -> Iterator[list[Word]]:
        """Return the words of a kind, line of music by line of music, from left to right."""
        matches = [word for word in self.words if kind in word.kind.split()]
        for system in sorted({word.system for word in matches}):
            yield sorted((word for word in matches if word.system == system), key=lambda word: word.x)

    @property
    def ids(self) -> list[str]:
        return [g.attrib["id"] for g in self.root.iter() if re.match(r"b\d+[hf]", g.get("id", ""))]

    @property
    def width(self) -> float:
        return float(self._inner_box()[2])

    @property
    def height(self) -> float:
        return float(self._inner_box()[3])

    def _inner_box(self) -> list[str]:
        inner = next(child for child in self.root if child.tag.endswith("svg"))
        return inner.attrib["viewBox"].split()


def places_of(element: ET.Element) -> list[tuple[float, float]]:
    """Return points of a shape: corners of a polygon, ends of a line, where a glyph stands."""
    if points := element.get("points"):
        numbers = [float(n) for n in re.findall(_NUMBER, points)]
        return list(zip(numbers[::2], numbers[1::2], strict=True))
    if transform := element.get("transform"):
        x, y = re.findall(_NUMBER, transform)[:2]
        return [(float(x), float(y))]
    if data := element.get("d"):
        drawn = re.findall(rf"[MLC]((?:[\s,]*{_NUMBER})+)", data)
        pairs = ([float(n) for n in re.findall(_NUMBER, numbers)] for numbers in drawn)
        return [(pair[-2], pair[-1]) for pair in pairs]
    return [(float(element.get("x", 0)), float(element.get("y", 0)))]


@pytest.fixture
def drawn() -> Callable[[Sheet | Engraving], Drawing]:
    """A sheet or an engraving as a drawing."""

    def read(of: Sheet | Engraving) -> Drawing:
        return Drawing((engrave(of) if isinstance(of, Sheet) else of).svg)

    return read
