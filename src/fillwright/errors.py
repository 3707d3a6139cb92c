"""Exceptions: one tree, and mistakes in a user's tables as data.

FillwrightError           anything a user can fix; its text is one clear sentence
├── StickingError         a sticking text that can't be read
├── CountError            a place in the bar that can't be read ("2a")
├── UnknownNameError      a figure, groove, meter or surface that is not defined anywhere
├── TempoError            a tempo or tempo ladder outside the range that can be played or written
├── SpanError             a fill that does not fit the phrase
├── FitError              a figure that does not fill its span
├── NotationError         a rhythm that can't be written
├── TableError            mistakes in a lesson file or another table of a user, all of them together
├── StoreError            a store of students and lessons that can't be opened, or a value that it refuses
│   └── NotThereError     a lesson, student or take that does not exist, or belongs to another teacher
├── TakeError             a take that can't be read
├── SoundsError           recorded sounds that can't be used
└── OutputError           a file or folder that can't be written

A page that shows mistakes reads `TableError.mistakes`; no code searches or changes the text of an error.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from difflib import get_close_matches
from enum import Enum

_MOST_NAMES = 20  # names listed in one sentence; ours, so that it stays readable


class FillwrightError(Exception):
    """Something a user can fix; the text says what was found, where, and what would be accepted."""


class StickingError(FillwrightError):
    """A sticking text that can't be read; the message points at the stroke."""


class CountError(FillwrightError):
    """A place in the bar that can't be read."""


class UnknownNameError(FillwrightError):
    """A name that is in none of our tables.

    Attributes:
        category: category of the name, such as "groove"; "" where that is not known.
        name: the unknown name; likewise.
    """

    category = ""
    name = ""

    @classmethod
    def of(cls, category: str, name: str, known: Iterable[str]) -> UnknownNameError:
        """Make an error that quotes the unknown name and suggests the nearest known one.

        >>> error = UnknownNameError.of("groove", "shufle", ["shuffle", "waltz"])
        >>> print(error)
        There is no groove called "shufle"; did you mean "shuffle"?
        >>> error.category, error.name
        ('groove', 'shufle')
        """
        return cls.with_advice(category, name, suggest_name(name, known).removesuffix("."))

    @classmethod
    def with_advice(cls, category: str, name: str, advice: str) -> UnknownNameError:
        """Make an error that quotes the unknown name and ends with some advice, written without a full stop."""
        error = cls(f'There is no {category} called "{name}"; {advice}{"" if advice.endswith("?") else "."}')
        error.category, error.name = category, name
        return error


class TempoError(FillwrightError):
    """A tempo that can't be played or written."""


class SpanError(FillwrightError):
    """A span that is not inside its phrase."""


class FitError(FillwrightError):
    """A figure that does not fill its span."""


class NotationError(FillwrightError):
    """A rhythm that can't be written."""


class MistakeKind(Enum):
    """Sorts of mistake in a table."""

    FILE = "file"  # missing, too large, not text
    SYNTAX = "syntax"  # text that isn't TOML
    UNKNOWN_KEY = "unknown key"
    MISSING_KEY = "missing key"
    UNKNOWN_NAME = "unknown name"  # of a groove, kit, figure, step or surface
    VALUE = "value"  # a value that is not accepted
    FIT = "fit"  # values that are each accepted but don't go together
    MORE = "more"  # not a mistake of its own: the list was cut


@dataclass(frozen=True, slots=True, kw_only=True)
class Mistake:
    """One mistake in a table.

    Attributes:
        line: from 1; 0 where it concerns the file as a whole.
        key: as a sentence names it, such as "name of figure 1"; "" where no key is to blame.
        kind: sort of mistake.
        message: one or two sentences without file, line and key.
        column: from 1; 0 where only the line is known.
        category: of an unknown name, such as "groove"; else "".
        name: the unknown name; else "".
    """

    line: int = 0
    key: str = ""
    kind: MistakeKind
    message: str
    column: int = 0
    category: str = ""
    name: str = ""

    def describe(self, file: str = "", *, lines: bool = True) -> str:
        """Return the mistake on one line.

        Args:
            file: name to begin with; "" for none.
            lines: False for a form, which has no lines.

        >>> mistake = Mistake(line=2, key="bars", kind=MistakeKind.VALUE, message="Found 40; write 1 to 16.")
        >>> mistake.describe("lesson.toml")
        'lesson.toml, line 2, bars: Found 40; write 1 to 16.'
        >>> mistake.describe(lines=False)
        'bars: Found 40; write 1 to 16.'
        """
        parts = [
            file,
            f"line {self.line}" if lines and self.line else "",
            f"column {self.column}" if lines and self.column else "",
            self.key,
        ]
        where = ", ".join(part for part in parts if part)
        return f"{where}: {self.message}" if where else self.message


class TableError(FillwrightError):
    """Mistakes in a table that a user writes: a lesson file, grooves, kits, sounds or MIDI notes.

    Its text has one line for each mistake.

    Attributes:
        file: name of the table, as its mistakes show it; "" for none.
        mistakes: at least one, in the order of the file.
    """

    def __init__(self, file: str, mistakes: tuple[Mistake, ...]) -> None:
        """Take the name of the table and its mistakes."""
        super().__init__(file, mistakes)
        self.file = file
        self.mistakes = mistakes

    @classmethod
    def of(
        cls,
        message: str,
        *,
        file: str = "",
        kind: MistakeKind = MistakeKind.VALUE,
        line: int = 0,
        column: int = 0,
    ) -> TableError:
        """Make an error of a single mistake that belongs to no key."""
        return cls(file, (Mistake(line=line, column=column, kind=kind, message=message),))

    def __str__(self) -> str:
        """Return every mistake on a line of its own, with file, line and key."""
        return "\n".join(mistake.describe(self.file) for mistake in self.mistakes)


class StoreError(FillwrightError):
    """A store that can't be opened, or a value that it refuses."""


class NotThereError(StoreError):
    """Something that is not in the store, or belongs to another teacher."""


class SoundsError(FillwrightError):
    """A SoundFont, or a folder of recorded sounds, that can't be used."""


class TakeError(FillwrightError):
    """A take that can't be read."""


class OutputError(FillwrightError):
    """A file or folder that can't be written."""


def suggest_name(name: str, known: Iterable[str]) -> str:
    """Return the end of a sentence that helps with an unknown name.

    >>> suggest_name("tittle", ["title", "number"])
    'did you mean "title"?'
    >>> suggest_name("zzz", ["title", "number"])
    'use one of: title, number.'
    """
    names = list(known)
    close = get_close_matches(name, names, n=1)
    if close:
        return f'did you mean "{close[0]}"?'
    more = f" and {len(names) - _MOST_NAMES} more" if len(names) > _MOST_NAMES else ""
    return f"use one of: {', '.join(names[:_MOST_NAMES])}{more}."
