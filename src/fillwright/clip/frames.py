"""The frames of a clip: parts laid on a ground once, then only the cursor moved, in the colours of video."""

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

Colours = npt.NDArray[np.float32]
"""Red, green and blue, 0 to 255, shape (height, width, 3)."""

Planes = npt.NDArray[np.uint8]
"""A frame as video keeps it: brightness at every point, below it both colours at every fourth; (1620, 1920)."""

_LINE_WIDTH, _REACH = 4.0, 14
_DOT_OF_LINE, _SMALLEST_DOT = 0.045, 6.0
_CARD_REACH = 3 * GRID
_RED, _GREEN, _BLUE = 0.2126, 0.7152, 0.0722  # ITU-R BT.709


@dataclass(frozen=True, slots=True, kw_only=True)
class Background:
    """What a clip stands on.

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
        """Whether the notes stand on a card, low in the frame, with room for a picture above."""
        return self.around != self.paper


_PAPER, _INK, _ROSEWOOD = (251, 249, 244), (28, 26, 23), (138, 79, 18)


def _keyed(colour: tuple[int, int, int]) -> Background:
    return Background(around=colour, paper=_PAPER, ink=_INK, accent=_ROSEWOOD)


BACKGROUNDS = {
    "plain": Background(around=_PAPER, paper=_PAPER, ink=_INK, accent=_ROSEWOOD),
    "dark": Background(around=(25, 23, 21), paper=(25, 23, 21), ink=(236, 231, 220), accent=(224, 169, 90)),
    "green": _keyed((0, 190, 0)),
    "blue": _keyed((0, 0, 220)),
    "magenta": _keyed((220, 0, 220)),
}
"""Every background by name."""


def find_background(name: str) -> Background:
    """The background of that name.

    Raises:
        UnknownNameError: for another.
    """
    if name not in BACKGROUNDS:
        raise UnknownNameError.of("background", name, BACKGROUNDS)
    return BACKGROUNDS[name]


@dataclass(frozen=True, slots=True, kw_only=True)
class Shot:
    """What happens in a clip.

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
    """Every frame of a clip in order; frame n shows the moment n / 30 seconds from its start.

    Args:
        drawn: the parts of the picture.
        on: what they stand on.
        shot: what happens.
    """
    stage = Compositor(drawn, on)
    for number in range(shot.frames):
        now = number / FRAMES_PER_SECOND - shot.lead_seconds
        yield stage.frame(*find_cursor(shot.way, now), find_count(shot.section, now))


class Compositor:
    """A clip's parts in their places, and the still frames as far as they have been put together."""

    def __init__(self, drawn: ClipPicture, on: Background) -> None:
        """Lay the parts on a ground; nothing is put together before a frame asks for it."""
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
        """One frame.

        Args:
            x_mm: where the cursor stands in the music.
            mark: what line of music that is on.
            count: which word of the count-in is seen, None for none.
        """
        start, end = self._drawn.tops[mark.system], self._drawn.ends[mark.system]
        colours, planes = self._still_frame((start, end), count)
        made = planes.copy()
        down = self.music_row - start
        rows = (down + self._drawn.pixels(mark.top_mm), down + self._drawn.pixels(mark.bottom_mm))
        self._draw_cursor(made, colours, MARGIN + self._drawn.pixels(x_mm), rows)
        return made

    def _still_frame(self, rows: tuple[int, int], count: int | None) -> tuple[Colours, Planes]:
        """A frame without its cursor, as colours and as video keeps it; only the last one is kept."""
        if self._key != (rows, count):
            drawn, on = self._drawn, self._on
            made = np.empty((HEIGHT, WIDTH, 3), np.float32)
            made[:] = on.around
            if on.has_card:
                bottom = min(HEIGHT, -(-(self.music_row + drawn.seen + PAD) // GRID) * GRID)
                made[self.top : bottom, MARGIN - _CARD_REACH : WIDTH - MARGIN + _CARD_REACH] = on.paper
            _lay(made, drawn.music[slice(*rows)], self.music_row, MARGIN, on)
            _lay(made, drawn.head, self.top + PAD, MARGIN, on)
            if count is not None:
                word = drawn.counts[count]
                _lay(made, word, self.top + PAD, WIDTH - MARGIN - word.shape[1], on)
            self._key, self._still = (rows, count), (made, convert_colours(made))
        return self._still

    def _draw_cursor(self, made: Planes, colours: Colours, x: float, rows: tuple[float, float]) -> None:
        """A thin line with the tip of a stick at its upper end, over a frame."""
        top, bottom = rows
        left = _even(x - _REACH)
        upper, lower = _even(top - _REACH), min(HEIGHT, _even(bottom + 2))
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
        _paste(made, patch, left, upper)


def convert_colours(colours: Colours) -> Planes:
    """Colours as brightness and two colour planes after ITU-R BT.709, of studio range.

    Args:
        colours: even in height and width.

    Returns:
        Shape (height * 3 / 2, width): brightness, then blue and red, each at every fourth point.
    """
    height, width, _ = colours.shape
    red, green, blue = (colours[..., index] / 255 for index in range(3))
    bright = _RED * red + _GREEN * green + _BLUE * blue
    made = np.empty((height * 3 // 2, width), np.uint8)
    made[:height] = np.round(16 + 219 * bright)
    for index, (part, full) in enumerate(((blue - bright, 1 - _BLUE), (red - bright, 1 - _RED))):
        coarse = part.reshape(height // 2, 2, width // 2, 2).mean(axis=(1, 3)) / (2 * full)
        _plane(made, height, index)[:] = np.round(128 + 224 * coarse)
    return made


def _plane(frame: Planes, height: int, index: int) -> Planes:
    """One of the two colour planes of a frame, as a view of it."""
    size = height * frame.shape[1] // 4
    flat = frame.reshape(-1)[height * frame.shape[1] + index * size :][:size]
    return flat.reshape(height // 2, frame.shape[1] // 2)


def _paste(frame: Planes, patch: Planes, left: int, upper: int) -> None:
    """A smaller frame into a larger one, at an even place."""
    height = len(patch) * 2 // 3
    width = patch.shape[1]
    frame[upper : upper + height, left : left + width] = patch[:height]
    for index in range(2):
        part = _plane(frame, HEIGHT, index)[upper // 2 :, left // 2 :]
        part[: height // 2, : width // 2] = _plane(patch, height, index)


def _lay(colours: Colours, ink: Ink, row: int, column: int, on: Background) -> None:
    area = colours[row : row + len(ink), column : column + ink.shape[1]]
    area += ink[: len(area), : area.shape[1], None] * (np.array(on.ink, np.float32) - area)


def _even(value: float) -> int:
    return max(0, int(value) // 2 * 2)
