"""A teacher's own fills in a lesson file: from the [[fill]] tables to fills with their strokes."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from fillwright.craft.written_fills import WrittenFill, format_surfaces, make_step, parse_surfaces
from fillwright.errors import FitError, MistakeKind, SpanError, StickingError
from fillwright.lesson.figures import FillConditions, LessonFigure
from fillwright.music.notevalue import format_value
from fillwright.music.rudiments import normalize_name, parse_rhythm
from fillwright.music.sticking import format_sticking, parse_sticking
from fillwright.tables.blocks import quote
from fillwright.tables.keys import read_keys, read_rows
from fillwright.tables.lesson_keys import FILL_KEYS
from fillwright.tables.mistakes import Mistakes

MOST_FILLS = 60  # of a teacher's own in one lesson; ours


@dataclass(frozen=True, slots=True, kw_only=True)
class OwnFill:
    """A fill of a teacher's own.

    Attributes:
        part: number of its figure in the lesson, from 0.
        fill: what is written.
    """

    part: int
    fill: WrittenFill


def read_own_fills(
    table: Mapping[str, Any],
    figures: Sequence[LessonFigure],
    conditions: FillConditions | None,
    mistakes: Mistakes,
) -> tuple[OwnFill, ...]:
    """Read the fills of a file.

    Args:
        table: the whole file, as TOML gives it.
        figures: of the lesson, in order.
        conditions: of the lesson, to check the fills; None where they can't be read.
        mistakes: is added to.
    """
    rows = read_rows(table, "fill", mistakes)
    if len(rows) > MOST_FILLS:
        message = f"There are {len(rows)} fills; a lesson has at most {MOST_FILLS} of its own."
        mistakes.add(("fill", MOST_FILLS), message)
    fills = [_read_row(row, index, figures, mistakes) for index, row in enumerate(rows[:MOST_FILLS])]
    for index, fill in enumerate(fills):
        if fill and conditions:
            _check_fill(fill, index, figures, conditions, mistakes)
    return tuple(fill for fill in fills if fill)


def _read_row(
    table: Mapping[str, Any], index: int, figures: Sequence[LessonFigure], mistakes: Mistakes
) -> OwnFill | None:
    path = ("fill", index)
    values = read_keys(table, FILL_KEYS, path, mistakes)
    if values.keys() < {key.name for key in FILL_KEYS}:
        return None
    slots = values["sticking"]
    try:
        rhythm = parse_rhythm(values["rhythm"], len(slots))
    except StickingError as error:
        mistakes.add_error((*path, "rhythm"), error)
        return None
    name = values["figure"]
    part = len(figures) - 1 if name is None else _find_part(name, figures)
    if part is None:
        known = ", ".join(figure.figure.name for figure in figures)
        message = f'"{name}" is not a figure of this lesson; use one of: {known}.'
        mistakes.add((*path, "figure"), message, MistakeKind.FIT)
        return None
    fill = WrittenFill(
        name=values["name"],
        beats=values["beats"],
        slots=slots,
        rhythm=rhythm,
        on=_repeat_single(values["on"], sum(slot is not None for slot in slots)),
    )
    return OwnFill(part=part, fill=fill)


def _repeat_single(surfaces: tuple[str, ...], strokes: int) -> tuple[str, ...]:
    """Return a surface for every stroke: a single one serves for all."""
    return surfaces * strokes if len(surfaces) == 1 else surfaces


def _find_part(name: str, figures: Sequence[LessonFigure]) -> int | None:
    """Return the number of the first figure with a name or alias, from 0; None for an unknown one."""
    for part, figure in enumerate(figures):
        names = (figure.figure.name, *figure.figure.aliases)
        if normalize_name(name) in map(normalize_name, names):
            return part
    return None


def _check_fill(
    fill: OwnFill,
    index: int,
    figures: Sequence[LessonFigure],
    conditions: FillConditions,
    mistakes: Mistakes,
) -> None:
    try:
        make_step(fill.fill, figures[fill.part].make_brief(conditions))
    except (FitError, SpanError) as error:
        mistakes.add_error(("fill", index), error)


def read_fill(name: str, *, beats: Fraction, sticking: str, values: str, on: str) -> WrittenFill:
    """Read a fill from its texts, as a lesson file has them.

    Raises:
        StickingError: for a sticking or note values that can't be read.
        UnknownNameError: for an unknown surface.
    """
    slots = parse_sticking(sticking)
    surfaces = tuple(format_surfaces(*parse_surfaces(text.strip())) for text in on.split(","))
    return WrittenFill(
        name=name,
        beats=beats,
        slots=slots,
        rhythm=parse_rhythm(values, len(slots)),
        on=_repeat_single(surfaces, sum(slot is not None for slot in slots)),
    )


def format_fill_values(fill: WrittenFill) -> dict[str, str]:
    """Write a fill as texts, which `read_fill` reads back."""
    values = [format_value(length) for length in fill.rhythm.lengths]
    on = fill.on[:1] if len(set(fill.on)) == 1 else fill.on
    return {
        "beats": f"{float(fill.beats):g}",
        "rhythm": " ".join(values[:1] if len(set(values)) == 1 else values),
        "sticking": format_sticking(fill.slots),
        "on": ", ".join(on),
    }


def format_fill(fill: WrittenFill, figure: str) -> str:
    """Write a fill as a lesson file has it, for the end of the file.

    Args:
        fill: of the teacher's own.
        figure: the name of its figure.
    """
    texts = format_fill_values(fill)
    lines = (
        "[[fill]]",
        f"name = {quote(fill.name)}",
        f"figure = {quote(figure)}",
        f"beats = {texts['beats']}",
        *(f"{key} = {quote(texts[key])}" for key in ("rhythm", "sticking", "on")),
    )
    return "\n".join(lines) + "\n"
