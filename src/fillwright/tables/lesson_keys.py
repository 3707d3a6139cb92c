"""Keys of a lesson file: one table of facts that reading, checking and the documentation share."""

from __future__ import annotations

import re
from collections.abc import Sequence
from difflib import get_close_matches
from fractions import Fraction

from fillwright.craft.brief import TEACHING_ORDER, StepKind
from fillwright.craft.player.kits import USUAL, Kit, find_kit
from fillwright.craft.written_fills import parse_surfaces
from fillwright.errors import UnknownNameError
from fillwright.music.figure import Figure
from fillwright.music.grooves import Groove, find_groove
from fillwright.music.ladder import parse_ladder
from fillwright.music.rudiments import find_figure, load_rudiments
from fillwright.music.sticking import parse_sticking
from fillwright.music.stroke import Limb, Slot
from fillwright.music.surfaces import Surface, find_surface
from fillwright.sound.playalong.options import MOST_COUNT_IN_BARS, Click
from fillwright.tables.page_format import PageFormat
from fillwright.tables.values import (
    Key,
    RejectedValueError,
    TableKind,
    accept_choice,
    accept_number,
    accept_text,
    accept_whole,
    accept_yes_no,
    describe_value,
    shorten,
)

MAX_FIGURES = 40  # in one lesson; ours
MAX_NAMED = 400  # fills that may be removed or put in order; ours
MAX_STROKES = 64  # of a teacher's own figure: four bars of sixteenths

_MAX_TEMPOS = 400  # in a list: every whole tempo from 1 to 400
_MAX_CUE_LETTERS = 16  # of one spoken word; ours, so that it fits under its note
_NEAR_SWING = Fraction(1, 1000)  # 0.667 is meant as two thirds


def _read_click(value: object) -> Click:
    if isinstance(value, bool):
        return Click.BEATS if value else Click.OFF
    return Click(accept_choice("eighths", "backbeats")(value))


def _read_hand(value: object) -> Limb:
    return {"right": Limb.RIGHT, "left": Limb.LEFT}[accept_choice("right", "left")(value)]


def _read_page(value: object) -> PageFormat:
    return PageFormat(accept_choice(*PageFormat)(value))


def _read_kit(value: object) -> Kit:
    return find_kit(accept_text(80)(value))


def _read_groove(value: object) -> Groove:
    return find_groove(accept_text(80)(value))


def _read_tempo(value: object) -> tuple[int, ...]:
    if isinstance(value, str):
        return parse_ladder(accept_text(200)(value))
    tempos = value if isinstance(value, list) else [value]
    if not tempos or len(tempos) > _MAX_TEMPOS:
        raise RejectedValueError(describe_value(value))
    return parse_ladder(", ".join(str(accept_whole(1, 9999)(tempo)) for tempo in tempos))


def _read_step(value: object) -> StepKind:
    name = accept_text(80)(value)
    kinds = {kind.value: kind for kind in TEACHING_ORDER}
    if name not in kinds:
        raise UnknownNameError.of("step", name, kinds)
    return kinds[name]


def _read_surface(value: object) -> Surface:
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


def _read_figure(value: object) -> Figure:
    return find_named_figure(
        accept_text(80)(value), otherwise='name one of the 40 rudiments, such as "flam tap"'
    )


def _read_swing(value: object) -> Fraction:
    """Read a swing as a plain fraction: 0.667 is meant as two thirds."""
    exact = Fraction(accept_number(0.5, 0.75)(value))
    near = exact.limit_denominator(24)
    return near if abs(near - exact) < _NEAR_SWING else exact.limit_denominator(1000)


def _read_sticking(value: object) -> tuple[Slot, ...]:
    slots = parse_sticking(accept_text(1000)(value))
    if len(slots) > MAX_STROKES:
        raise RejectedValueError(f"a sticking of {len(slots)} strokes")
    return slots


def _read_half_beats(value: object) -> Fraction:
    beats = Fraction(accept_number(0.5, 80)(value))
    if beats.denominator > 2:
        raise RejectedValueError(f"{value} beats")
    return beats


def _read_cue(value: object) -> tuple[str, ...]:
    """Read the words of a cue, one for each stroke; "" for a stroke without a word."""
    words = accept_text(1000)(value).split()
    for word in words:
        if len(word) > _MAX_CUE_LETTERS:
            raise RejectedValueError(f'the word "{shorten(word)}" of {len(word)} letters')
    return tuple("" if word == "-" else word for word in words)


def _read_surfaces(value: object) -> tuple[str, ...]:
    """Read the surfaces of strokes, one for each or one for all.

    "floor tom with snare" puts grace notes on another surface than the main note.
    """
    names = [name.strip() for name in accept_text(4000)(value).split(",")]
    if len(names) > MAX_STROKES:
        raise RejectedValueError(f"{len(names)} surfaces")
    for name in names:
        parse_surfaces(name)
    return tuple(names)


def _read_fill_name(value: object) -> str:
    """Read the name of a fill: that of its folder in the pack without the number."""
    name = str(accept_text(120)(value))
    if not re.fullmatch(r"[a-z0-9]+(-[a-z0-9]+)*", name):
        raise RejectedValueError(describe_value(value))
    return name


_STEPS = 'a list of steps, such as ["last beat", "round the kit"]'

_FILL_NAMES = (
    f"a list of at most {MAX_NAMED} fills by the names of their folders without the number, such as "
    '["flam-tap-last-beat"]'
)

LESSON_KEYS: tuple[Key, ...] = (
    Key(name="number", allowed="a whole number from 1 to 9999", read=accept_whole(1, 9999), required=True),
    Key(name="title", allowed="a text of 1 to 80 characters", read=accept_text(80), required=True),
    Key(name="series", allowed="a text of 1 to 80 characters", read=accept_text(80)),
    Key(name="teacher", allowed="a text of 1 to 80 characters", read=accept_text(80)),
    Key(
        name="goal",
        allowed="one sentence of at most 200 characters",
        read=accept_text(200),
        old_names=("purpose",),
    ),
    Key(
        name="groove",
        allowed='the name of a groove, such as "shuffle"',
        read=_read_groove,
        default="straight eighths",
    ),
    Key(
        name="tempo",
        allowed='a ladder such as "60..100 step 10", one whole number, or a list of rising whole numbers',
        read=_read_tempo,
        default="60..90 step 10",
    ),
    Key(name="bars", allowed="a whole number from 1 to 16", read=accept_whole(1, 16), default=4),
    Key(
        name="steps",
        allowed=_STEPS,
        read=_read_step,
        default=[kind.value for kind in TEACHING_ORDER],
        most=len(TEACHING_ORDER),
    ),
    Key(name="per_step", allowed="a whole number from 1 to 6", read=accept_whole(1, 6), default=1),
    Key(
        name="landing",
        allowed='a list of surfaces, at most two of them for the hands, such as ["crash", "kick"]',
        read=_read_surface,
        default=["crash", "kick"],
        most=4,
    ),
    Key(
        name="level",
        allowed='"first-year", "steady", "gigging" or "professional"',
        read=accept_choice("first-year", "steady", "gigging", "professional"),
        default="steady",
    ),
    Key(name="hand", allowed='"right" or "left"', read=_read_hand, default="right"),
    Key(name="kit", allowed='the name of a kit, such as "four-piece"', read=_read_kit, default=USUAL),
    Key(name="page", allowed='"a4" or "letter"', read=_read_page, default="a4"),
    Key(
        name="audio",
        allowed='"mp3", "flac", "ogg" or "wav"',
        read=accept_choice("mp3", "flac", "ogg", "wav"),
        default="mp3",
    ),
    Key(name="click", allowed='true, false, "eighths" or "backbeats"', read=_read_click, default=True),
    Key(
        name="count_in",
        allowed="a whole number of bars from 0 to 2",
        read=accept_whole(0, MOST_COUNT_IN_BARS),
        default=1,
    ),
    Key(name="swing", allowed="a number from 0.5 to 0.75", read=_read_swing, default=0.5),
    Key(name="flam_ms", allowed="a number from 5 to 80", read=accept_number(5, 80), default=25),
    Key(name="counting", allowed="true or false", read=accept_yes_no, default=True),
    Key(
        name="rolls", allowed='"written" or "short"', read=accept_choice("written", "short"), default="written"
    ),
    Key(
        name="notes",
        allowed="a list of at most 12 notes, each of at most 300 characters",
        read=accept_text(300),
        default=[],
        most=12,
    ),
    Key(
        name="earlier",
        allowed='a list of at most 40 rudiments, such as ["five stroke roll"]',
        read=_read_figure,
        default=[],
        most=40,
    ),
    Key(name="leave_out", allowed=_FILL_NAMES, read=_read_fill_name, default=[], most=MAX_NAMED),
    Key(name="order", allowed=_FILL_NAMES, read=_read_fill_name, default=[], most=MAX_NAMED),
)
"""Keys above the first [[figure]]."""

FIGURE_KEYS: tuple[Key, ...] = (
    Key(name="name", allowed="a text of 1 to 80 characters", read=accept_text(80), required=True),
    Key(
        name="sticking",
        allowed=f'a sticking of 1 to {MAX_STROKES} strokes, such as "R L R R"',
        read=_read_sticking,
    ),
    Key(name="rhythm", allowed='note values, such as "16" or "16t 16t 16t 8"', read=accept_text(400)),
    Key(name="alternates", allowed="true or false", read=accept_yes_no),
    Key(name="groove", allowed='the name of a groove, such as "shuffle"', read=_read_groove),
    Key(name="lead", allowed='"right" or "left"', read=_read_hand),
    Key(name="steps", allowed=_STEPS, read=_read_step, most=len(TEACHING_ORDER)),
    Key(
        name="beats",
        allowed="a number of beats from 0.5 to 80 in half beats, or a list of at most 6",
        read=_read_half_beats,
        default=[],
        most=6,
        alone=True,
    ),
    Key(name="cue", allowed="one word of at most 16 letters for every stroke, or -", read=_read_cue),
)
"""Keys below each [[figure]]."""

FILL_KEYS: tuple[Key, ...] = (
    Key(name="name", allowed="a text of 1 to 80 characters", read=accept_text(80), required=True),
    Key(name="figure", allowed="the name of a figure of this lesson", read=accept_text(80)),
    Key(
        name="beats",
        allowed="a number of beats from 0.5 to 80 in half beats",
        read=_read_half_beats,
        required=True,
    ),
    Key(
        name="sticking", allowed=f"a sticking of 1 to {MAX_STROKES} strokes", read=_read_sticking, required=True
    ),
    Key(name="rhythm", allowed='note values, such as "16"', read=accept_text(400), required=True),
    Key(
        name="on",
        allowed='surfaces with commas between them, one for each stroke, such as "snare, snare, high tom"',
        read=_read_surfaces,
        required=True,
    ),
)
"""Keys below each [[fill]]: one of the teacher's own."""

LESSON_FILE = TableKind(
    title="a lesson file",
    rows=frozenset({"figure", "fill"}),
    named={"grooves": "groove", "kits": "kit"},
    elsewhere={
        "above the first [[figure]]": LESSON_KEYS,
        "below a [[figure]]": FIGURE_KEYS,
        "below a [[fill]]": FILL_KEYS,
    },
)
