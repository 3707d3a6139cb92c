"""A lesson's text as lines, parted where its tables begin and end.

Remarks and empty lines above a table belong to that table, not to what stands before.
"""

from __future__ import annotations

import io

from fillwright.errors import LessonFileError
from fillwright.tables.lines import bare_lines, outline


def head_and_rest(text: str) -> tuple[str, str]:
    r"""What stands above the first table, and everything from there on.

    >>> head_and_rest('a = 1\n\n# about it\n[[figure]]\nb = 2\n')
    ('a = 1\n', '\n# about it\n[[figure]]\nb = 2\n')
    """
    lines = _lines(text)
    headers = _headers(text, lines)
    end = _bare_before(text, headers[0] if headers else len(lines))
    return "".join(lines[:end]), "".join(lines[end:])


def parted_at(text: str, name: str, index: int) -> tuple[str, str, str]:
    r"""What stands before one table of a list, such as the second [[fill]], the table, and what stands behind.

    Args:
        text: of the lesson.
        name: of the list.
        index: which table of it, from 0.

    Raises:
        LessonFileError: where the list does not stand as tables.

    >>> parted_at('a = 1\n[[fill]]\nb = 2\n# next\n[[fill]]\nc = 3\n', "fill", 0)
    ('a = 1\n', '[[fill]]\nb = 2\n', '# next\n[[fill]]\nc = 3\n')
    """
    lines = _lines(text)
    start = outline(text).lines[(name, index)] - 1
    if not lines[start].lstrip().startswith("[["):
        raise LessonFileError(f"The text can't be changed by parts; write [[{name}]] above each {name} first.")
    after = next((line for line in _headers(text, lines) if line > start), len(lines))
    end = _bare_before(text, after)
    return "".join(lines[:start]), "".join(lines[start:end]), "".join(lines[end:])


def with_table(text: str, name: str, table: str) -> str:
    r"""The text with one more table behind the last of its list, or at the end.

    Raises:
        LessonFileError: where the list does not stand as tables.

    >>> with_table('[[figure]]\na = 1\n\n# mine\n[[fill]]\nb = 2\n', "figure", '[[figure]]\nc = 3\n')
    '[[figure]]\na = 1\n\n[[figure]]\nc = 3\n\n# mine\n[[fill]]\nb = 2\n'
    """
    count = sum(len(path) == 2 and path[0] == name for path in outline(text).lines)
    before, last, after = parted_at(text, name, count - 1) if count else (text, "", "")
    return f"{ended(before + last)}\n{table}{after}"


def quoted(text: str) -> str:
    """A text as TOML has it."""
    return '"' + text.replace("\\", "\\\\").replace('"', '\\"') + '"'


def ended(text: str) -> str:
    """The text with an end to its last line."""
    return text if not text or text.endswith("\n") else f"{text}\n"


def _headers(text: str, lines: list[str]) -> list[int]:
    """The lines on which tables begin, from 0, rising."""
    starts = {line - 1 for path, line in outline(text).lines.items() if len(path) <= 2}
    return sorted(start for start in starts if lines[start].lstrip().startswith("["))


def _bare_before(text: str, line: int) -> int:
    """The first of the remarks and empty lines that stand right above a line, both from 0."""
    bare = bare_lines(text)
    while line in bare:  # the one above, counted from 1
        line -= 1
    return line


def _lines(text: str) -> list[str]:
    """Lines as TOML has them: other signs that end a line may stand in its texts."""
    return io.StringIO(text, newline="\n").readlines()
