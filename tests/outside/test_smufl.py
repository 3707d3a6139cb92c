"""The music glyphs that we name by codepoint, in the engraver's default face and its fallback.

Source: SMuFL 1.4 (names and codepoints from memory)
Source: verovio (its tables of SMuFL fonts)
"""

from __future__ import annotations

import re
from pathlib import Path

import pytest
import verovio
from lxml import etree

from fillwright.score.engraving import mei
from fillwright.score.engraving.details import ADVANCES
from fillwright.score.engraving.drawing import FONT, GLYPH_SCALE, HEAD_WIDTH

DATA = Path(verovio.__file__).parent / "data"
FONTS = (FONT, "Bravura")

OURS = {
    0xE0B3: "noteheadCircleX",
    0xECA5: "metNoteQuarterUp",
    0xECB7: "metAugmentationDot",
}
"""Codepoints that our own code writes into MEI."""

ENGRAVERS = {
    0xE500: "repeat1Bar",
    0xE22A: "buzzRoll",
    0xE221: "tremolo2",
    0xE222: "tremolo3",
    0xE0A9: "noteheadXBlack",
    0xE0DB: "noteheadDiamondBlack",
    0xE0F5: "noteheadParenthesisLeft",
    0xE0F6: "noteheadParenthesisRight",
    0xE4A0: "articAccentAbove",
    0xE069: "unpitchedPercussionClef1",
}
"""Codepoints that the engraver draws for what we ask by name."""


def glyphs(font: str) -> dict[int, str]:
    """Return names of a font's glyphs by codepoint."""
    table = etree.parse(DATA / f"{font}.xml", etree.XMLParser(no_network=True))
    return {int(glyph.get("c"), 16): glyph.get("n") for glyph in table.iter("g")}


@pytest.mark.parametrize("font", FONTS)
@pytest.mark.parametrize(("code", "name"), [*OURS.items(), *ENGRAVERS.items()])
def test_a_codepoint_is_the_glyph_we_mean(font: str, code: int, name: str) -> None:
    assert glyphs(font).get(code) == name


def test_every_codepoint_in_our_mei_is_checked_here() -> None:
    written = Path(mei.__file__).read_text("utf-8")
    codes = {int(code, 16) for code in re.findall(r"#x([EF][0-9A-Fa-f]{3})\b", written)}
    assert codes == set(OURS)


def widths(font: str) -> dict[str, float]:
    """Advance widths of a font's glyphs by codepoint."""
    table = etree.parse(DATA / f"{font}.xml", etree.XMLParser(no_network=True))
    return {glyph.get("c"): float(glyph.get("h-a-x")) for glyph in table.iter("g")}


def test_the_face_is_the_library_s_default() -> None:
    assert verovio.toolkit().getDefaultOptions()["font"] == FONT


def test_widths_are_those_of_the_face() -> None:
    table = widths(FONT)
    assert {code: table[code] for code in ADVANCES} == ADVANCES
    assert pytest.approx(table["E0A4"] * GLYPH_SCALE) == HEAD_WIDTH
