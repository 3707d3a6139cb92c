"""Changing the text of a lesson file in parts: everything else stays as the teacher wrote it, comments too."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from fractions import Fraction
from typing import Any

import tomlkit
from tomlkit import TOMLDocument
from tomlkit.exceptions import TOMLKitError
from tomlkit.items import Array, Item

from fillwright.craft.written_fills import write_fill
from fillwright.errors import MistakeKind, TableError
from fillwright.lesson.fills import LessonFill
from fillwright.lesson.written_fills import format_fill
from fillwright.music.rudiments import normalize_name
from fillwright.tables.blocks import append_table, end_last_line, split_at_first_table, split_at_table
from fillwright.tables.lesson_keys import LESSON_KEYS

_MOST_ON_A_LINE = 4  # items of a list; a longer one gets a line for each; ours
_KEYS = {key.name: key for key in LESSON_KEYS}


def remove_fill(text: str, fill: LessonFill) -> str:
    """Remove a fill from the text of its lesson.

    The teacher's own is deleted; any other is added to `leave_out`.
    """
    order = {"order": _list_names(text, "order", but=fill.name)}
    if fill.own is not None:
        above, _, below = split_at_table(set_values(text, order), "fill", fill.own)
        return above + below
    names = [*_list_names(text, "leave_out", but=fill.name), fill.name]
    return set_values(text, {"leave_out": names, **order})


def restore_fill(text: str, name: str) -> str:
    """Restore a fill that was removed from a lesson."""
    return set_values(text, {"leave_out": _list_names(text, "leave_out", but=name)})


def set_order(text: str, names: Sequence[str]) -> str:
    """Put the fills of a lesson in an order."""
    return set_values(text, {"order": list(names)})


def pin_fill(text: str, fill: LessonFill, *, name: str, beats: Fraction) -> str:
    """Write a fill out in the text of its lesson, so that it no longer changes with the lesson.

    Args:
        text: of the lesson.
        fill: of the lesson.
        name: of the new fill.
        beats: last beats that it takes.
    """
    written = write_fill(fill.step.route, name=name, beats=beats)
    return append_table(text, "fill", format_fill(written, fill.step.figure.name))


def set_values(text: str, values: Mapping[str, Any]) -> str:
    """Set keys above the first [[figure]]; None or an empty list removes a key.

    A key that the text has under an old name keeps that name.

    Raises:
        TableError: for a text that is not TOML.
    """
    _read(text)
    head, rest = split_at_first_table(text)
    document = _read(head)
    new: list[str] = []
    for name, value in values.items():
        key = _KEYS[name].find_name(document) if name in _KEYS else name
        if value is None or value == []:
            document.pop(key, None)
        elif key not in document:
            new.append(f"{key} = {_make_item(value).as_string()}\n")
        elif document[key] != value:
            document[key] = _make_item(value)
    head = tomlkit.dumps(document)
    return ("".join((end_last_line(head), *new)) if new else head) + rest


def _make_item(value: Any) -> Item:
    """Make a TOML value, a long list with a line for each of its items."""
    item = tomlkit.item(value)
    return item.multiline(True) if isinstance(item, Array) and len(item) > _MOST_ON_A_LINE else item


def _list_names(text: str, key: str, *, but: str) -> list[str]:
    return [str(name) for name in _read(text).get(key, []) if name != but]


def _read(text: str) -> TOMLDocument:
    try:
        return tomlkit.parse(text)
    except TOMLKitError as error:
        message = f"This text can't be read as TOML, so it can't be changed: {error}."
        raise TableError.of(message, kind=MistakeKind.SYNTAX) from error


def add_own_tables(text: str, kind: str, tables: Mapping[str, str]) -> str:
    """Add the tables of a teacher's own grooves, or kits, that a text names but does not hold yet.

    Args:
        text: of the lesson.
        kind: "groove" or "kit".
        tables: of the teacher, as a lesson file has them, by name.

    Raises:
        TableError: for a text that is not TOML.
    """
    document = _read(text)
    named = {normalize_name(str(table.get(kind, ""))) for table in (document, *document.get("figure", []))}
    held = set(map(normalize_name, document.get(f"{kind}s", {})))
    for name, table in tables.items():
        if normalize_name(name) in named - held:
            text = f"{end_last_line(text)}\n{end_last_line(table)}"
    return text


_FIGURE_KEYS = ("name", "rhythm", "groove", "sticking")


def read_figure_rows(text: str) -> list[dict[str, str]]:
    """Read the figures of a text as a form shows them: name, rhythm, groove and sticking, "" for a missing key.

    Raises:
        TableError: for a text that is not TOML.
    """
    tables = _read(text).get("figure", [])
    return [{key: str(table.get(key, "")) for key in _FIGURE_KEYS} for table in tables]


def set_figures(text: str, rows: Sequence[Mapping[str, str]]) -> str:
    """Set the figures of a text as a form has them: changed, added, or removed where the name is empty.

    Args:
        text: of the lesson.
        rows: one for each figure of the text, in order, then those to add.

    Raises:
        TableError: for a text that is not TOML.
    """
    before = read_figure_rows(text)
    for index, row in reversed(list(enumerate(rows[: len(before)]))):
        if row["name"] and row == before[index]:
            continue
        above, table, below = split_at_table(text, "figure", index)
        text = above + (_change_figure(table, row) if row["name"] else "") + below
    for row in rows[len(before) :]:
        if row["name"]:
            text = append_table(text, "figure", _change_figure("[[figure]]\n", row))
    return text


def _change_figure(table: str, row: Mapping[str, str]) -> str:
    """Return the text of one [[figure]] with the values of a row; an empty value removes its key."""
    document = _read(table)
    figure = document["figure"][0]
    for key in _FIGURE_KEYS:
        if not row[key]:
            figure.pop(key, None)
        elif figure.get(key) != row[key]:
            figure[key] = row[key]
    return end_last_line(tomlkit.dumps(document))
