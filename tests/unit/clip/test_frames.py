"""The frames of a clip: colours, the card, the cursor, the word of the count-in."""

from __future__ import annotations

import numpy as np
import pytest

from fillwright.clip.cursor import Knot
from fillwright.clip.frames import (
    BACKGROUNDS,
    Compositor,
    Shot,
    convert_colours,
    find_background,
    render_frames,
)
from fillwright.clip.picture import GRID, HEIGHT, MARGIN, WIDTH, ClipPicture, Words, draw_picture
from fillwright.errors import UnknownNameError
from fillwright.lesson.single_fill import FillChoice, make_single_fill
from fillwright.score.sheet import Sheet
from fillwright.sound.playalong.options import Options
from fillwright.sound.playalong.sections import plan_sections

WORDS = Words(title="Fill", caption="of one bar", counts=("1", "2"))


@pytest.fixture(scope="module")
def drawn() -> ClipPicture:
    return draw_picture(Sheet(phrase=make_single_fill(FillChoice(figure="single paradiddle")).phrase), WORDS)


@pytest.fixture(scope="module")
def small() -> ClipPicture:
    return draw_picture(
        Sheet(phrase=make_single_fill(FillChoice(figure="single paradiddle")).phrase), WORDS, small=True
    )


def flat(*colour: int) -> np.ndarray:
    return np.broadcast_to(np.array(colour, np.float32), (4, 4, 3))


@pytest.mark.parametrize(
    ("colour", "planes"),
    [
        ((0, 0, 0), (16, 128, 128)),
        ((255, 255, 255), (235, 128, 128)),
        ((255, 0, 0), (63, 102, 240)),
        ((0, 0, 255), (32, 240, 118)),
    ],
)
def test_colours_are_studio_range(colour, planes):
    frame = convert_colours(flat(*colour))
    assert frame.shape == (6, 4)
    assert (set(frame[:4].flat), set(frame[4].flat), set(frame[5].flat)) == tuple({place} for place in planes)


def test_an_unknown_background_is_refused():
    assert find_background("plain") is BACKGROUNDS["plain"]
    with pytest.raises(UnknownNameError, match='no background called "gren"; did you mean "green"'):
        find_background("gren")


def still(drawn: ClipPicture, name: str, *, count: int | None = None) -> np.ndarray:
    return Compositor(drawn, find_background(name)).frame(drawn.marks[0].x_mm, drawn.marks[0], count)


@pytest.mark.parametrize("name", ["green", "blue", "magenta"])
def test_a_card_has_edges_on_the_grid_and_one_flat_colour_around(small, name):
    frame = still(small, name)
    around = convert_colours(flat(*find_background(name).around))
    bright = frame[:HEIGHT]
    other = np.argwhere(bright != around[0, 0])
    (top, left), (bottom, right) = other.min(axis=0), other.max(axis=0) + 1
    assert [edge % GRID for edge in (top, left, bottom, right)] == [0, 0, 0, 0]
    assert top > HEIGHT / 3
    assert bottom < HEIGHT
    assert left == WIDTH - right > 0
    colours = frame[HEIGHT:].reshape(2, HEIGHT // 2, WIDTH // 2)
    outside = np.ones(colours.shape[1:], bool)
    outside[top // 2 : bottom // 2, left // 2 : right // 2] = False
    assert {int(place) for place in colours[0][outside]} == {int(around[4, 0])}
    assert {int(place) for place in colours[1][outside]} == {int(around[5, 0])}


def test_plain_and_dark_fill_the_frame(drawn):
    for name in ("plain", "dark"):
        frame = still(drawn, name)[:HEIGHT]
        assert len({int(frame[y, x]) for y in (0, HEIGHT - 1) for x in (0, WIDTH - 1)}) == 1
    assert still(drawn, "plain")[0, 0] > 220
    assert still(drawn, "dark")[0, 0] < 60


def column(stage: Compositor, drawn: ClipPicture, x_mm: float, index: int) -> float:
    """Return the column in which a frame differs most from one whose cursor is far away."""
    mark, far = drawn.marks[index], drawn.marks[0 if index else -1]
    there = stage.frame(x_mm, mark, None)[:HEIGHT].astype(int)
    away = stage.frame(far.x_mm, far, None)[:HEIGHT].astype(int)
    rows = slice(stage.music_row, HEIGHT)
    changed = np.abs(there - away)[rows].sum(axis=0)
    near = round(MARGIN + drawn.pixels(x_mm))
    window = slice(near - 20, near + 21)
    return float(np.average(np.arange(WIDTH)[window], weights=changed[window])) + 0.5


@pytest.mark.parametrize("share", [0.0, 0.25, 0.5])
def test_the_cursor_is_in_its_place_to_the_pixel(drawn, share):
    stage = Compositor(drawn, find_background("plain"))
    place, other = drawn.marks[0], drawn.marks[1]
    x_mm = place.x_mm + share * (other.x_mm - place.x_mm)
    assert column(stage, drawn, x_mm, 0) == pytest.approx(MARGIN + drawn.pixels(x_mm), abs=1.0)


def test_the_cursor_leaves_nothing_behind(drawn):
    stage = Compositor(drawn, find_background("plain"))
    mark, other = drawn.marks[0], drawn.marks[-1]
    first = stage.frame(mark.x_mm, mark, None)
    stage.frame(other.x_mm, other, None)
    assert np.array_equal(stage.frame(mark.x_mm, mark, None), first)


def test_each_word_of_the_count_in_is_seen(drawn):
    frame = [still(drawn, "plain", count=count)[:HEIGHT] for count in (None, 0, 1)]
    assert len({place.tobytes() for place in frame}) == 3
    changed = np.argwhere(frame[0] != frame[1])
    assert changed[:, 1].min() > WIDTH * 0.8
    assert changed[:, 0].max() < HEIGHT / 3


def test_a_shot_has_its_frames(drawn):
    (section,) = plan_sections(
        make_single_fill(FillChoice(figure="single paradiddle")).phrase, (80,), Options()
    )
    way = (Knot(seconds=0.0, mark=drawn.marks[0], jumps=True),)
    shot = Shot(section=section, way=way, lead_seconds=0.1, frames=5)
    frame = [place.tobytes() for place in render_frames(drawn, find_background("plain"), shot)]
    assert len(frame) == 5
    assert len(set(frame[:3])) == 1
    assert frame[3] != frame[2]  # a tenth of a second in, the first word of the count-in
