"""The still picture of a clip: music, heading and count-in, drawn once as the parts that frames are made of."""

from __future__ import annotations

import io
from collections.abc import Sequence
from dataclasses import dataclass, replace
from importlib.resources import files
from itertools import pairwise

import av
import numpy as np
import numpy.typing as npt

from fillwright.music.phrase import Part
from fillwright.score.engraving.cursor import Mark, find_cursor_marks
from fillwright.score.engraving.engrave import Engraving, engrave
from fillwright.score.engraving.paper import PIXELS_PER_INCH, typeset_pictures
from fillwright.score.sheet import Sheet
from fillwright.score.written import Voice

WIDTH, HEIGHT = 1920, 1080  # pixels of a frame (the common size of film on the web, no source)

Ink = npt.NDArray[np.float32]
"""Cover of each pixel by ink, 0 to 1, shape (height, width)."""

_PIXELS_PER_MM = PIXELS_PER_INCH / 25.4  # an inch has 25.4 mm
MARGIN = 96  # pixels left and right of the music (ours, not measured)
GRID = 16
"""Pixels; edges are on multiples of this, the blocks in which video is coded, so that colours stay apart."""

# In pixels (ours, not measured).
_MUSIC_WIDTH = WIDTH - 2 * MARGIN
HEAD_HEIGHT = 160  # of title and caption
COUNT_WIDTH = 320  # of a word of the count-in
PAD = 32  # above the heading and below the music
_MOST_MUSIC = HEIGHT - HEAD_HEIGHT - 2 * GRID - 2 * PAD  # rows of music shown at a time

# Sizes of the staff (ours, not measured).
_WIDEST_SPACE_MM, _NARROWEST_SPACE_MM, _TURNED_SPACE_MM = 2.3, 1.1, 1.7  # between lines; where the music turns
_CLEF_SPACES, _HEAD_SPACES = 12.0, 3.0  # staff spaces that clef and meter take, and a note head with its room
_SHRINKS = 0.92  # the next smaller staff, as a share
_SPACES_ON_PAPER = 116  # staff spaces across the music when it is set as on paper
_BARS_OF_GROOVE = 4  # bars of groove on a line


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ClipPicture:
    """The parts of a clip's picture, in pixels.

    Attributes:
        music: all of the music, which may be higher than what is seen of it at a time.
        head: title and caption.
        counts: the words of the count-in, in order.
        marks: the cursor's way through the music.
        tops: for each line of music, the row of `music` at which the picture starts while it is played.
        ends: the row before which it ends then, so that no line is seen in part.
        seen: how many rows of `music` there is room for.
    """

    music: Ink
    head: Ink
    counts: tuple[Ink, ...]
    marks: tuple[Mark, ...]
    tops: tuple[int, ...]
    ends: tuple[int, ...]
    seen: int

    def pixels(self, mm: float) -> float:
        """Convert a distance in the music to pixels."""
        return mm * _PIXELS_PER_MM


@dataclass(frozen=True, slots=True, kw_only=True)
class Words:
    """The words around a clip's music: a title, a caption under it, and the words of the count-in."""

    title: str
    caption: str
    counts: tuple[str, ...]


def draw_picture(sheet: Sheet, words: Words, *, small: bool = False) -> ClipPicture:
    """Draw a sheet as large as the screen takes it, the fill on lines of its own.

    Args:
        sheet: what is engraved; its line breaks are chosen here.
        words: around the music.
        small: True to set it as on paper, on one line where it fits, and leave room for another picture.
    """
    engraving = _engrave_small(sheet) if small else _engrave_large(sheet)
    data = {
        "width": engraving.width_mm,
        "music": engraving.height_mm,
        "head": HEAD_HEIGHT / _PIXELS_PER_MM,
        "count": COUNT_WIDTH / _PIXELS_PER_MM,
        "title": words.title,
        "caption": words.caption,
        "counts": list(words.counts),
    }
    template = files(__package__).joinpath("clip.typ").read_text("utf-8")
    music, head, *counts = (
        _read_ink(page) for page in typeset_pictures(template, data, {"music.svg": engraving.svg})
    )
    marks = find_cursor_marks(engraving, sheet)
    seen = min(len(music), _MOST_MUSIC)
    tops, ends = _choose_views(marks, len(music), seen)
    return ClipPicture(
        music=music,
        head=head,
        counts=tuple(counts),
        marks=marks,
        tops=tops,
        ends=ends,
        seen=seen,
    )


def _engrave_small(sheet: Sheet) -> Engraving:
    width_mm = _MUSIC_WIDTH / _PIXELS_PER_MM
    return engrave(sheet, width_mm=width_mm, space_mm=width_mm / _SPACES_ON_PAPER)


def _engrave_large(sheet: Sheet) -> Engraving:
    """Engrave a sheet with the widest staff that leaves room for its notes and fits the screen."""
    bars = sheet.bars()
    fills = [bar.number for bar in bars[1:] if bar.bar.part is Part.FILL]
    grooves = [bar.number for bar in bars[_BARS_OF_GROOVE::_BARS_OF_GROOVE] if bar.bar.part is Part.GROOVE]
    broken = replace(sheet, break_before=tuple(sorted({*fills, *grooves})))
    width_mm = _MUSIC_WIDTH / _PIXELS_PER_MM
    space_mm = min(_WIDEST_SPACE_MM, width_mm / (_CLEF_SPACES + _HEAD_SPACES * _count_most_heads(broken)))
    widest = space_mm
    while space_mm > _NARROWEST_SPACE_MM:
        engraving = engrave(broken, width_mm=width_mm, space_mm=space_mm)
        if engraving.height_mm * _PIXELS_PER_MM <= _MOST_MUSIC:
            return engraving
        space_mm *= _SHRINKS
    # it turns over in any case, so it may as well be large
    return engrave(broken, width_mm=width_mm, space_mm=min(widest, _TURNED_SPACE_MM))


def _count_most_heads(sheet: Sheet) -> int:
    """Note heads side by side on the fullest line, grace notes among them; repeated bars count as two."""
    lines = [0]
    for bar in sheet.bars():
        if bar.number in sheet.break_before:
            lines.append(0)
        lines[-1] += 2 if sheet.is_repeat(bar) else max(_count_heads(bar.hands), _count_heads(bar.feet)) + 1
    return max(lines)


def _count_heads(voice: Voice) -> int:
    return sum(1 + max(hit.stroke.kind.graces for hit in note.hits) for note in voice.notes())


def _choose_views(marks: Sequence[Mark], height: int, seen: int) -> tuple[tuple[int, ...], tuple[int, ...]]:
    """Choose where the picture starts and ends for each line of music; it turns as seldom as it can."""
    lines = sorted({(mark.system, mark.top_mm, mark.bottom_mm) for mark in marks})
    between = [round((line[2] + below[1]) / 2 * _PIXELS_PER_MM) for line, below in pairwise(lines)]
    edges = [0, *between, height]
    tops: list[int] = []
    start = 0
    for first, end in pairwise(edges):
        if end - start > seen:
            start = first
        tops.append(start)
    return tuple(tops), tuple(max(edge for edge in edges if edge <= top + seen) for top in tops)


def _read_ink(png: bytes) -> Ink:
    """Read a picture in black on white as coverage."""
    with av.open(io.BytesIO(png), "r") as file:
        frame = next(file.decode(video=0))
        grey = np.asarray(frame.to_ndarray(format="gray"), np.float32)
    return np.asarray(1 - grey / 255, np.float32)
