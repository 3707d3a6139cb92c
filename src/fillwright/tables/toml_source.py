"""Read a table that a user wrote: from a file or its text to TOML values and the lines of their keys."""

from __future__ import annotations

import re
import stat
import tomllib
from pathlib import Path
from typing import Any

from fillwright import budget
from fillwright.errors import Mistake, MistakeKind, TableError
from fillwright.tables.outline import MAX_NESTING, Outline, outline
from fillwright.tables.values import TableKind, shorten

_LONGEST_FILE_NAME = 120  # characters that a sentence quotes; ours
_LONGEST_PATH = 200  # likewise
_LONG_NUMBER = 4000  # digits from which a number is looked for; Python refuses more than 4,300

_SYNTAX = {
    "Expected '=' after": "a key needs an = and a value after it",
    "Invalid statement": "a line starts with a key, with a heading in square brackets or with #",
    "Invalid value": 'there is no valid value here; put texts in straight quotes, "like this"',
    "Expected newline": "there is something after the value; write one key to a line, and texts in quotes",
    "Unterminated string": "a text is never closed; end it with the quotes it starts with",
    'Expected "': "a text is never closed; end it with the quotes it starts with",
    "Illegal character '\\n'": "a text is not closed on its line; end it with a quote, or use three quotes",
    "Illegal character": "there is a character that can't be used here; write plain letters and spaces",
    "Found invalid character": "there is a character that can't be used here; write plain letters and spaces",
    "Unclosed array": "a list needs a comma between its items and a ] at its end",
    "Unclosed inline table": "a table in curly brackets needs a comma between its keys and a } at its end",
    "Expected ']]'": "the heading needs ]] at its end",
    "Expected ']'": "the heading needs a ] at its end",
    "Invalid initial character": "a key is letters, digits, - and _; put anything else in quotes",
    "Unescaped": "a backslash has a special meaning in a text; write two of them",
    "Invalid hex": "there is no such character code; write the character itself",
    "Escaped character": "there is no such character code; write the character itself",
    "Invalid date": "there is no such date or time; put texts in quotes",
    "Cannot": "this key or heading is used twice; keep one of them",
    "Duplicate": "this key or heading is used twice; keep one of them",
}
"""Beginnings of the messages of `tomllib`, and the same in our words."""


def read_table_file(path: Path, kind: TableKind) -> tuple[dict[str, Any], Outline]:
    """Read a table from a file.

    Returns:
        Its values, and the lines of its keys.

    Raises:
        TableError: for a file that can't be read, and as `parse_toml`.
    """
    return parse_toml(read_table_text(path, kind), name_file(path), kind)


def name_file(path: Path) -> str:
    """Return the name of a file as sentences show it."""
    return shorten(path.name or str(path), _LONGEST_FILE_NAME)


def read_table_text(path: Path, kind: TableKind) -> str:
    """Read the text of a file, without its byte-order mark.

    Raises:
        TableError: for a file that is missing, a folder, unreadable, too large, or not text.
    """
    name = name_file(path)
    try:
        status = path.stat()
        if stat.S_ISDIR(status.st_mode):
            raise _refuse(f"This is a folder; give the name of {kind.title}.", name)
        if not stat.S_ISREG(status.st_mode):
            raise _refuse(f"This is not a file; give the name of {kind.title}.", name)
        if status.st_size > budget.TABLE_BYTES:
            raise _refuse(_describe_size(status.st_size, kind), name)
        with path.open("rb") as file:
            data = file.read(budget.TABLE_BYTES + 1)
    except FileNotFoundError as error:
        there = shorten(str(path), _LONGEST_PATH)
        raise _refuse("There is no such file; check its name and folder.", there) from error
    except PermissionError as error:
        raise _refuse("You have no permission to read this file.", name) from error
    except (OSError, ValueError) as error:
        raise _refuse("This file can't be read; check its name and its disk.", name) from error
    return decode_text(data, name)


def decode_text(data: bytes, name: str) -> str:
    """Decode the bytes of a file as UTF-8, without a byte-order mark.

    Raises:
        TableError: naming the first byte that is not UTF-8.
    """
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        byte = f"byte {error.start} is 0x{data[error.start]:02x}"
        raise _refuse(f"This is not a text file ({byte}); save it as UTF-8 text.", name) from error


def parse_toml(text: str, name: str, kind: TableKind) -> tuple[dict[str, Any], Outline]:
    """Parse the text of a table.

    Returns:
        Its values, and the lines of its keys.

    Raises:
        TableError: for a text that is too large, nested too deeply, or not TOML, and for NUL bytes.
    """
    text = text.removeprefix("\ufeff")
    size = len(text.encode("utf-8", "surrogatepass"))
    if size > budget.TABLE_BYTES:
        raise _refuse(_describe_size(size, kind), name)
    _check_characters(text, name)
    places = outline(text)
    if places.nesting > MAX_NESTING:
        raise _refuse(
            f"Lists, tables and dotted keys are nested {places.nesting} deep; "
            f"at most {MAX_NESTING} can be read.",
            name,
            line=places.deepest_line,
        )
    try:
        return tomllib.loads(text), places
    except tomllib.TOMLDecodeError as error:
        raise _explain_syntax(str(error), text, name, places) from error
    except ValueError as error:  # Python refuses whole numbers of more than 4300 digits
        message = "A number has thousands of digits; none needs more than 4."
        raise _refuse(message, name, line=_find_long_number(text)) from error


def _refuse(message: str, name: str, *, line: int = 0, column: int = 0) -> TableError:
    kind = MistakeKind.SYNTAX if line else MistakeKind.FILE
    return TableError.of(message, file=name, kind=kind, line=line, column=column)


def _check_characters(text: str, name: str) -> None:
    match = re.search("[\0\ud800-\udfff]", text)
    if match:
        character = "a NUL byte" if match.group() == "\0" else "half a character"
        line = text.count("\n", 0, match.start()) + 1
        raise _refuse(f"There is {character}; save the file as UTF-8 text.", name, line=line)


def _find_long_number(text: str) -> int:
    """Return the line of the first number of thousands of digits, 0 for none."""
    match = re.search(rf"[\d_]{{{_LONG_NUMBER}}}", text)
    return text.count("\n", 0, match.start()) + 1 if match else 0


def _describe_size(size: int, kind: TableKind) -> str:
    return f"This file has {-(-size // 1000):,} kB; {kind.title} has at most {budget.TABLE_BYTES // 1000} kB."


def _explain_syntax(complaint: str, text: str, name: str, places: Outline) -> TableError:
    """Return the complaint of `tomllib` as a mistake in our words, with its line and column."""
    words = next((ours for theirs, ours in _SYNTAX.items() if complaint.startswith(theirs)), None)
    at_value = complaint.startswith(("Cannot overwrite", "Duplicate"))
    if at_value and places.repeated:
        twice = places.repeated[0]
        mistake = Mistake(
            line=twice.line,
            key=shorten(str(twice.path[-1])),
            kind=MistakeKind.SYNTAX,
            message=f"This key is written twice, first in line {twice.first_line}; keep one of them.",
        )
        return TableError(name, (mistake,))
    match = re.search(r"\(at line (\d+), column (\d+)\)$", complaint)
    if match:
        line, column = int(match[1]), int(match[2])
    else:
        lines = text.replace("\r\n", "\n").split("\n")
        line, column = len(lines), len(lines[-1]) + 1
    message = words or "this is not valid TOML"
    return _refuse(f"{message[:1].upper()}{message[1:]}.", name, line=line, column=column)
