"""The frames of a clip: parts laid on a background once, then only the cursor moved, as video planes."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from fillwright.clip.cursor import Knot, find_count, find_cursor
from fillwright.clip.picture import (
    GRID,
    HEAD_HEIGHT,
    HEIGHT,
    MARGIN,
    PAD,
    WIDTH,
    ClipPicture,
    Ink,
)
from fillwright.errors import UnknownNameError
from fillwright.score.engraving.cursor import Mark
from fillwright.sound.playalong.sections import Section

FRAMES_PER_SECOND = 30
"""Frames a second of every clip (common practice for film on the web, no source)."""

Colours = npt.NDArray[np.float32]
"""Red, green and blue, 0 to 255, shape (height, width, 3)."""

Planes = npt.NDArray[np.uint8]
"""A frame as video keeps it: brightness at every point, below it both colours at every fourth; (1620, 1920)."""

# The cursor, in pixels (ours, not measured).
_LINE_WIDTH, _REACH = 4.0, 14  # thickness of its line; how far it may be drawn around its middle
_DOT_OF_LINE, _SMALLEST_DOT = 0.045, 6.0  # radius of its tip: share of the line's height, and least

_CARD_REACH = 3 * GRID  # pixels of the card on either side of the music (ours, not measured)
_RED, _GREEN, _BLUE = 0.2126, 0.7152, 0.0722  # ITU-R BT.709


@dataclass(frozen=True, slots=True, kw_only=True)
class Background:
    """The colours of a clip, each as red, green and blue, 0 to 255.

    Attributes:
        around: the colour of the frame.
        paper: the colour under the notes; another than `around` makes a card, whose edges can be keyed cleanly.
        ink: the colour of the notes.
        accent: the colour of the cursor.
    """

    around: tuple[int, int, int]
    paper: tuple[int, int, int]
    ink: tuple[int, int, int]
    accent: tuple[int, int, int]

    @property
    def has_card(self) -> bool:
        """True if the notes are on a card, low in the frame, with room for a picture above."""
        return self.around != self.paper


# Red, green and blue (ours).
_PAPER, _INK, _ROSEWOOD = (251, 249, 244), (28, 26, 23), (138, 79, 18)


def _make_key_background(colour: tuple[int, int, int]) -> Background:
    return Background(around=colour, paper=_PAPER, ink=_INK, accent=_ROSEWOOD)


BACKGROUNDS = {
    "plain": Background(around=_PAPER, paper=_PAPER, ink=_INK, accent=_ROSEWOOD),
    "dark": Background(around=(25, 23, 21), paper=(25, 23, 21), ink=(236, 231, 220), accent=(224, 169, 90)),
    "green": _make_key_background((0, 190, 0)),
    "blue": _make_key_background((0, 0, 220)),
    "magenta": _make_key_background((220, 0, 220)),
}
"""Every background by name."""


def find_background(name: str) -> Background:
    """Find the background of a name.

    Raises:
        UnknownNameError: for another.
    """
    if name not in BACKGROUNDS:
        raise UnknownNameError.of("background", name, BACKGROUNDS)
    return BACKGROUNDS[name]


@dataclass(frozen=True, slots=True, kw_only=True)
class Shot:
    """The course of a clip.

    Attributes:
        section: when everything is played, from the start of its audio.
        way: of the cursor.
        lead_seconds: stillness before the audio.
        frames: how many the clip has.
    """

    section: Section
    way: tuple[Knot, ...]
    lead_seconds: float
    frames: int


def render_frames(drawn: ClipPicture, on: Background, shot: Shot) -> Iterator[Planes]:
    """Yield every frame of a clip in order; frame n shows the moment n / 30 seconds from its start.

    Args:
        drawn: the parts of the picture.
        on: the background.
        shot: the course of the clip.
    """
    stage = Compositor(drawn, on)
    for number in range(shot.frames):
        now = number / FRAMES_PER_SECOND - shot.lead_seconds
        yield stage.frame(*find_cursor(shot.way, now), find_count(shot.section, now))


class Compositor:
    """A clip's parts in their places, and the last still frame made of them."""

    def __init__(self, drawn: ClipPicture, on: Background) -> None:
        """Lay the parts of a picture on a background; a frame is put together when it is needed."""
        self._drawn = drawn
        self._on = on
        spare = HEIGHT - HEAD_HEIGHT - drawn.seen - 2 * PAD
        top = spare - GRID if on.has_card else spare // 2
        self.top = max(0, top // GRID * GRID)
        self._key: tuple[tuple[int, int], int | None] | None = None

    @property
    def music_row(self) -> int:
        """The row of the frame at which the music starts."""
        return self.top + PAD + HEAD_HEIGHT

    def frame(self, x_mm: float, mark: Mark, count: int | None) -> Planes:
        """Return one frame.

        Args:
            x_mm: where the cursor stands in the music.
            mark: of the line of music that it is on.
            count: number of the word of the count-in that is shown, None for none.
        """
        start, end = self._drawn.tops[mark.system], self._drawn.ends[mark.system]
        colours, planes = self._compose_still((start, end), count)
        frame = planes.copy()
        down = self.music_row - start
        rows = (down + self._drawn.pixels(mark.top_mm), down + self._drawn.pixels(mark.bottom_mm))
        self._draw_cursor(frame, colours, MARGIN + self._drawn.pixels(x_mm), rows)
        return frame

    def _compose_still(self, rows: tuple[int, int], count: int | None) -> tuple[Colours, Planes]:
        """Return a frame without its cursor, as colours and as planes; only the last one is kept."""
        if self._key != (rows, count):
            drawn, on = self._drawn, self._on
            canvas = np.empty((HEIGHT, WIDTH, 3), np.float32)
            canvas[:] = on.around
            if on.has_card:
                bottom = min(HEIGHT, -(-(self.music_row + drawn.seen + PAD) // GRID) * GRID)
                canvas[self.top : bottom, MARGIN - _CARD_REACH : WIDTH - MARGIN + _CARD_REACH] = on.paper
            _lay_ink(canvas, drawn.music[slice(*rows)], self.music_row, MARGIN, on)
            _lay_ink(canvas, drawn.head, self.top + PAD, MARGIN, on)
            if count is not None:
                word = drawn.counts[count]
                _lay_ink(canvas, word, self.top + PAD, WIDTH - MARGIN - word.shape[1], on)
            self._key, self._still = (rows, count), (canvas, convert_colours(canvas))
        return self._still

    def _draw_cursor(self, frame: Planes, colours: Colours, x: float, rows: tuple[float, float]) -> None:
        """Draw the cursor over a frame: a thin line with the tip of a stick at its upper end."""
        top, bottom = rows
        left = _round_even(x - _REACH)
        upper, lower = _round_even(top - _REACH), min(HEIGHT, _round_even(bottom + 2))
        xs = np.arange(left, min(WIDTH, left + 2 * _REACH + 2), dtype=np.float32) + 0.5 - x
        ys = np.arange(upper, lower, dtype=np.float32) + 0.5
        line = (
            np.clip(_LINE_WIDTH / 2 + 0.5 - np.abs(xs), 0, 1)[None, :]
            * np.clip(np.minimum(ys - top, bottom - ys) + 0.5, 0, 1)[:, None]
        )
        radius = max(_SMALLEST_DOT, _DOT_OF_LINE * (bottom - top))
        dot = np.clip(radius + 0.5 - np.hypot(xs[None, :], ys[:, None] - top), 0, 1)
        cover = np.maximum(line, dot)[..., None]
        area = colours[upper:lower, left : left + len(xs)]
        patch = convert_colours(area + cover * (np.array(self._on.accent, np.float32) - area))
        _paste_patch(frame, patch, left, upper)


def convert_colours(colours: Colours) -> Planes:
    """Convert colours to brightness and two colour planes after ITU-R BT.709, of studio range.

    Args:
        colours: even in height and width.

    Returns:
        Shape (height * 3 / 2, width): brightness, then blue and red, each at every fourth point.
    """
    height, width, _ = colours.shape
    red, green, blue = (colours[..., index] / 255 for index in range(3))
    bright = _RED * red + _GREEN * green + _BLUE * blue
    planes = np.empty((height * 3 // 2, width), np.uint8)
    planes[:height] = np.round(16 + 219 * bright)
    for index, (part, full) in enumerate(((blue - bright, 1 - _BLUE), (red - bright, 1 - _RED))):
        coarse = part.reshape(height // 2, 2, width // 2, 2).mean(axis=(1, 3)) / (2 * full)
        _view_plane(planes, height, index)[:] = np.round(128 + 224 * coarse)
    return planes


def _view_plane(frame: Planes, height: int, index: int) -> Planes:
    """Return one of the two colour planes of a frame, as a view of it."""
    size = height * frame.shape[1] // 4
    flat = frame.reshape(-1)[height * frame.shape[1] + index * size :][:size]
    return flat.reshape(height // 2, frame.shape[1] // 2)


def _paste_patch(frame: Planes, patch: Planes, left: int, upper: int) -> None:
    """Paste a smaller frame into a larger one, at an even place."""
    height = len(patch) * 2 // 3
    width = patch.shape[1]
    frame[upper : upper + height, left : left + width] = patch[:height]
    for index in range(2):
        part = _view_plane(frame, HEIGHT, index)[upper // 2 :, left // 2 :]
        part[: height // 2, : width // 2] = _view_plane(patch, height, index)


def _lay_ink(colours: Colours, ink: Ink, row: int, column: int, on: Background) -> None:
    area = colours[row : row + len(ink), column : column + ink.shape[1]]
    area += ink[: len(area), : area.shape[1], None] * (np.array(on.ink, np.float32) - area)


def _round_even(value: float) -> int:
    return max(0, int(value) // 2 * 2)
