"""A lesson's text as lines: where its tables begin and end, so that one goes or comes without the rest.

Remarks and empty lines above a table belong to that table, not to the one before.
"""

from __future__ import annotations

import io

from fillwright.errors import LessonFileError
from fillwright.lesson.lines import outline


def without_table(text: str, name: str, index: int) -> str:
    r"""The text without one table of a list, such as the second [[fill]].

    Args:
        text: of the lesson.
        name: of the list.
        index: which table of it, from 0.

    Raises:
        LessonFileError: where the list does not stand as tables.

    >>> without_table('a = 1\n[[fill]]\nb = 2\n# next\n[[fill]]\nc = 3\n', "fill", 0)
    'a = 1\n# next\n[[fill]]\nc = 3\n'
    """
    lines = _lines(text)
    start, end = _extent(text, lines, name, index)
    return "".join(lines[:start] + lines[end:])


def with_table(text: str, name: str, table: str) -> str:
    r"""The text with one more table behind the last of its list, or at the end.

    Raises:
        LessonFileError: where the list does not stand as tables.

    >>> with_table('[[figure]]\na = 1\n\n# mine\n[[fill]]\nb = 2\n', "figure", '[[figure]]\nc = 3\n')
    '[[figure]]\na = 1\n\n[[figure]]\nc = 3\n\n# mine\n[[fill]]\nb = 2\n'
    """
    lines = _lines(text)
    count = sum(len(path) == 2 and path[0] == name for path in outline(text).lines)
    end = _extent(text, lines, name, count - 1)[1] if count else len(lines)
    before = "".join(lines[:end])
    return f"{_ended(before)}\n{table}{''.join(lines[end:])}"


def with_entries(text: str, entries: str) -> str:
    r"""The text with entries behind those that stand above the first table.

    >>> with_entries('a = 1\n\n# about it\n[[figure]]\nb = 2\n', 'c = 3\n')
    'a = 1\nc = 3\n\n# about it\n[[figure]]\nb = 2\n'
    """
    lines = _lines(text)
    headers = _headers(text, lines)
    end = _bare_before(lines, headers[0] if headers else len(lines))
    return _ended("".join(lines[:end])) + entries + "".join(lines[end:])


def _extent(text: str, lines: list[str], name: str, index: int) -> tuple[int, int]:
    """The first line of a table, from 0, and the first behind it."""
    start = outline(text).lines[(name, index)] - 1
    if not lines[start].lstrip().startswith("[["):
        raise LessonFileError(f"The text can't be changed by parts; write [[{name}]] above each {name} first.")
    after = next((line for line in _headers(text, lines) if line > start), len(lines))
    return start, _bare_before(lines, after)


def _headers(text: str, lines: list[str]) -> list[int]:
    """The lines on which tables begin, from 0, rising."""
    starts = {line - 1 for path, line in outline(text).lines.items() if len(path) <= 2}
    return sorted(start for start in starts if lines[start].lstrip().startswith("["))


def _bare_before(lines: list[str], line: int) -> int:
    """The first of the remarks and empty lines that stand right above a line."""
    while line > 0 and (not lines[line - 1].strip() or lines[line - 1].lstrip().startswith("#")):
        line -= 1
    return line


def _lines(text: str) -> list[str]:
    """Lines as TOML has them: other signs that end a line may stand in its texts."""
    return io.StringIO(text, newline="\n").readlines()


def _ended(text: str) -> str:
    return text if not text or text.endswith("\n") else f"{text}\n"
