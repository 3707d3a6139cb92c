"""The cost of a fill's music: its drawings are parsed once each, whatever is read from them."""

from __future__ import annotations

import xml.etree.ElementTree as ET

import pytest

from fillwright.lesson.file import parse_lesson, read_demo_text
from fillwright.lesson.fills import build_fills
from fillwright.pack.practice.music import engrave_narrow, engrave_wide
from fillwright.score.engraving.cursor import find_cursor_marks
from fillwright.score.engraving.engrave import engrave
from fillwright.score.engraving.paper import make_pdf, make_png

MOST_PARSES = 4
"""Drawings parsed for one fill: for paper, for a desk, and for a phone at two widths (ours)."""

LESSON = parse_lesson(read_demo_text())
FILLS = build_fills(LESSON).fills


@pytest.fixture
def parses(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """Every text that the XML parser is given."""
    texts: list[str] = []
    for name in ("fromstring", "XML"):
        parse = getattr(ET, name)
        monkeypatch.setattr(
            ET, name, lambda text, *rest, parse=parse, **more: texts.append(text) or parse(text, *rest, **more)
        )
    return texts


@pytest.mark.parametrize("fill", [FILLS[0], FILLS[len(FILLS) // 2], FILLS[-1]], ids=lambda fill: fill.number)
def test_a_fill_of_a_pack_is_parsed_at_most_four_times(fill, parses):
    on_paper = engrave(fill.sheet)
    size = {"width_mm": on_paper.width_mm, "height_mm": on_paper.height_mm}
    assert on_paper.svg.startswith("<svg")
    assert make_png(on_paper.svg, **size).startswith(b"\x89PNG")
    assert make_pdf(on_paper.svg, **size).startswith(b"%PDF")
    assert find_cursor_marks(on_paper, fill.sheet)
    assert engrave_wide(fill, LESSON.feel, float).lines
    assert engrave_narrow(fill, LESSON.feel, float).lines
    assert 3 <= len(parses) <= MOST_PARSES
