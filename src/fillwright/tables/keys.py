"""Reading the keys of a table one by one; every mistake is collected with its line and key."""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping, Sequence
from difflib import get_close_matches
from typing import Any, TypeVar

from fillwright.errors import FillwrightError, MistakeKind, suggest_name
from fillwright.tables.mistakes import Mistakes, RenamedKey
from fillwright.tables.outline import KeyPath
from fillwright.tables.values import Key, RejectedValueError, TableKind, describe_value, shorten

_LONGEST_NAME = 40  # characters of an unknown key that are compared with known ones; ours


def read_keys(
    table: Mapping[str, Any],
    keys: Sequence[Key],
    path: KeyPath,
    mistakes: Mistakes,
    *,
    tables: Collection[str] = (),
) -> dict[str, Any]:
    """Read every key of a table; a key that can't be read is a mistake and is left out.

    Args:
        table: as TOML gives it.
        keys: accepted in it.
        path: of the table.
        mistakes: is added to.
        tables: names in it that another function reads.

    Returns:
        Values by today's names of the keys; None for a missing key that has no default.
    """
    _check_names(table, keys, path, mistakes, tables)
    values: dict[str, Any] = {}
    for key in keys:
        name = key.find_name(table)
        here = (*path, name)
        if key.required and name not in table:
            mistakes.add(here, f"This key is missing; write {key.allowed}.", MistakeKind.MISSING_KEY)
            continue
        value = table.get(name, key.default)
        before = mistakes.count
        read = None if value is None else _read_value(value, key, here, mistakes)
        if mistakes.count == before:
            values[key.name] = read
    return values


def _check_names(
    table: Mapping[str, Any],
    keys: Sequence[Key],
    path: KeyPath,
    mistakes: Mistakes,
    tables: Collection[str],
) -> None:
    """Add a mistake for every unknown key and every key under two names, and note the old names."""
    by_old_name = {old: key for key in keys for old in key.old_names}
    known = {key.name for key in keys}
    for name in table:
        if mistakes.full:
            return
        here = (*path, name)
        if name in by_old_name:
            key = by_old_name[name]
            if key.find_name(table) != name:
                mistakes.add(here, f'"{name}" is the old name of "{key.name}"; keep one of the two.')
            else:
                mistakes.renamed.append(
                    RenamedKey(line=mistakes.places.find_line(here), old=name, new=key.name)
                )
        elif name not in known and name not in tables:
            message = _explain_unknown(name, sorted(known | {*tables}), by_old_name, mistakes.kind)
            mistakes.add(here, message, MistakeKind.UNKNOWN_KEY)


def _explain_unknown(name: str, known: Sequence[str], by_old_name: Mapping[str, Key], kind: TableKind) -> str:
    start = "This key is unknown here; "
    for part, keys in kind.elsewhere.items():
        if any(name in (key.name, *key.old_names) for key in keys):
            return f"{start}it belongs {part}."
    close = get_close_matches(name[:_LONGEST_NAME], [*known, *by_old_name], n=1)
    if close and close[0] in by_old_name:
        return f'{start}did you mean "{by_old_name[close[0]].name}"?'
    if not close:  # all of them, however many
        return f"{start}use one of: {', '.join(known)}."
    return start + suggest_name(name[:_LONGEST_NAME], known)


def _read_value(value: Any, key: Key, path: KeyPath, mistakes: Mistakes) -> Any:
    if not key.most:
        return _read_item(value, key, path, mistakes)
    if not isinstance(value, list):
        if key.alone:
            return (_read_item(value, key, path, mistakes),)
        mistakes.add(path, f"Found {describe_value(value)}; write {key.allowed}.")
        return None
    if len(value) > key.most:
        mistakes.add(path, f"Found a list of {len(value)}; it holds at most {key.most}.")
        return None
    if len(value) < key.least:
        mistakes.add(path, f"Found {describe_value(value)}; write {key.allowed}.")
        return None
    read: list[Any] = []
    for number, item in enumerate(value):
        accepted = _read_item(item, key, (*path, number), mistakes)
        if accepted is not None and accepted in read and not key.repeats:
            mistakes.add((*path, number), f"{_quote_item(item)} is in the list twice; name it once.")
        read.append(accepted)
    return tuple(read)


def _quote_item(item: object) -> str:
    if isinstance(item, dict):
        return "The same table"
    return f'"{shorten(item)}"' if isinstance(item, str) else str(item)


def _read_item(value: Any, key: Key, path: KeyPath, mistakes: Mistakes) -> Any:
    try:
        return key.read(value)
    except RejectedValueError as rejected:
        mistakes.add(path, f"Found {rejected}; write {key.allowed}.")
    except FillwrightError as error:
        mistakes.add_error(path, error)
    return None


Name = TypeVar("Name")
Value = TypeVar("Value")


def read_entries(
    table: Mapping[str, Any],
    path: KeyPath,
    mistakes: Mistakes,
    *,
    read_name: Callable[[str], Name],
    entry: Key,
) -> dict[Name, Any]:
    """Read a table whose keys the user chooses, such as MIDI notes with their surfaces.

    Args:
        table: as TOML gives it.
        path: of the table.
        mistakes: is added to.
        read_name: converts a key, or raises a FillwrightError.
        entry: what is accepted behind every key; its name is not used.
    """
    entries: dict[Name, Any] = {}
    for text, value in table.items():
        if mistakes.full:
            break
        here = (*path, text)
        try:
            name = read_name(text)
        except FillwrightError as error:
            mistakes.add_error(here, error)
            continue
        before = mistakes.count
        read = _read_item(value, entry, here, mistakes)
        if mistakes.count == before:
            entries[name] = read
    return entries


def read_rows(table: Mapping[str, Any], name: str, mistakes: Mistakes) -> list[dict[str, Any]]:
    """Return the tables `[[name]]` of a table, none where they are written in another way.

    Args:
        table: as TOML gives it.
        name: of the list.
        mistakes: is added to.
    """
    rows = table.get(name, [])
    if not isinstance(rows, list) or not all(isinstance(row, dict) for row in rows):
        message = f"Found {describe_value(rows)}; write [[{name}]] above each {name}, its keys below."
        mistakes.add((name,), message)
        return []
    return rows
