"""From a lesson file on disk, or its text, to TOML values and the places they stand at."""

from __future__ import annotations

import re
import stat
import tomllib
from pathlib import Path
from typing import Any

from fillwright.errors import LessonFileError
from fillwright.tables.keys import shown
from fillwright.tables.lines import MAX_NESTING, Outline, outline

MAX_BYTES = 256_000
"""The largest file that is read; a long lesson has 10,000."""

_SYNTAX = {
    "Expected '=' after": "a key needs an = and a value behind it",
    "Invalid statement": "a line starts with a key, with a heading in square brackets or with #",
    "Invalid value": 'there is no value here that can be read; texts stand in straight quotes, "like this"',
    "Expected newline": "something stands behind the value; write one key to a line, and texts in quotes",
    "Unterminated string": "a text is never closed; end it with the quotes it starts with",
    'Expected "': "a text is never closed; end it with the quotes it starts with",
    "Illegal character '\\n'": "a text is not closed on its line; end it with a quote, or use three quotes",
    "Illegal character": "there is a character that can't stand here; write plain letters and spaces",
    "Found invalid character": "there is a character that can't stand here; write plain letters and spaces",
    "Unclosed array": "a list needs a comma between its items and a ] at its end",
    "Unclosed inline table": "a table in curly brackets needs a comma between its keys and a } at its end",
    "Expected ']]'": "the heading needs ]] at its end",
    "Expected ']'": "the heading needs a ] at its end",
    "Invalid initial character": "a key is letters, digits, - and _; put anything else in quotes",
    "Unescaped": "a backslash means something of its own in a text; write two of them",
    "Invalid hex": "there is no such character code; write the character itself",
    "Escaped character": "there is no such character code; write the character itself",
    "Invalid date": "there is no such date or time; texts stand in quotes",
    "Cannot": "this key or heading is already taken; keep one of them",
    "Duplicate": "this key or heading is already taken; keep one of them",
}
"""How the reader's complaints begin, and the same in our words."""


def read_text(path: Path) -> str:
    """The text of a file.

    Raises:
        LessonFileError: for a file that is missing, a folder, unreadable, too large, or no text.
    """
    name = shown(path.name or str(path), 120)
    try:
        status = path.stat()
        if stat.S_ISDIR(status.st_mode):
            raise LessonFileError(f"{name} is a folder; name the lesson file in it.")
        if not stat.S_ISREG(status.st_mode):
            raise LessonFileError(f"{name} is not a file; name a lesson file.")
        if status.st_size > MAX_BYTES:
            raise LessonFileError(_too_large(name, status.st_size))
        with path.open("rb") as file:
            data = file.read(MAX_BYTES + 1)
    except FileNotFoundError as error:
        raise LessonFileError(
            f"There is no file {shown(str(path), 200)}; check its name and folder."
        ) from error
    except PermissionError as error:
        raise LessonFileError(f"{name} can't be read: you have no permission for it.") from error
    except (OSError, ValueError) as error:
        raise LessonFileError(f"{name} can't be read; check its name and the disk it is on.") from error
    return decode(data, name)


def decode(data: bytes, name: str) -> str:
    """The text of a file's bytes.

    Raises:
        LessonFileError: naming the first byte that is not UTF-8.
    """
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise LessonFileError(
            f"{name} is not a text file: byte {error.start} is 0x{data[error.start]:02x}; "
            "save it as UTF-8 text."
        ) from error


def parse_toml(text: str, name: str) -> tuple[dict[str, Any], Outline]:
    """The values of a lesson file's text and where they stand.

    Raises:
        LessonFileError: for a text that is too large, empty, no text at all, nested too deeply, or no TOML.
    """
    text = text.removeprefix("\ufeff")
    size = len(text.encode("utf-8", "surrogatepass"))
    if size > MAX_BYTES:
        raise LessonFileError(_too_large(name, size))
    _refuse_what_is_no_text(text, name)
    if not text.strip():
        raise LessonFileError(f"{name} is empty; a lesson needs a number, a title and a [[figure]].")
    places = outline(text)
    if places.nesting > MAX_NESTING:
        raise LessonFileError(
            f"{name}, line {places.deepest_line}: lists, tables and dotted keys "
            f"stand {places.nesting} deep in one another; a lesson needs 3, and {MAX_NESTING} can be read."
        )
    try:
        return tomllib.loads(text), places
    except tomllib.TOMLDecodeError as error:
        raise LessonFileError(_syntax_sentence(str(error), text, name, places)) from error
    except ValueError as error:  # Python refuses whole numbers of more than 4300 digits
        raise LessonFileError(
            f"{name}{_line_of_digits(text)}: a number has thousands of digits; none needs more than 4."
        ) from error


def _refuse_what_is_no_text(text: str, name: str) -> None:
    found = re.search("[\0\ud800-\udfff]", text)
    if found:
        what = "a NUL byte" if found.group() == "\0" else "half a character"
        line = text.count("\n", 0, found.start()) + 1
        raise LessonFileError(f"{name}, line {line}: there is {what}; save the file as UTF-8 text.")


def _line_of_digits(text: str) -> str:
    found = re.search(r"[\d_]{4000}", text)
    return f", line {text.count(chr(10), 0, found.start()) + 1}" if found else ""


def _too_large(name: str, size: int) -> str:
    return f"{name} has {-(-size // 1000):,} kB; a lesson file has at most {MAX_BYTES // 1000} kB."


def _syntax_sentence(complaint: str, text: str, name: str, places: Outline) -> str:
    """The reader's complaint in our words, with its line and column."""
    words = next((ours for theirs, ours in _SYNTAX.items() if complaint.startswith(theirs)), None)
    at_value = complaint.startswith(("Cannot overwrite", "Duplicate"))
    if at_value and places.repeated:
        twice = places.repeated[0]
        return (
            f"{name}, line {twice.line}, {shown(str(twice.path[-1]))}: This key stands twice, "
            f"first in line {twice.first_line}; keep one of them."
        )
    place = re.search(r"\(at line (\d+), column (\d+)\)$", complaint)
    if place:
        line, column = int(place[1]), int(place[2])
    else:
        lines = text.replace("\r\n", "\n").split("\n")
        line, column = len(lines), len(lines[-1]) + 1
    return f"{name}, line {line}, column {column}: {words or 'this is not TOML as it can be read'}."
