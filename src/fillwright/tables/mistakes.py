"""Reading the keys of a table strictly, and collecting every mistake with its line and key."""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass, field, replace
from difflib import get_close_matches
from typing import Any, TypeVar

from fillwright.errors import (
    FillwrightError,
    FitError,
    Mistake,
    MistakeKind,
    SpanError,
    TableError,
    UnknownNameError,
    suggest_name,
)
from fillwright.tables.outline import KeyPath, Outline
from fillwright.tables.values import Key, RejectedValueError, TableKind, describe_value, shorten

Warn = Callable[[str], None]
"""Receives a sentence for the user about something that is not a mistake."""

_MOST_MISTAKES = 50  # listed at once; ours, since nobody reads more
_LONGEST_MESSAGE = 500  # characters; ours
_LONGEST_NAME = 40  # characters of an unknown key that are compared with known ones; ours


@dataclass(frozen=True, slots=True, kw_only=True)
class RenamedKey:
    """A key that a table has under its old name.

    Attributes:
        line: from 1.
        old: name in the table.
        new: name today.
    """

    line: int
    old: str
    new: str

    def describe(self, file: str) -> str:
        """Return a note about the key, in one sentence.

        >>> RenamedKey(line=5, old="purpose", new="goal").describe("lesson.toml")
        'lesson.toml, line 5: "purpose" is now called "goal"; the old name still works.'
        """
        return f'{file}, line {self.line}: "{self.old}" is now called "{self.new}"; the old name still works.'


@dataclass(slots=True, kw_only=True)
class Mistakes:
    """Mistakes in one table. Mutable: it is filled while the table is read.

    Attributes:
        name: of the file, as every sentence shows it.
        places: lines of its keys.
        kind: sort of table.
        mistakes: none twice, at most fifty.
        renamed: keys that are written under an old name.
        count: number of mistakes met, also of those not kept.
    """

    name: str
    places: Outline
    kind: TableKind
    mistakes: list[Mistake] = field(default_factory=list)
    renamed: list[RenamedKey] = field(default_factory=list)
    count: int = 0

    @property
    def full(self) -> bool:
        """True once enough has been found to stop looking."""
        return len(self.mistakes) >= _MOST_MISTAKES

    def add(self, path: KeyPath, message: str, kind: MistakeKind = MistakeKind.VALUE) -> None:
        """Add a mistake at a key, or in a table as a whole."""
        self._add(path, Mistake(kind=kind, message=message))

    def add_error(self, path: KeyPath, error: FillwrightError) -> None:
        """Add a mistake that a reading function raised."""
        message = str(error)
        message = message[:1].upper() + message[1:]
        if isinstance(error, UnknownNameError):
            mistake = Mistake(kind=MistakeKind.UNKNOWN_NAME, message=message, category=error.category, name=error.name)
        else:
            fit = isinstance(error, FitError | SpanError)
            mistake = Mistake(kind=MistakeKind.FIT if fit else MistakeKind.VALUE, message=message)
        self._add(path, mistake)

    def _add(self, path: KeyPath, mistake: Mistake) -> None:
        self.count += 1
        placed = replace(
            mistake,
            line=self.places.find_line(path),
            key=shorten(_label(path, self.kind), _LONGEST_MESSAGE),
            message=shorten(mistake.message, _LONGEST_MESSAGE),
        )
        if not self.full and placed not in self.mistakes:
            self.mistakes.append(placed)

    def raise_any(self) -> None:
        """Raise an error if there was a mistake.

        Raises:
            TableError: with every mistake, in the order of the file.
        """
        if not self.mistakes:
            return
        in_order = sorted(self.mistakes, key=lambda mistake: mistake.line)
        if self.full:
            in_order.append(
                Mistake(kind=MistakeKind.MORE, message="There may be more mistakes; fix these first.")
            )
        raise TableError(self.name, tuple(in_order))

    def warn_of_renamed(self, warn: Warn) -> None:
        """Pass on a note about every key that is written under its old name."""
        for note in self.renamed:
            warn(note.describe(self.name))


def _label(path: KeyPath, kind: TableKind) -> str:
    """Return a place as a sentence names it.

    >>> kind = TableKind(title="a lesson file", rows=frozenset({"fill"}), named={"kits": "kit"})
    >>> _label(("fill", 0, "on"), kind), _label(("kits", "nook", "from"), kind), _label(("keys", "38"), kind)
    ('on of fill 1', 'from of kit "nook"', '38 in [keys]')
    """
    match path:
        case (str(table), int(number)) if table in kind.rows:
            return f"{table} {number + 1}"
        case (str(table), int(number), str(key), *_) if table in kind.rows:
            return f"{shorten(key)} of {table} {number + 1}"
        case (str(table), str(name), *inner) if table in kind.named:
            of = f'{kind.named[table]} "{shorten(name)}"'
            key = next((part for part in reversed(inner) if isinstance(part, str)), "")
            return f"{shorten(key)} of {of}" if key else of
        case (str(table), str(key), *_):
            return f"{shorten(key)} in [{shorten(table)}]"
    return shorten(str(path[0])) if path else ""


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
