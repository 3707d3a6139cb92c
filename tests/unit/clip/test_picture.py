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


def draw(choice: FillChoice, *, small: bool = False) -> ClipPicture:
    return draw_picture(
        Sheet(phrase=make_single_fill(choice).phrase, tempo="80", label="Fill"), WORDS, small=small
    )


def test_the_fill_has_a_line_of_its_own_and_all_is_seen():
    picture = draw(FillChoice(figure="single paradiddle"))
    assert {mark.system for mark in picture.marks} == {0, 1}
    assert {mark.system for mark in picture.marks if 3 < mark.at < 4} == {1}
    assert picture.tops == (0, 0)
    assert picture.seen == len(picture.music)
    assert picture.music.shape[1] == WIDTH - 2 * MARGIN


def test_small_is_set_as_on_paper():
    picture = draw(FillChoice(figure="single paradiddle"), small=True)
    assert {mark.system for mark in picture.marks} == {0}
    assert len(picture.music) < HEIGHT / 3


@pytest.mark.parametrize("figure", [figure.name for figure in load_rudiments()][::3])
def test_every_fill_fits_the_screen(figure):
    picture = draw(FillChoice(figure=figure))
    assert HEAD_HEIGHT + 2 * PAD + picture.seen <= HEIGHT
    assert picture.tops == (0,) * len(picture.tops)


def test_long_music_turns_over_before_a_line_that_is_not_seen_whole():
    picture = draw(FillChoice(figure="single paradiddle", beats=Fraction(40), bars=12))
    assert picture.seen < len(picture.music)
    assert picture.tops[0] == 0 < picture.tops[-1]
    assert list(picture.tops) == sorted(picture.tops)
    for mark in picture.marks:
        start = picture.tops[mark.system]
        end = picture.ends[mark.system]
        assert end - start <= picture.seen
        assert start <= picture.pixels(mark.top_mm) < picture.pixels(mark.bottom_mm) <= end
        for other in picture.marks:  # no line is seen in part
            assert not picture.pixels(other.top_mm) < end < picture.pixels(other.bottom_mm)


def test_cover_is_black_on_white():
    picture = draw(FillChoice(figure="single paradiddle"))
    for ink in (picture.music, picture.head, *picture.counts):
        assert ink.dtype == np.float32
        assert ink.min() == 0.0
        assert ink.max() == pytest.approx(1.0, abs=0.1)


def test_heads_are_not_cut_off():
    picture = draw(FillChoice(figure="single paradiddle"))
    for ink in (picture.head, *picture.counts):
        assert not ink[:3].any()
        assert not ink[-3:].any()
