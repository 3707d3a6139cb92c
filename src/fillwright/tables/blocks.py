"""The text of a lesson as lines, split at its tables.

Comments and empty lines above a table belong to that table.
"""

from __future__ import annotations

import io

from fillwright.errors import TableError
from fillwright.tables.outline import find_bare_lines, outline

_LIST_ITEM = 2  # names and numbers in the place of a table of a list, ("fill", 0)


def split_at_first_table(text: str) -> tuple[str, str]:
    r"""Split a text into its keys above the first table and the rest.

    >>> split_at_first_table('a = 1\n\n# about it\n[[figure]]\nb = 2\n')
    ('a = 1\n', '\n# about it\n[[figure]]\nb = 2\n')
    """
    lines = _split_lines(text)
    headers = _find_headers(text, lines)
    end = _find_comment_start(text, headers[0] if headers else len(lines))
    return "".join(lines[:end]), "".join(lines[end:])


def split_at_table(text: str, name: str, index: int) -> tuple[str, str, str]:
    r"""Split a text before and after one table of a list, such as the second [[fill]].

    Args:
        text: of the lesson.
        name: of the list.
        index: of the table, from 0.

    Raises:
        TableError: where the list is not written as tables.

    >>> split_at_table('a = 1\n[[fill]]\nb = 2\n# next\n[[fill]]\nc = 3\n', "fill", 0)
    ('a = 1\n', '[[fill]]\nb = 2\n', '# next\n[[fill]]\nc = 3\n')
    """
    lines = _split_lines(text)
    start = outline(text).lines[(name, index)] - 1
    if not lines[start].lstrip().startswith("[["):
        raise TableError.of(f"This text can't be changed by a form; write [[{name}]] above each {name} first.")
    after = next((line for line in _find_headers(text, lines) if line > start), len(lines))
    end = _find_comment_start(text, after)
    return "".join(lines[:start]), "".join(lines[start:end]), "".join(lines[end:])


def append_table(text: str, name: str, table: str) -> str:
    r"""Return a text with one more table after the last of its list, or at the end.

    Raises:
        TableError: where the list is not written as tables.

    >>> append_table('[[figure]]\na = 1\n\n# mine\n[[fill]]\nb = 2\n', "figure", '[[figure]]\nc = 3\n')
    '[[figure]]\na = 1\n\n[[figure]]\nc = 3\n\n# mine\n[[fill]]\nb = 2\n'
    """
    count = sum(len(path) == _LIST_ITEM and path[0] == name for path in outline(text).lines)
    before, last, after = split_at_table(text, name, count - 1) if count else (text, "", "")
    return f"{end_last_line(before + last)}\n{table}{after}"


def quote(text: str) -> str:
    r"""Write a text as TOML has it.

    >>> quote('a "b"')
    '"a \\"b\\""'
    """
    return '"' + text.replace("\\", "\\\\").replace('"', '\\"') + '"'


def end_last_line(text: str) -> str:
    r"""Return a text whose last line ends.

    >>> end_last_line("a = 1"), end_last_line("")
    ('a = 1\n', '')
    """
    return text if not text or text.endswith("\n") else f"{text}\n"


def _find_headers(text: str, lines: list[str]) -> list[int]:
    """Find the lines on which tables begin, from 0, rising."""
    starts = {line - 1 for path, line in outline(text).lines.items() if len(path) <= _LIST_ITEM}
    return sorted(start for start in starts if lines[start].lstrip().startswith("["))


def _find_comment_start(text: str, line: int) -> int:
    """Find the first of the comments and empty lines right above a line, both from 0."""
    bare = find_bare_lines(text)
    while line in bare:  # the line above, counted from 1
        line -= 1
    return line


def _split_lines(text: str) -> list[str]:
    """Split a text into lines as TOML has them: other characters that end a line may be in its texts."""
    return io.StringIO(text, newline="\n").readlines()
