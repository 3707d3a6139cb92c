"""The still picture of a clip: as large as it goes, and turned over like a page where it does not fit."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest

from fillwright.clip.picture import HEAD_HEIGHT, HEIGHT, MARGIN, PAD, WIDTH, ClipPicture, Words, draw_picture
from fillwright.lesson.single_fill import FillChoice, make_single_fill
from fillwright.music.rudiments import load_rudiments
from fillwright.score.sheet import Sheet

WORDS = Words(title="A title", caption="", counts=("1",))


def drawn(choice: FillChoice, *, small: bool = False) -> ClipPicture:
    return draw_picture(
        Sheet(phrase=make_single_fill(choice).phrase, tempo="80", label="Fill"), WORDS, small=small
    )


def test_the_fill_has_a_line_of_its_own_and_all_is_seen():
    made = drawn(FillChoice(figure="single paradiddle"))
    assert {mark.system for mark in made.marks} == {0, 1}
    assert {mark.system for mark in made.marks if 3 < mark.at < 4} == {1}
    assert made.tops == (0, 0)
    assert made.seen == len(made.music)
    assert made.music.shape[1] == WIDTH - 2 * MARGIN


def test_small_is_set_as_on_paper():
    made = drawn(FillChoice(figure="single paradiddle"), small=True)
    assert {mark.system for mark in made.marks} == {0}
    assert len(made.music) < HEIGHT / 3


@pytest.mark.parametrize("figure", [figure.name for figure in load_rudiments()][::3])
def test_every_fill_fits_the_screen(figure):
    made = drawn(FillChoice(figure=figure))
    assert HEAD_HEIGHT + 2 * PAD + made.seen <= HEIGHT
    assert made.tops == (0,) * len(made.tops)


def test_what_is_too_long_turns_over_before_a_line_that_is_not_seen_whole():
    made = drawn(FillChoice(figure="single paradiddle", beats=Fraction(40), bars=12))
    assert made.seen < len(made.music)
    assert made.tops[0] == 0 < made.tops[-1]
    assert list(made.tops) == sorted(made.tops)
    for mark in made.marks:
        start = made.tops[mark.system]
        end = made.ends[mark.system]
        assert end - start <= made.seen
        assert start <= made.pixels(mark.top_mm) < made.pixels(mark.bottom_mm) <= end
        for other in made.marks:  # no line is seen in part
            assert not made.pixels(other.top_mm) < end < made.pixels(other.bottom_mm)


def test_cover_is_black_on_white():
    made = drawn(FillChoice(figure="single paradiddle"))
    for ink in (made.music, made.head, *made.counts):
        assert ink.dtype == np.float32
        assert ink.min() == 0.0
        assert ink.max() == pytest.approx(1.0, abs=0.1)


def test_heads_are_not_cut_off():
    made = drawn(FillChoice(figure="single paradiddle"))
    for ink in (made.head, *made.counts):
        assert not ink[:3].any()
        assert not ink[-3:].any()
