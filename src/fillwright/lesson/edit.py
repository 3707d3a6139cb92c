"""Changing a lesson file's text by parts: what is not touched stays as the teacher wrote it, comments too."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any

import tomlkit
from tomlkit import TOMLDocument
from tomlkit.exceptions import TOMLKitError

from fillwright.craft.own import written_of
from fillwright.errors import LessonFileError
from fillwright.lesson.fills import LessonFill
from fillwright.lesson.ownfills import fill_text


def edited(text: str, change: Callable[[TOMLDocument], None]) -> str:
    """A text with something changed in it.

    Raises:
        LessonFileError: for a text that is no TOML.
    """
    try:
        document = tomlkit.parse(text)
    except TOMLKitError as error:
        raise LessonFileError(f"The text can't be changed before it can be read: {error}.") from error
    change(document)
    return tomlkit.dumps(document)


def left_out(text: str, name: str) -> str:
    """The text without a fill: one of the teacher's own is deleted, any other stands in `leave_out`."""

    def change(document: TOMLDocument) -> None:
        _put(document, "leave_out", [*_names(document, "leave_out", but=name), name])
        _put(document, "order", _names(document, "order", but=name))

    return edited(text, change)


def brought_back(text: str, name: str) -> str:
    """The text with a fill that was left out."""
    return edited(text, lambda document: _put(document, "leave_out", _names(document, "leave_out", but=name)))


def ordered(text: str, names: Sequence[str]) -> str:
    """The text with its fills in an order."""
    return edited(text, lambda document: _put(document, "order", list(names)))


def kept_as(text: str, fill: LessonFill, *, name: str, beats: Any) -> str:
    """The text with a fill written out in it, so that it stays whatever the tool would choose.

    Args:
        text: of the lesson.
        fill: of the lesson.
        name: what to call it.
        beats: how many last beats it takes.
    """
    own = written_of(fill.step.route, name=name, beats=beats)
    return text.rstrip("\n") + "\n\n" + fill_text(own, fill.step.figure.name)


def with_values(text: str, values: Mapping[str, Any]) -> str:
    """The text with keys above the first [[figure]] set; None takes a key out."""

    def change(document: TOMLDocument) -> None:
        for key, value in values.items():
            _put(document, key, value)

    return edited(text, change)


def _names(document: TOMLDocument, key: str, *, but: str) -> list[str]:
    return [str(name) for name in document.get(key, []) if name != but]


def _put(document: TOMLDocument, key: str, value: Any) -> None:
    """Set a key in its place, or above the first table where it is new; an empty list or None takes it out."""
    if value is None or value == []:
        document.pop(key, None)
    elif document.get(key) != value:
        document[key] = value  # a new key goes above the first table


_FIGURE_KEYS = ("name", "rhythm", "groove", "sticking")


def figure_rows(text: str) -> list[dict[str, str]]:
    """The figures of a text as a form shows them: name, rhythm, groove and sticking, "" for what is not there.

    Raises:
        LessonFileError: for a text that is no TOML.
    """
    rows: list[dict[str, str]] = []

    def read(document: TOMLDocument) -> None:
        rows.extend(
            {key: str(table.get(key, "")) for key in _FIGURE_KEYS} for table in document.get("figure", [])
        )

    edited(text, read)
    return rows


def with_figures(text: str, rows: Sequence[Mapping[str, str]]) -> str:
    """The text with its figures as a form has them: changed, added, taken out where the name is empty.

    Args:
        text: of the lesson.
        rows: one for each figure of the text, in order, then those to add.

    Raises:
        LessonFileError: for a text that is no TOML.
    """

    def change(document: TOMLDocument) -> None:
        tables = document.get("figure")
        if tables is None:
            tables = tomlkit.aot()
            document["figure"] = tables
        count = len(tables)
        for index, row in reversed(list(enumerate(rows[:count]))):
            if not row["name"]:
                del tables[index]
            else:
                _set(tables[index], row)
        for row in rows[count:]:
            if row["name"]:
                tables.append(_set(tomlkit.table(), row))

    return edited(text, change)


def _set(table: Any, row: Mapping[str, str]) -> Any:
    for key in _FIGURE_KEYS:
        if not row[key]:
            table.pop(key, None)
        elif table.get(key) != row[key]:
            table[key] = row[key]
    return table
