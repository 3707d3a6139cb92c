"""Keys of a table, and functions that accept or reject the value behind a key."""

from __future__ import annotations

import math
import re
import unicodedata
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any

from fillwright.errors import FillwrightError

Accept = Callable[[Any], Any]
"""Converts what TOML gave for a key, or raises a FillwrightError."""

_SHORT = 40  # characters of a user's text that a sentence quotes; ours
_LARGE_NUMBER = 10**12  # a whole number from here on is called very large, not quoted; ours


class RejectedValueError(FillwrightError):
    """A value that is not accepted; its text completes "Found …"."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Key:
    """One key of a table: a fact that reading, checking and the documentation share.

    Attributes:
        name: the key.
        allowed: what is accepted, in words that complete "write …".
        read: converts the value, or one item of a list.
        required: True if a table without it is refused.
        default: value of a missing key, as TOML would give it; None for nothing.
        most: most items of a list; 0 for a key that takes no list.
        least: fewest items of a list.
        alone: True if one item may be written without a list.
        repeats: True if a list may hold an item twice.
        old_names: names that the key had in older versions, which are still read.
    """

    name: str
    allowed: str
    read: Accept
    required: bool = False
    default: Any = None
    most: int = 0
    least: int = 0
    alone: bool = False
    repeats: bool = False
    old_names: tuple[str, ...] = ()

    def find_name(self, table: Mapping[str, Any]) -> str:
        """Return the name under which a table has the key: today's, else an old one; today's for a missing key.

        >>> key = Key(name="goal", allowed="a text", read=str, old_names=("purpose",))
        >>> key.find_name({"purpose": "Even taps."}), key.find_name({})
        ('purpose', 'goal')
        """
        return next((name for name in (self.name, *self.old_names) if name in table), self.name)


@dataclass(frozen=True, slots=True, kw_only=True)
class TableKind:
    """A sort of table that users write.

    Attributes:
        title: with its article, such as "a lesson file".
        rows: names of its lists of tables, `[[name]]`.
        named: its tables by name, `[kits."practice room"]`, each with the singular that sentences use.
        elsewhere: keys that belong in another part of the table, by that part in words.
    """

    title: str
    rows: frozenset[str] = frozenset()
    named: Mapping[str, str] = field(default_factory=dict)
    elsewhere: Mapping[str, tuple[Key, ...]] = field(default_factory=dict)


def describe_value(value: object) -> str:
    """Return what was found in words, short and on one line.

    >>> describe_value("shufle"), describe_value(True), describe_value([1, 2]), describe_value(3)
    ('the text "shufle"', 'true', 'a list of 2', '3')
    """
    if isinstance(value, str):
        return f'the text "{shorten(value)}"' if value else "an empty text"
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, int):
        return str(value) if abs(value) < _LARGE_NUMBER else "a very large number"
    if isinstance(value, float):
        return str(value) if math.isfinite(value) else f"{value}, which is not a number"
    if isinstance(value, list):
        return f"a list of {len(value)}" if value else "an empty list"
    return "a table" if isinstance(value, dict) else "a date or a time"


def shorten(text: str, most: int = _SHORT) -> str:
    r"""Return a user's text as a sentence may quote it: cut, with a sign for each unprintable character.

    >>> shorten("a bell: \x07"), shorten("abcdef", 4)
    ('a bell: �', 'abc…')
    """
    cut = text if len(text) <= most else text[: most - 1] + "…"
    return "".join(c if c.isprintable() else "\N{REPLACEMENT CHARACTER}" for c in cut)


def accept_text(most: int) -> Accept:
    """Return a function that accepts a text of 1 to `most` characters; line breaks and tabs become spaces."""

    def accept(value: object) -> str:
        if not isinstance(value, str):
            raise RejectedValueError(describe_value(value))
        folded = re.sub(r"[ \t\r\n]+", " ", value).strip()
        if not folded:
            raise RejectedValueError("an empty text")
        if len(folded) > most:
            raise RejectedValueError(f"a text of {len(folded)} characters")
        for character in folded:
            if not _is_printable(character):
                raise RejectedValueError(f"the control character U+{ord(character):04X} in the text")
        return folded

    return accept


def _is_printable(character: str) -> bool:
    """Return True if paper and every file format can hold a character.

    Controls, half characters, marks that change the direction of writing and unassigned code points are not.
    """
    code = ord(character)
    turns = 0x202A <= code <= 0x202E or 0x2066 <= code <= 0x2069
    unassigned = code & 0xFFFE == 0xFFFE or 0xFDD0 <= code <= 0xFDEF or code == 0xFEFF
    return unicodedata.category(character) not in ("Cc", "Cs", "Zl", "Zp") and not turns and not unassigned


def accept_whole(low: int, high: int) -> Accept:
    """Return a function that accepts a whole number from `low` to `high`."""

    def accept(value: object) -> int:
        if isinstance(value, bool) or not isinstance(value, int) or not low <= value <= high:
            raise RejectedValueError(describe_value(value))
        return value

    return accept


def accept_number(low: float, high: float) -> Accept:
    """Return a function that accepts a number from `low` to `high`, whole or not."""

    def accept(value: object) -> float:
        if isinstance(value, bool) or not isinstance(value, int | float) or not low <= value <= high:
            raise RejectedValueError(describe_value(value))
        return value

    return accept


def accept_yes_no(value: object) -> bool:
    """Accept true or false."""
    if not isinstance(value, bool):
        raise RejectedValueError(describe_value(value))
    return value


def accept_table(value: object) -> Mapping[str, Any]:
    """Accept a table."""
    if not isinstance(value, dict):
        raise RejectedValueError(describe_value(value))
    return value


def accept_choice(*names: str) -> Accept:
    """Return a function that accepts one of some words."""

    def accept(value: object) -> str:
        if value not in names:
            raise RejectedValueError(describe_value(value))
        return str(value)

    return accept
