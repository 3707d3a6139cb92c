import re
import xml.etree.ElementTree as ET

import pytest

from fillwright.pack.practice.drawing import GRAIN, shrink_engraving
from fillwright.score.engraving.drawing import NUMBERS, find_groups, qualify, read_glyph, read_translation
from fillwright.score.engraving.engrave import engrave

KINDS = [
    ("single paradiddle", "straight eighths"),
    ("multiple bounce roll", "off-beat open hi-hat"),
    ("flam accent", "shuffle"),
    ("single ratamacue", "funk with ghost notes"),
    ("single stroke four", "nine-eight"),
]


@pytest.fixture(params=KINDS, ids=lambda kind: kind[0])
def engraving(request, lesson):
    _, fills = lesson(*request.param, "last beat")
    return engrave(fills[0].sheet, width_mm=126)


def signs(engraving):
    """Code and place of every sign of an engraving, in the page's units."""
    root = ET.fromstring(engraving.svg)
    (page,) = find_groups(root, "page-margin")
    down = read_translation(page)[1]
    return sorted(
        (read_glyph(use), (read_translation(use)[0]) / GRAIN, (read_translation(use)[1] + down) / GRAIN)
        for use in page.iter(qualify("use"))
    )


def test_every_sign_keeps_its_place(engraving):
    made = re.findall(
        r'<use href="#(\w{4})[-\d]*" x="(-?\d+)" y="(-?\d+)"/>', shrink_engraving(engraving.root).body
    )
    found = sorted((code, float(x), float(y)) for code, x, y in made)
    assert [code for code, *_ in found] == [code for code, *_ in signs(engraving)]
    for (_, x, y), (_, there_x, there_y) in zip(found, signs(engraving), strict=True):
        assert abs(x - there_x) <= 1
        assert abs(y - there_y) <= 1


def test_every_word_stays(engraving):
    before = sorted(text.text for text in ET.fromstring(engraving.svg).iter(qualify("text")))
    made = ET.fromstring(f"<svg>{shrink_engraving(engraving.root).body}</svg>")
    assert sorted(text.text for text in made.iter("text")) == before


def test_every_line_stays_and_is_long_enough(engraving):
    """Drawn length of all lines, by thickness."""

    def lengths(pairs):
        total = 0.0
        for (x1, y1), (x2, y2) in pairs:
            total += ((x1 - x2) ** 2 + (y1 - y2) ** 2) ** 0.5
        return total

    straight = []
    for path in ET.fromstring(engraving.svg).iter(qualify("path")):
        numbers = [float(n) for n in NUMBERS.findall(path.get("d", ""))]
        if path.get("stroke-width") and re.fullmatch(r"M\S+ \S+ L\S+ \S+", path.get("d", "")):
            straight.append(((numbers[0], numbers[1]), (numbers[2], numbers[3])))
    found = []
    for run in re.findall(r'class="l"[^>]* d="([^"]*)"', shrink_engraving(engraving.root).body):
        for x, y, way, to in re.findall(r"M(-?\d+) (-?\d+)([HV])(-?\d+)(?=M|$)", run):
            end = (float(to), float(y)) if way == "H" else (float(x), float(to))
            found.append(((float(x), float(y)), end))
        for numbers in re.findall(r"M(-?\d+) (-?\d+)L(-?\d+) (-?\d+)(?=M|$)", run):
            x1, y1, x2, y2 = map(float, numbers)
            found.append(((x1, y1), (x2, y2)))
    assert len(found) >= len(straight)
    assert lengths(found) == pytest.approx(lengths(straight) / GRAIN, rel=0.01)


def test_it_is_much_smaller_and_names_nothing(engraving):
    made = shrink_engraving(engraving.root)
    assert len(made.body) < len(engraving.svg) / 3
    assert " id=" not in made.body
    assert set(re.findall(r'href="#([^"]+)"', made.body)) == set(made.outlines)
    assert made.width / made.height == pytest.approx(engraving.width_mm / engraving.height_mm, rel=0.002)


def test_what_is_no_engraving_is_refused():
    with pytest.raises(ValueError, match="no page inside"):
        shrink_engraving(ET.fromstring('<svg xmlns="http://www.w3.org/2000/svg"/>'))
