"""Collecting the mistakes of a lesson file, each with its file, line and key."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from difflib import get_close_matches
from typing import Any

from fillwright.errors import FillwrightError, LessonFileError, nearest
from fillwright.tables.keys import FIGURE_KEYS, FILL_KEYS, LESSON_KEYS, Key, UnfitError, described, shown
from fillwright.tables.lines import Outline, Path

_MOST = 50
"""Mistakes that are told at once; nobody reads more."""

_LONGEST = 500


@dataclass(slots=True, kw_only=True)
class Mistakes:
    """The mistakes found so far in one file. Mutable: it is filled while the file is read.

    Attributes:
        name: of the file, as it stands in every sentence.
        places: where its keys stand.
        found: line and sentence of each, none twice, at most fifty.
        count: how many were met, those not kept among them.
    """

    name: str
    places: Outline
    found: list[tuple[int, str]] = field(default_factory=list)
    count: int = 0

    @property
    def full(self) -> bool:
        """Whether enough has been found to stop looking."""
        return len(self.found) >= _MOST

    def add(self, path: Path, sentence: str) -> None:
        """A mistake in the value of a key, or in a figure as a whole."""
        line = self.places.line_of(path)
        self._note(line, f"{self.name}, line {line}, {_label(path)}: {sentence}")

    def add_key(self, path: Path, sentence: str) -> None:
        """A mistake in a key itself; the sentence names it."""
        line = self.places.line_of(path)
        self._note(line, f"{self.name}, line {line}: {sentence}")

    def _note(self, line: int, text: str) -> None:
        self.count += 1
        told = (line, shown(text, _LONGEST))
        if not self.full and told not in self.found:
            self.found.append(told)

    def raise_any(self) -> None:
        """End the reading if there was a mistake.

        Raises:
            LessonFileError: one line for every mistake, in the order of the file.
        """
        if self.found:
            told = [text for _, text in sorted(self.found, key=lambda mistake: mistake[0])]
            if self.full:
                told.append(f"{self.name}: there may be more; put these right first.")
            raise LessonFileError("\n".join(told))


def _label(path: Path) -> str:
    match path:
        case (("figure" | "fill") as table, int(number)):
            return f"{table} {number + 1}"
        case (("figure" | "fill") as table, int(number), str(key), *_):
            return f"{key} of {table} {number + 1}"
        case (("grooves" | "kits") as table, str(name), *inner):
            of = f'{table.removesuffix("s")} "{shown(name)}"'
            key = next((part for part in reversed(inner) if isinstance(part, str)), "")
            return f"{key} of {of}" if key else of
    return str(path[0])


_TABLES = frozenset({"figure", "fill", "grooves", "kits"})
"""What stands at the top of a file beside its keys."""


def read_keys(table: Mapping[str, Any], keys: Sequence[Key], path: Path, mistakes: Mistakes) -> dict[str, Any]:
    """Read every key of a table; what can't be read is a mistake and is left out.

    Args:
        table: as TOML gives it.
        keys: what may stand in it.
        path: where it stands.
        mistakes: is added to.

    Returns:
        Values by key; None for a missing key that has no default.
    """
    known = {key.name for key in keys} | (_TABLES if path == () else frozenset())
    for name in table:
        if mistakes.full:
            break
        if name not in known:
            mistakes.add_key((*path, name), _unknown(name, sorted(known)))
    values: dict[str, Any] = {}
    for key in keys:
        here = (*path, key.name)
        if key.required and key.name not in table:
            mistakes.add(here, f"This key is missing; write {key.allowed}.")
            continue
        value = table.get(key.name, key.default)
        before = mistakes.count
        read = None if value is None else _read_value(value, key, here, mistakes)
        if mistakes.count == before:
            values[key.name] = read
    return values


_PLACES = {
    "above the first [[figure]]": LESSON_KEYS,
    "below a [[figure]]": FIGURE_KEYS,
    "below a [[fill]]": FILL_KEYS,
}


def _unknown(name: str, known: Sequence[str]) -> str:
    start = f'the key "{shown(name)}" is not known here; '
    for place, keys in _PLACES.items():
        if any(key.name == name for key in keys):
            return f"{start}it belongs {place}."
    if not get_close_matches(name[:40], known, n=1):
        return f"{start}known are: {', '.join(known)}."
    return start + nearest(name[:40], known)


def _read_value(value: Any, key: Key, path: Path, mistakes: Mistakes) -> Any:
    if not key.most:
        return _read_one(value, key, path, mistakes)
    if not isinstance(value, list):
        if key.alone:
            return (_read_one(value, key, path, mistakes),)
        mistakes.add(path, f"Found {described(value)}; write {key.allowed}.")
        return None
    if len(value) > key.most:
        mistakes.add(path, f"Found a list of {len(value)}; it holds at most {key.most}.")
        return None
    read: list[Any] = []
    for number, item in enumerate(value):
        one = _read_one(item, key, (*path, number), mistakes)
        if one is not None and one in read:
            mistakes.add((*path, number), f"{_bare(item)} stands in the list twice; name it once.")
        read.append(one)
    return tuple(read)


def _bare(item: object) -> str:
    if isinstance(item, dict):
        return "The same table"
    return f'"{shown(item)}"' if isinstance(item, str) else str(item)


def _read_one(value: Any, key: Key, path: Path, mistakes: Mistakes) -> Any:
    try:
        return key.read(value)
    except UnfitError as unfit:
        mistakes.add(path, f"Found {unfit}; write {key.allowed}.")
    except FillwrightError as error:
        mistakes.add(path, str(error))
    return None
