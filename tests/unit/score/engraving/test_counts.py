"""The counts below the music: read from the engraver's drawing, they are where the finished one has them."""

from __future__ import annotations

import pytest

from fillwright.lesson.single_fill import FillChoice, make_single_fill
from fillwright.score.engraving.counts import COUNT_SIZE, counts_touch, find_counts
from fillwright.score.engraving.drawing import SANS, find_groups, qualify
from fillwright.score.engraving.engrave import Engraving, engrave
from fillwright.score.sheet import Sheet

FILLS = [
    ("flam drag", "funk with ghost notes"),
    ("six stroke roll", "shuffle"),
    ("flam accent", "six-eight"),
    ("single paradiddle", "straight eighths"),
]
WIDTHS = (60.0, 100.0, 174.0)  # mm, from narrower than a phone to a page


def engrave_fill(figure: str, groove: str, width_mm: float) -> Engraving:
    fill = make_single_fill(FillChoice(figure=figure, groove=groove, bars=2))
    return engrave(Sheet(phrase=fill.phrase, cue=fill.step.figure.cue), width_mm=width_mm)


def read_finished(engraving: Engraving) -> list[list[tuple[float, str]]]:
    """Return middle and word of each count of a finished drawing, line of music by line of music."""
    return [
        sorted(
            (float(text.get("x", 0)), text.text or "")
            for verse in find_groups(system, "verse")
            for text in verse.iter(qualify("text"))
            if text.get("text-anchor") == "middle" and text.get("font-family") == SANS
        )
        for system in find_groups(engraving.root, "system")
    ]


@pytest.mark.parametrize("width_mm", WIDTHS)
@pytest.mark.parametrize(("figure", "groove"), FILLS)
def test_counts_are_found_before_the_drawing_is_finished(figure: str, groove: str, width_mm: float) -> None:
    engraving = engrave_fill(figure, groove, width_mm)
    rows = list(find_counts(engraving.raw, engraving.marks.words))
    finished = read_finished(engraving)
    assert [[word for _, word in row] for row in rows] == [[word for _, word in row] for row in finished]
    assert any(rows)
    for row, same in zip(rows, finished, strict=True):
        assert [x for x, _ in row] == pytest.approx([x for x, _ in same], abs=0.1)


def test_counts_touch_as_soon_as_their_words_meet() -> None:
    heads = "".join(
        f'<g id="b1h{n}-1" class="note"><g class="notehead">'
        f'<use transform="translate({x}, 5) scale(0.72)"/></g></g>'
        for n, x in enumerate((0, 400))
    )
    drawing = f'<g class="system">{heads}</g>'
    room = 400 - COUNT_SIZE / 2
    assert not counts_touch(drawing, {"b1h0-1": "1", "b1h1-1": "e"}, gap=room - 1)
    assert counts_touch(drawing, {"b1h0-1": "1", "b1h1-1": "e"}, gap=room + 1)
    assert counts_touch(drawing, {"b1h0-1": "trip", "b1h1-1": "let"})
    assert not counts_touch(drawing, {"b1h0-1": "trip"})
    apart = drawing.replace('<g id="b1h1-1"', '</g><g class="system"><g id="b1h1-1"')
    assert not counts_touch(apart, {"b1h0-1": "trip", "b1h1-1": "let"})
