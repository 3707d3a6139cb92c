"""Collecting the mistakes of a table, each with its line and key, and notes on renamed keys."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace

from fillwright.errors import (
    FillwrightError,
    FitError,
    Mistake,
    MistakeKind,
    SpanError,
    TableError,
    UnknownNameError,
)
from fillwright.tables.outline import KeyPath, Outline
from fillwright.tables.values import TableKind, shorten

Warn = Callable[[str], None]
"""Receives a sentence for the user about something that is not a mistake."""

_MOST_MISTAKES = 50  # listed at once; ours: enough to fix at a time
_LONGEST_MESSAGE = 500  # characters; ours


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
            mistake = Mistake(
                kind=MistakeKind.UNKNOWN_NAME,
                message=message,
                category=error.category,
                name=error.name,
            )
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
    """Return the place of a key as a sentence names it.

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
