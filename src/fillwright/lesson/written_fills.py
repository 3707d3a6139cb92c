"""Fills of a teacher's own in a lesson file: from the [[fill]] tables to what the craft reckons."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from fillwright.craft.written_fills import OwnFill, own_step, where, where_text
from fillwright.errors import FitError, SpanError, StickingError
from fillwright.lesson.figures import Ground, LessonFigure
from fillwright.music.notevalue import format_value
from fillwright.music.rudiments import plain, rhythm
from fillwright.music.sticking import format_sticking, parse_sticking
from fillwright.tables.blocks import quoted
from fillwright.tables.keys import FILL_KEYS, described
from fillwright.tables.mistakes import Mistakes, read_keys

MOST = 60


@dataclass(frozen=True, slots=True, kw_only=True)
class LessonOwnFill:
    """A fill of a teacher's own and the figure of the lesson that it belongs to, from 0."""

    part: int
    fill: OwnFill


def own_fills(
    table: Mapping[str, Any], figures: Sequence[LessonFigure], ground: Ground | None, mistakes: Mistakes
) -> tuple[LessonOwnFill, ...]:
    """The fills of a file.

    Args:
        table: the whole file, as TOML gives it.
        figures: of the lesson, in order.
        ground: of the lesson, to try the fills on; None where it can't be read.
        mistakes: is added to.
    """
    tables = table.get("fill", [])
    if not isinstance(tables, list) or not all(isinstance(each, dict) for each in tables):
        mistakes.add(("fill",), f"Found {described(tables)}; write [[fill]] above each fill, its keys below.")
        return ()
    if len(tables) > MOST:
        mistakes.add(("fill", MOST), f"There are {len(tables)} fills; a lesson has at most {MOST} of its own.")
    made = [_read(each, index, figures, mistakes) for index, each in enumerate(tables[:MOST])]
    for index, one in enumerate(made):
        if one and ground:
            _try(one, index, figures, ground, mistakes)
    return tuple(one for one in made if one)


def _read(
    table: Mapping[str, Any], index: int, figures: Sequence[LessonFigure], mistakes: Mistakes
) -> LessonOwnFill | None:
    path = ("fill", index)
    values = read_keys(table, FILL_KEYS, path, mistakes)
    if values.keys() < {key.name for key in FILL_KEYS}:
        return None
    slots = values["sticking"]
    try:
        played = rhythm(values["rhythm"], len(slots))
    except StickingError as error:
        mistakes.add((*path, "rhythm"), str(error))
        return None
    name = values["figure"]
    part = len(figures) - 1 if name is None else _part(name, figures)
    if part is None:
        known = ", ".join(each.figure.name for each in figures)
        mistakes.add((*path, "figure"), f'"{name}" is no figure of this lesson; its figures are: {known}.')
        return None
    on = values["on"]
    strokes = sum(slot is not None for slot in slots)
    return LessonOwnFill(
        part=part,
        fill=OwnFill(
            name=values["name"],
            beats=values["beats"],
            slots=slots,
            rhythm=played,
            on=on * strokes if len(on) == 1 else on,
        ),
    )


def _part(name: str, figures: Sequence[LessonFigure]) -> int | None:
    """The first figure of a name, any of its names."""
    for place, each in enumerate(figures):
        if plain(name) in map(plain, (each.figure.name, *each.figure.aliases)):
            return place
    return None


def _try(
    one: LessonOwnFill, index: int, figures: Sequence[LessonFigure], ground: Ground, mistakes: Mistakes
) -> None:
    try:
        own_step(one.fill, figures[one.part].brief(ground))
    except (FitError, SpanError) as error:
        text = str(error)
        mistakes.add(("fill", index), text[0].upper() + text[1:])


def read_fill(name: str, *, beats: Fraction, sticking: str, values: str, on: str) -> OwnFill:
    """A fill from its texts, as a lesson file has them.

    Raises:
        StickingError: for a sticking or note values that can't be read.
        UnknownNameError: for a surface nobody knows.
    """
    slots = parse_sticking(sticking)
    places = tuple(where_text(*where(one.strip())) for one in on.split(","))
    strokes = sum(slot is not None for slot in slots)
    return OwnFill(
        name=name,
        beats=beats,
        slots=slots,
        rhythm=rhythm(values, len(slots)),
        on=places * strokes if len(places) == 1 else places,
    )


def fill_values(fill: OwnFill) -> dict[str, str]:
    """A fill as texts, which `read_fill` reads back."""
    values = [format_value(length) for length in fill.rhythm.lengths]
    on = fill.on[:1] if len(set(fill.on)) == 1 else fill.on
    return {
        "beats": f"{float(fill.beats):g}",
        "rhythm": " ".join(values[:1] if len(set(values)) == 1 else values),
        "sticking": format_sticking(fill.slots),
        "on": ", ".join(on),
    }


def fill_text(fill: OwnFill, figure: str) -> str:
    """A fill as a lesson file has it, for the end of the file.

    Args:
        fill: what is written.
        figure: the name of its figure.
    """
    texts = fill_values(fill)
    lines = (
        "[[fill]]",
        f"name = {quoted(fill.name)}",
        f"figure = {quoted(figure)}",
        f"beats = {texts['beats']}",
        *(f"{key} = {quoted(texts[key])}" for key in ("rhythm", "sticking", "on")),
    )
    return "\n".join(lines) + "\n"
