"""The keys of a lesson file: one table of facts that reading, checking and the documentation share."""

from __future__ import annotations

import math
import re
import unicodedata
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from difflib import get_close_matches
from fractions import Fraction
from typing import Any

from fillwright.craft.brief import TEACHING_ORDER, StepKind
from fillwright.craft.player.kits import USUAL, Kit, find_kit
from fillwright.craft.written_fills import where
from fillwright.errors import LessonFileError, UnknownNameError
from fillwright.music.figure import Figure
from fillwright.music.grooves import Groove, find_groove
from fillwright.music.ladder import parse_ladder
from fillwright.music.rudiments import find_figure, rudiments
from fillwright.music.sticking import parse_sticking
from fillwright.music.stroke import Limb, Slot
from fillwright.music.surfaces import Surface, surface
from fillwright.sound.playalong.options import MOST_COUNT_IN_BARS, Click

MAX_FIGURES = 40
MAX_NAMED = 400
"""Fills that may be left out or put in order."""

MAX_STROKES = 64
"""The longest figure of a teacher's own: four bars of sixteenths."""

Read = Callable[[Any], Any]
"""Reads what TOML gave for a key, or raises a FillwrightError."""


class UnfitError(LessonFileError):
    """A value that does not belong where it stands; its text completes "Found …"."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Key:
    """What may stand behind one key.

    Attributes:
        name: the key.
        allowed: what is accepted, in words that complete "write …".
        read: reads the value, or one item of a list.
        required: whether a file without it is refused.
        default: what is read where the key is missing, as TOML would give it; None for nothing.
        most: most items of a list; 0 for a key that takes no list.
        alone: whether one item may stand without its list.
    """

    name: str
    allowed: str
    read: Read
    required: bool = False
    default: Any = None
    most: int = 0
    alone: bool = False


def described(value: object) -> str:
    """What was found, in words, on one line and short.

    >>> described("shufle"), described(True), described([1, 2]), described(3)
    ('the text "shufle"', 'true', 'a list of 2', '3')
    """
    if isinstance(value, str):
        return f'the text "{shown(value)}"' if value else "an empty text"
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, int):
        return str(value) if abs(value) < 10**12 else "a very large number"
    if isinstance(value, float):
        return str(value) if math.isfinite(value) else f"{value}, which is no number"
    if isinstance(value, list):
        return f"a list of {len(value)}" if value else "an empty list"
    return "a table" if isinstance(value, dict) else "a date or a time"


def shown(text: str, most: int = 40) -> str:
    """A text of the user's as it may stand in a sentence: short, with nothing that can't be printed."""
    cut = text if len(text) <= most else text[: most - 1] + "…"
    return "".join(c if c.isprintable() else "\N{REPLACEMENT CHARACTER}" for c in cut)


def text(most: int) -> Read:
    """Reads a text of 1 to so many characters; line breaks and tabs become spaces."""

    def read(value: object) -> str:
        if not isinstance(value, str):
            raise UnfitError(described(value))
        folded = re.sub(r"[ \t\r\n]+", " ", value).strip()
        if not folded:
            raise UnfitError("an empty text")
        if len(folded) > most:
            raise UnfitError(f"a text of {len(folded)} characters")
        for character in folded:
            if not _can_be_printed(character):
                raise UnfitError(f"the control character U+{ord(character):04X} in the text")
        return folded

    return read


def _can_be_printed(character: str) -> bool:
    """Whether paper and every file format can hold it: no controls, no half characters, no turned direction."""
    code = ord(character)
    turns = 0x202A <= code <= 0x202E or 0x2066 <= code <= 0x2069
    nothing = code & 0xFFFE == 0xFFFE or 0xFDD0 <= code <= 0xFDEF or code == 0xFEFF
    return unicodedata.category(character) not in ("Cc", "Cs", "Zl", "Zp") and not turns and not nothing


def whole(low: int, high: int) -> Read:
    """Reads a whole number between two others."""

    def read(value: object) -> int:
        if isinstance(value, bool) or not isinstance(value, int) or not low <= value <= high:
            raise UnfitError(described(value))
        return value

    return read


def number(low: float, high: float) -> Read:
    """Reads a number between two others, whole or not."""

    def read(value: object) -> float:
        if isinstance(value, bool) or not isinstance(value, int | float) or not low <= value <= high:
            raise UnfitError(described(value))
        return value

    return read


def yes_no(value: object) -> bool:
    """Reads true or false."""
    if not isinstance(value, bool):
        raise UnfitError(described(value))
    return value


def choice(*names: str) -> Read:
    """Reads one of some words."""

    def read(value: object) -> str:
        if value not in names:
            raise UnfitError(described(value))
        return str(value)

    return read


def _click(value: object) -> Click:
    if isinstance(value, bool):
        return Click.BEATS if value else Click.OFF
    return Click(choice("eighths", "backbeats")(value))


def _hand(value: object) -> Limb:
    return {"right": Limb.RIGHT, "left": Limb.LEFT}[choice("right", "left")(value)]


def _kit(value: object) -> Kit:
    return find_kit(text(80)(value))


def _groove(value: object) -> Groove:
    return find_groove(text(80)(value))


def _tempo(value: object) -> tuple[int, ...]:
    if isinstance(value, str):
        return parse_ladder(text(200)(value))
    rungs = value if isinstance(value, list) else [value]
    if not rungs or len(rungs) > 400:
        raise UnfitError(described(value))
    return parse_ladder(", ".join(str(whole(1, 9999)(rung)) for rung in rungs))


def _step(value: object) -> StepKind:
    name = text(80)(value)
    kinds = {kind.value: kind for kind in TEACHING_ORDER}
    if name not in kinds:
        raise UnknownNameError.of("step", name, kinds)
    return kinds[name]


def _surface(value: object) -> Surface:
    return surface(text(80)(value))


def named_figure(name: str, own: Sequence[Figure] = (), *, otherwise: str) -> Figure:
    """The figure of a name, a teacher's own first.

    Raises:
        UnknownNameError: offering the nearest name, or what else can be done instead of sixty names.
    """
    try:
        return find_figure(name, own)
    except UnknownNameError:
        names = [n for figure in (*own, *rudiments()) for n in (figure.name, *figure.aliases)]
        if get_close_matches(name, names, n=1):
            raise
        raise UnknownNameError(f'There is no figure called "{shown(name)}"; {otherwise}.') from None


def _figure(value: object) -> Figure:
    return named_figure(text(80)(value), otherwise='name one of the 40 rudiments, such as "flam tap"')


def _swing(value: object) -> Fraction:
    """A swing as a plain fraction: 0.667 is meant as two thirds."""
    exact = Fraction(number(0.5, 0.75)(value))
    near = exact.limit_denominator(24)
    return near if abs(near - exact) < Fraction(1, 1000) else exact.limit_denominator(1000)


def _sticking(value: object) -> tuple[Slot, ...]:
    slots = parse_sticking(text(1000)(value))
    if len(slots) > MAX_STROKES:
        raise UnfitError(f"a sticking of {len(slots)} strokes")
    return slots


def _half_beats(value: object) -> Fraction:
    beats = Fraction(number(0.5, 80)(value))
    if beats.denominator > 2:
        raise UnfitError(f"{value} beats")
    return beats


def _words(value: object) -> tuple[str, ...]:
    """Words of a cue, "" where nothing is said."""
    words = text(1000)(value).split()
    for word in words:
        if len(word) > 16:
            raise UnfitError(f'the word "{shown(word)}" of {len(word)} letters')
    return tuple("" if word == "-" else word for word in words)


def _places(value: object) -> tuple[str, ...]:
    """Surfaces of strokes, one for each, or one for all; "floor tom with snare" where grace notes lie apart."""
    names = [name.strip() for name in text(4000)(value).split(",")]
    if len(names) > MAX_STROKES:
        raise UnfitError(f"{len(names)} surfaces")
    for name in names:
        where(name)
    return tuple(names)


def _slug(value: object) -> str:
    """Reads the short name of a fill, as its folder in the pack has it behind the number."""
    name = str(text(120)(value))
    if not re.fullmatch(r"[a-z0-9]+(-[a-z0-9]+)*", name):
        raise UnfitError(described(value))
    return name


_STEPS = 'a list of steps, such as ["last beat", "round the kit"]'

_SLUGS = (
    f"a list of at most {MAX_NAMED} fills by the names of their folders without the number, such as "
    '["flam-tap-last-beat"]'
)

LESSON_KEYS: tuple[Key, ...] = (
    Key(name="number", allowed="a whole number from 1 to 9999", read=whole(1, 9999), required=True),
    Key(name="title", allowed="a text of 1 to 80 characters", read=text(80), required=True),
    Key(name="series", allowed="a text of 1 to 80 characters", read=text(80)),
    Key(name="teacher", allowed="a text of 1 to 80 characters", read=text(80)),
    Key(name="purpose", allowed="one sentence of at most 200 characters", read=text(200)),
    Key(
        name="groove",
        allowed='the name of a groove, such as "shuffle"',
        read=_groove,
        default="straight eighths",
    ),
    Key(
        name="tempo",
        allowed='a ladder such as "60..100 step 10", one whole number, or a list of rising whole numbers',
        read=_tempo,
        default="60..90 step 10",
    ),
    Key(name="bars", allowed="a whole number from 1 to 16", read=whole(1, 16), default=4),
    Key(
        name="steps",
        allowed=_STEPS,
        read=_step,
        default=[kind.value for kind in TEACHING_ORDER],
        most=len(TEACHING_ORDER),
    ),
    Key(name="per_step", allowed="a whole number from 1 to 6", read=whole(1, 6), default=1),
    Key(
        name="landing",
        allowed='a list of surfaces, at most two of them for the hands, such as ["crash", "kick"]',
        read=_surface,
        default=["crash", "kick"],
        most=4,
    ),
    Key(
        name="level",
        allowed='"first-year", "steady", "gigging" or "professional"',
        read=choice("first-year", "steady", "gigging", "professional"),
        default="steady",
    ),
    Key(name="hand", allowed='"right" or "left"', read=_hand, default="right"),
    Key(name="kit", allowed='the name of a kit, such as "four-piece"', read=_kit, default=USUAL),
    Key(name="page", allowed='"a4" or "letter"', read=choice("a4", "letter"), default="a4"),
    Key(
        name="audio",
        allowed='"mp3", "flac", "ogg" or "wav"',
        read=choice("mp3", "flac", "ogg", "wav"),
        default="mp3",
    ),
    Key(name="click", allowed='true, false, "eighths" or "backbeats"', read=_click, default=True),
    Key(
        name="count_in",
        allowed="a whole number of bars from 0 to 2",
        read=whole(0, MOST_COUNT_IN_BARS),
        default=1,
    ),
    Key(name="swing", allowed="a number from 0.5 to 0.75", read=_swing, default=0.5),
    Key(name="flam_ms", allowed="a number from 5 to 80", read=number(5, 80), default=25),
    Key(name="counting", allowed="true or false", read=yes_no, default=True),
    Key(name="rolls", allowed='"written" or "short"', read=choice("written", "short"), default="written"),
    Key(
        name="notes",
        allowed="a list of at most 12 notes, each of at most 300 characters",
        read=text(300),
        default=[],
        most=12,
    ),
    Key(
        name="earlier",
        allowed='a list of at most 40 rudiments, such as ["five stroke roll"]',
        read=_figure,
        default=[],
        most=40,
    ),
    Key(name="leave_out", allowed=_SLUGS, read=_slug, default=[], most=MAX_NAMED),
    Key(name="order", allowed=_SLUGS, read=_slug, default=[], most=MAX_NAMED),
)
"""The keys above the first [[figure]]."""

FIGURE_KEYS: tuple[Key, ...] = (
    Key(name="name", allowed="a text of 1 to 80 characters", read=text(80), required=True),
    Key(
        name="sticking", allowed=f'a sticking of 1 to {MAX_STROKES} strokes, such as "R L R R"', read=_sticking
    ),
    Key(name="rhythm", allowed='note values, such as "16" or "16t 16t 16t 8"', read=text(400)),
    Key(name="alternates", allowed="true or false", read=yes_no),
    Key(name="groove", allowed='the name of a groove, such as "shuffle"', read=_groove),
    Key(name="lead", allowed='"right" or "left"', read=_hand),
    Key(name="steps", allowed=_STEPS, read=_step, most=len(TEACHING_ORDER)),
    Key(
        name="beats",
        allowed="a number of beats from 0.5 to 80 in half beats, or a list of at most 6",
        read=_half_beats,
        default=[],
        most=6,
        alone=True,
    ),
    Key(name="cue", allowed="one word of at most 16 letters for every stroke, or -", read=_words),
)
"""The keys below each [[figure]]."""

FILL_KEYS: tuple[Key, ...] = (
    Key(name="name", allowed="a text of 1 to 80 characters", read=text(80), required=True),
    Key(name="figure", allowed="the name of a figure of this lesson", read=text(80)),
    Key(
        name="beats",
        allowed="a number of beats from 0.5 to 80 in half beats",
        read=_half_beats,
        required=True,
    ),
    Key(name="sticking", allowed=f"a sticking of 1 to {MAX_STROKES} strokes", read=_sticking, required=True),
    Key(name="rhythm", allowed='note values, such as "16"', read=text(400), required=True),
    Key(
        name="on",
        allowed='surfaces with commas between them, one for each stroke, such as "snare, snare, high tom"',
        read=_places,
        required=True,
    ),
)
"""The keys below each [[fill]]: one of the teacher's own."""
