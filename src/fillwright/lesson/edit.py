"""Changing a lesson file's text by parts: what is not touched stays as the teacher wrote it, comments too."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from fractions import Fraction
from typing import Any

import tomlkit
from tomlkit import TOMLDocument
from tomlkit.exceptions import TOMLKitError
from tomlkit.items import Array, Item

from fillwright.craft.written_fills import written_of
from fillwright.errors import LessonFileError
from fillwright.lesson.fills import LessonFill
from fillwright.lesson.written_fills import fill_text
from fillwright.music.rudiments import plain
from fillwright.tables.blocks import ended, head_and_rest, parted_at, with_table

_ON_A_LINE = 4
"""Items of a list that stand on one line; more get a line each."""


def left_out(text: str, fill: LessonFill) -> str:
    """The text without a fill of its lesson: the teacher's own is deleted, any other stands in `leave_out`."""
    ordered_without = {"order": _names(text, "order", but=fill.name)}
    if fill.own is not None:
        above, _, below = parted_at(with_values(text, ordered_without), "fill", fill.own)
        return above + below
    names = [*_names(text, "leave_out", but=fill.name), fill.name]
    return with_values(text, {"leave_out": names, **ordered_without})


def brought_back(text: str, name: str) -> str:
    """The text with a fill that was left out."""
    return with_values(text, {"leave_out": _names(text, "leave_out", but=name)})


def ordered(text: str, names: Sequence[str]) -> str:
    """The text with its fills in an order."""
    return with_values(text, {"order": list(names)})


def kept_as(text: str, fill: LessonFill, *, name: str, beats: Fraction) -> str:
    """The text with a fill written out in it, so that it stays whatever the tool would choose.

    Args:
        text: of the lesson.
        fill: of the lesson.
        name: what to call it.
        beats: how many last beats it takes.
    """
    own = written_of(fill.step.route, name=name, beats=beats)
    return with_table(text, "fill", fill_text(own, fill.step.figure.name))


def with_values(text: str, values: Mapping[str, Any]) -> str:
    """The text with keys above the first [[figure]] set; None or an empty list takes a key out.

    Raises:
        LessonFileError: for a text that is no TOML.
    """
    _read(text)
    head, rest = head_and_rest(text)
    document = _read(head)
    new: list[str] = []
    for key, value in values.items():
        if value is None or value == []:
            document.pop(key, None)
        elif key not in document:
            new.append(f"{key} = {_item(value).as_string()}\n")
        elif document[key] != value:
            document[key] = _item(value)
    head = tomlkit.dumps(document)
    return ("".join((ended(head), *new)) if new else head) + rest


def _item(value: Any) -> Item:
    """A value as TOML, a long list with a line for each of its items."""
    item = tomlkit.item(value)
    return item.multiline(True) if isinstance(item, Array) and len(item) > _ON_A_LINE else item


def _names(text: str, key: str, *, but: str) -> list[str]:
    return [str(name) for name in _read(text).get(key, []) if name != but]


def _read(text: str) -> TOMLDocument:
    try:
        return tomlkit.parse(text)
    except TOMLKitError as error:
        raise LessonFileError(f"The text can't be changed before it can be read: {error}.") from error


def with_own(text: str, kind: str, own: Mapping[str, str]) -> str:
    """The text with the tables of a teacher's own grooves, or kits, that it names and does not hold yet.

    Args:
        text: of the lesson.
        kind: "groove" or "kit".
        own: the table of each of the teacher's own as a lesson file has it, by name.

    Raises:
        LessonFileError: for a text that is no TOML.
    """
    document = _read(text)
    named = {plain(str(table.get(kind, ""))) for table in (document, *document.get("figure", []))}
    held = set(map(plain, document.get(f"{kind}s", {})))
    for name, table in own.items():
        if plain(name) in named - held:
            text = f"{ended(text)}\n{ended(table)}"
    return text


_FIGURE_KEYS = ("name", "rhythm", "groove", "sticking")


def figure_rows(text: str) -> list[dict[str, str]]:
    """The figures of a text as a form shows them: name, rhythm, groove and sticking, "" for what is not there.

    Raises:
        LessonFileError: for a text that is no TOML.
    """
    tables = _read(text).get("figure", [])
    return [{key: str(table.get(key, "")) for key in _FIGURE_KEYS} for table in tables]


def with_figures(text: str, rows: Sequence[Mapping[str, str]]) -> str:
    """The text with its figures as a form has them: changed, added, taken out where the name is empty.

    Args:
        text: of the lesson.
        rows: one for each figure of the text, in order, then those to add.

    Raises:
        LessonFileError: for a text that is no TOML.
    """
    before = figure_rows(text)
    for index, row in reversed(list(enumerate(rows[: len(before)]))):
        if row["name"] and row == before[index]:
            continue
        above, table, below = parted_at(text, "figure", index)
        text = above + (_changed(table, row) if row["name"] else "") + below
    for row in rows[len(before) :]:
        if row["name"]:
            text = with_table(text, "figure", _changed("[[figure]]\n", row))
    return text


def _changed(table: str, row: Mapping[str, str]) -> str:
    """The text of one [[figure]] with the values of a row; an empty one takes its key out."""
    document = _read(table)
    figure = document["figure"][0]
    for key in _FIGURE_KEYS:
        if not row[key]:
            figure.pop(key, None)
        elif figure.get(key) != row[key]:
            figure[key] = row[key]
    return ended(tomlkit.dumps(document))
