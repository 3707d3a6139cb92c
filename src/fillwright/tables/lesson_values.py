"""Functions that accept or reject the values of a lesson file."""

from __future__ import annotations

import re
from collections.abc import Sequence
from difflib import get_close_matches
from fractions import Fraction

from fillwright.craft.brief import TEACHING_ORDER, StepKind
from fillwright.craft.player.kits import Kit, find_kit
from fillwright.craft.written_fills import parse_surfaces
from fillwright.errors import UnknownNameError
from fillwright.music.figure import Figure
from fillwright.music.grooves import Groove, find_groove
from fillwright.music.ladder import parse_ladder
from fillwright.music.rudiments import find_figure, load_rudiments
from fillwright.music.sticking import parse_sticking
from fillwright.music.stroke import Limb, Slot
from fillwright.music.surfaces import Surface, find_surface
from fillwright.sound.playalong.options import Click
from fillwright.tables.page_format import PageFormat
from fillwright.tables.values import (
    RejectedValueError,
    accept_choice,
    accept_number,
    accept_text,
    accept_whole,
    describe_value,
    shorten,
)

MAX_STROKES = 64  # of a teacher's own figure: four bars of sixteenths

_MAX_TEMPOS = 400  # in a list: every whole tempo from 1 to 400
_MAX_CUE_LETTERS = 16  # of one spoken word; ours, so that it fits under its note
_NEAR_SWING = Fraction(1, 1000)  # 0.667 is meant as two thirds


def read_click(value: object) -> Click:
    """Read the click of a play-along: true, false, or the name of its pattern."""
    if isinstance(value, bool):
        return Click.BEATS if value else Click.OFF
    return Click(accept_choice("eighths", "backbeats")(value))


def read_hand(value: object) -> Limb:
    """Read "right" or "left" as a hand."""
    return {"right": Limb.RIGHT, "left": Limb.LEFT}[accept_choice("right", "left")(value)]


def read_page(value: object) -> PageFormat:
    """Read a paper size."""
    return PageFormat(accept_choice(*PageFormat)(value))


def read_kit(value: object) -> Kit:
    """Find one of our kits by its name."""
    return find_kit(accept_text(80)(value))


def read_groove(value: object) -> Groove:
    """Find one of our grooves by its name."""
    return find_groove(accept_text(80)(value))


def read_tempo(value: object) -> tuple[int, ...]:
    """Read a ladder, one tempo, or a list of tempos, in bpm."""
    if isinstance(value, str):
        return parse_ladder(accept_text(200)(value))
    tempos = value if isinstance(value, list) else [value]
    if not tempos or len(tempos) > _MAX_TEMPOS:
        raise RejectedValueError(describe_value(value))
    return parse_ladder(", ".join(str(accept_whole(1, 9999)(tempo)) for tempo in tempos))


def read_step(value: object) -> StepKind:
    """Read the name of a step."""
    name = accept_text(80)(value)
    kinds = {kind.value: kind for kind in TEACHING_ORDER}
    if name not in kinds:
        raise UnknownNameError.of("step", name, kinds)
    return kinds[name]


def read_surface(value: object) -> Surface:
    """Find a surface by its name."""
    return find_surface(accept_text(80)(value))


def find_named_figure(name: str, own_figures: Sequence[Figure] = (), *, otherwise: str) -> Figure:
    """Find the figure of a name, among a teacher's own first.

    Args:
        name: of the figure.
        own_figures: of the teacher.
        otherwise: advice for a name that is like no known one; it replaces a list of sixty names.

    Raises:
        UnknownNameError: suggesting the nearest name, or giving the advice.
    """
    try:
        return find_figure(name, own_figures)
    except UnknownNameError as error:
        names = [n for figure in (*own_figures, *load_rudiments()) for n in (figure.name, *figure.aliases)]
        if get_close_matches(name, names, n=1):
            raise
        raise UnknownNameError.with_advice("figure", shorten(name), otherwise) from error


def read_figure(value: object) -> Figure:
    """Find a rudiment by its name or alias."""
    return find_named_figure(
        accept_text(80)(value), otherwise='name one of the 40 rudiments, such as "flam tap"'
    )


def read_swing(value: object) -> Fraction:
    """Read a swing as a plain fraction: 0.667 is meant as two thirds."""
    exact = Fraction(accept_number(0.5, 0.75)(value))
    near = exact.limit_denominator(24)
    return near if abs(near - exact) < _NEAR_SWING else exact.limit_denominator(1000)


def read_sticking(value: object) -> tuple[Slot, ...]:
    """Read a sticking; None stands for a rest."""
    slots = parse_sticking(accept_text(1000)(value))
    if len(slots) > MAX_STROKES:
        raise RejectedValueError(f"a sticking of {len(slots)} strokes")
    return slots


def read_half_beats(value: object) -> Fraction:
    """Read a number of beats, whole or with a half."""
    beats = Fraction(accept_number(0.5, 80)(value))
    if beats.denominator > 2:
        raise RejectedValueError(f"{value} beats")
    return beats


def read_cue(value: object) -> tuple[str, ...]:
    """Read the words of a cue, one for each stroke; "" for a stroke without a word."""
    words = accept_text(1000)(value).split()
    for word in words:
        if len(word) > _MAX_CUE_LETTERS:
            raise RejectedValueError(f'the word "{shorten(word)}" of {len(word)} letters')
    return tuple("" if word == "-" else word for word in words)


def read_surfaces(value: object) -> tuple[str, ...]:
    """Read the surfaces of strokes, one for each or one for all.

    "floor tom with snare" puts grace notes on another surface than the main note.
    """
    names = [name.strip() for name in accept_text(4000)(value).split(",")]
    if len(names) > MAX_STROKES:
        raise RejectedValueError(f"{len(names)} surfaces")
    for name in names:
        parse_surfaces(name)
    return tuple(names)


def read_fill_name(value: object) -> str:
    """Read the name of a fill: that of its folder in the pack without the number."""
    name = str(accept_text(120)(value))
    if not re.fullmatch(r"[a-z0-9]+(-[a-z0-9]+)*", name):
        raise RejectedValueError(describe_value(value))
    return name
