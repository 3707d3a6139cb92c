"""The 40 rudiments, from the table `rudiments.toml`, and the names the trade has for them."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Sequence
from fractions import Fraction
from functools import cache
from importlib.resources import files
from itertools import groupby

from fillwright.errors import StickingError, UnknownNameError
from fillwright.music.figure import Figure, Rhythm
from fillwright.music.notevalue import SUBDIVISIONS, format_value, parse_values
from fillwright.music.sticking import parse_sticking

GROUPS = ("single strokes", "double strokes", "bounces", "diddles", "flams", "drags")
"""The groups teachers speak of, in the order they are taught (common practice, no source)."""

_COUNTS = (
    "no one two three four five six seven eight nine ten eleven twelve thirteen fourteen fifteen sixteen "
    "seventeen"
).split()
_BASES = {"1": "whole", "2": "half", "4": "quarter", "8": "eighth", "16": "sixteenth", "32": "thirty-second"}


def rhythm(text: str, places: int, *, rebarred: bool = False) -> Rhythm:
    """Read a figure's rhythm: one note value for every place, or one for each.

    Raises:
        StickingError: for values that can't be read or whose number is not that of the places.

    >>> rhythm("16t 16t 16t 8", 4).name
    'three sixteenth-triplets and an eighth'
    >>> rhythm("8t", 3).name
    'triplets'
    """
    lengths = parse_values(text)
    if len(lengths) == 1:
        lengths *= places
    if len(lengths) != places:
        raise StickingError(
            f'The rhythm "{text[:40]}" has {len(lengths)} note values for {places} strokes; '
            "write one for all of them, or one for each."
        )
    return named_rhythm(lengths, rebarred=rebarred)


def named_rhythm(lengths: tuple[Fraction, ...], *, rebarred: bool = False) -> Rhythm:
    """A rhythm of those lengths, named as a drummer says it."""
    return Rhythm(name=_rhythm_name(lengths), lengths=lengths, rebarred=rebarred)


def _rhythm_name(lengths: Sequence[Fraction]) -> str:
    if len(set(lengths)) == 1:
        for name, length in SUBDIVISIONS.items():
            if length == lengths[0]:
                return name
    runs = [_run_name(length, len(list(run))) for length, run in groupby(lengths)]
    return runs[0] if len(runs) == 1 else f"{', '.join(runs[:-1])} and {runs[-1]}"


def _run_name(length: Fraction, count: int) -> str:
    value = format_value(length)
    base = _BASES.get(value.rstrip("t."))
    if base is None:
        return value if count == 1 else f"{count} times {value}"
    noun = f"{base}-triplet" if value.endswith("t") else f"dotted {base}" if value.endswith(".") else base
    if count == 1:
        return f"{'an' if noun[0] in 'aeiou' else 'a'} {noun}"
    number = _COUNTS[count] if count < len(_COUNTS) else str(count)
    return f"{number} {noun[:-1] + 'ves' if noun.endswith('half') else noun + 's'}"


@cache
def rudiments() -> tuple[Figure, ...]:
    """The 40 rudiments in the order of the sheet."""
    table = tomllib.loads(files(__package__).joinpath("rudiments.toml").read_text("utf-8"))
    return tuple(_rudiment(row) for row in table["rudiment"])


def _rudiment(row: dict[str, object]) -> Figure:
    fields = dict(row)
    strokes = parse_sticking(str(fields.pop("sticking")))
    own = _texts(fields.pop("rhythms"))
    rebarred = _texts(fields.pop("rebarred", []))
    rhythms = tuple(rhythm(text, len(strokes)) for text in own) + tuple(
        rhythm(text, len(strokes), rebarred=True) for text in rebarred
    )
    aliases = _texts(fields.pop("aliases", []))
    return Figure(strokes=strokes, rhythms=rhythms, aliases=aliases, **fields)  # type: ignore[arg-type]


def _texts(value: object) -> tuple[str, ...]:
    return tuple(value) if isinstance(value, list) else ()


def plain(name: str) -> str:
    """A name as it is looked up: small letters, single spaces and no hyphens, a number in front in words.

    >>> plain("Five-Stroke  Roll"), plain("13 stroke roll")
    ('five stroke roll', 'thirteen stroke roll')
    """
    words = re.sub(r"[\s\-_]+", " ", name).strip().casefold().split(" ")
    if words[0].isdecimal() and len(words[0]) < 3 and int(words[0]) < len(_COUNTS):
        words[0] = _COUNTS[int(words[0])]
    return " ".join(words)


def find_figure(name: str, own: Sequence[Figure] = ()) -> Figure:
    """The figure of that name or alias: a teacher's own first, then the rudiments.

    Raises:
        UnknownNameError: offering the nearest name.

    >>> find_figure("four-stroke ruff").name
    'single stroke four'
    """
    wanted = plain(name)
    figures = (*own, *rudiments())
    for figure in figures:
        if wanted in (plain(figure.name), *map(plain, figure.aliases)):
            return figure
    raise UnknownNameError.of("figure", name, [n for f in figures for n in (f.name, *f.aliases)])
