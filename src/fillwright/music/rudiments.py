"""The 40 rudiments, from the table `rudiments.toml`, and their names in the trade."""

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
"""Groups of rudiments, in the order they are taught (common practice, no source)."""

_COUNTS = (
    "no one two three four five six seven eight nine ten eleven twelve thirteen fourteen fifteen sixteen "
    "seventeen"
).split()
_BASES = {"1": "whole", "2": "half", "4": "quarter", "8": "eighth", "16": "sixteenth", "32": "thirty-second"}


def parse_rhythm(text: str, places: int, *, rebarred: bool = False) -> Rhythm:
    """Read a figure's rhythm: one note value for all its places, or one for each.

    Raises:
        StickingError: for values that can't be read, or too many or too few of them.

    >>> parse_rhythm("16t 16t 16t 8", 4).name
    'a sixteenth-note triplet and an eighth'
    >>> parse_rhythm("8t", 3).name
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
    return name_rhythm(lengths, rebarred=rebarred)


def name_rhythm(lengths: tuple[Fraction, ...], *, rebarred: bool = False) -> Rhythm:
    """Return a rhythm of those lengths with the name that a drummer uses."""
    return Rhythm(name=_join_runs(lengths), lengths=lengths, rebarred=rebarred)


def _join_runs(lengths: Sequence[Fraction]) -> str:
    if len(set(lengths)) == 1:
        for name, length in SUBDIVISIONS.items():
            if length == lengths[0]:
                return name
    runs = [_name_run(length, len(list(run))) for length, run in groupby(lengths)]
    return runs[0] if len(runs) == 1 else f"{', '.join(runs[:-1])} and {runs[-1]}"


def _name_run(length: Fraction, count: int) -> str:
    value = format_value(length)
    base = _BASES.get(value.rstrip("t."))
    if base is None:
        return value if count == 1 else f"{count} times {value}"
    if value.endswith("t") and count % 3 == 0:
        return _count_noun(count // 3, f"{base}-note triplet")
    noun = f"{base}-triplet" if value.endswith("t") else f"dotted {base}" if value.endswith(".") else base
    return _count_noun(count, noun)


def _count_noun(count: int, noun: str) -> str:
    if count == 1:
        return f"{'an' if noun[0] in 'aeiou' else 'a'} {noun}"
    number = _COUNTS[count] if count < len(_COUNTS) else str(count)
    return f"{number} {noun[:-1] + 'ves' if noun.endswith('half') else noun + 's'}"


@cache
def load_rudiments() -> tuple[Figure, ...]:
    """Return the 40 rudiments in the order of the sheet."""
    table = tomllib.loads(files(__package__).joinpath("rudiments.toml").read_text("utf-8"))
    return tuple(_read_rudiment(row) for row in table["rudiment"])


def _read_rudiment(row: dict[str, object]) -> Figure:
    fields = dict(row)
    strokes = parse_sticking(str(fields.pop("sticking")))
    usual = _to_texts(fields.pop("rhythms"))
    rebarred = _to_texts(fields.pop("rebarred", []))
    rhythms = tuple(parse_rhythm(text, len(strokes)) for text in usual) + tuple(
        parse_rhythm(text, len(strokes), rebarred=True) for text in rebarred
    )
    aliases = _to_texts(fields.pop("aliases", []))
    return Figure(strokes=strokes, rhythms=rhythms, aliases=aliases, **fields)  # type: ignore[arg-type]


def _to_texts(value: object) -> tuple[str, ...]:
    return tuple(value) if isinstance(value, list) else ()


def normalize_name(name: str) -> str:
    """Return a name as it is looked up: small letters, single spaces, no hyphens, a first number in words.

    >>> normalize_name("Five-Stroke  Roll"), normalize_name("13 stroke roll")
    ('five stroke roll', 'thirteen stroke roll')
    """
    words = re.sub(r"[\s\-_]+", " ", name).strip().casefold().split(" ")
    if words[0].isdecimal() and len(words[0]) < 3 and int(words[0]) < len(_COUNTS):
        words[0] = _COUNTS[int(words[0])]
    return " ".join(words)


def find_figure(name: str, written: Sequence[Figure] = ()) -> Figure:
    """Return the figure of that name or alias: the teacher's figures first, then the rudiments.

    Args:
        name: name or alias.
        written: figures that the teacher wrote.

    Raises:
        UnknownNameError: with the nearest known name.

    >>> find_figure("four-stroke ruff").name
    'single stroke four'
    """
    wanted = normalize_name(name)
    figures = (*written, *load_rudiments())
    for figure in figures:
        if wanted in (normalize_name(figure.name), *map(normalize_name, figure.aliases)):
            return figure
    raise UnknownNameError.of("figure", name, [n for f in figures for n in (f.name, *f.aliases)])
