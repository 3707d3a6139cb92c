"""Lines of the keys of a TOML text: the reader of values forgets them, and mistakes need them."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import NamedTuple

from fillwright import budget

KeyPath = tuple[str | int, ...]
"""The place of a key in a TOML text: names of keys and numbers of list items, ("figure", 0, "name")."""

MAX_NESTING = budget.NESTING
"""Levels of lists, tables and dotted keys inside one another."""

_TOKEN = re.compile(
    r'''
      (?P<string> """ (?: [^\\] | \\. | \\\Z )*? (?: """ | \Z ) "{0,2}
                | \'\'\' .*? (?: \'\'\' | \Z ) '{0,2}
                | " (?: [^"\\\n] | \\[^\n] )*+ "?
                | ' [^'\n]*+ '? )
    | (?P<comment> \#[^\n]*+ )
    | (?P<newline> \n )
    | (?P<mark> [\[\]{}=,.] )
    | (?P<word> [A-Za-z0-9_-]++ )
    | (?P<space> [ \t\r]++ )
    | (?P<other> . )
    ''',
    re.VERBOSE | re.DOTALL,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Repeated:
    """A key that is written twice."""

    path: KeyPath
    first_line: int
    line: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Outline:
    """Places of the keys of a TOML text.

    Attributes:
        lines: line of every key, table and list item, from 1; empty where the nesting is too deep.
        repeated: keys that are written twice, in the order of the text.
        nesting: levels of lists, tables and dotted keys inside one another.
        deepest_line: line where that depth is first reached.
    """

    lines: Mapping[KeyPath, int]
    repeated: tuple[Repeated, ...]
    nesting: int
    deepest_line: int

    def find_line(self, path: KeyPath) -> int:
        """Return the line of a key; for a missing key, that of the table around it; 1 for the whole text."""
        for length in range(len(path), 0, -1):
            if path[:length] in self.lines:
                return self.lines[path[:length]]
        return 1


def outline(text: str) -> Outline:
    r"""Find the line of every key and list item of a TOML text, without failing on any text.

    A text that is not TOML gets the places up to its first mistake, and perhaps some after it.

    >>> places = outline('title = "a"\n[[figure]]\nname = "b"\n')
    >>> places.find_line(("figure", 0, "name"))
    3
    >>> places.find_line(("figure", 0, "cue"))
    2
    """
    tokens = _split_tokens(text)
    nesting, deepest_line = _measure_nesting(tokens)
    scan = _Scan(tokens=tokens)
    if nesting <= MAX_NESTING:
        scan.read_document()
    return Outline(
        lines=MappingProxyType(scan.lines),
        repeated=tuple(scan.repeated),
        nesting=nesting,
        deepest_line=deepest_line,
    )


def find_bare_lines(text: str) -> frozenset[int]:
    r"""Find the lines of a TOML text, from 1, that are empty or hold only a comment.

    >>> sorted(find_bare_lines('# a\nb = "x"  # a comment\n\n'))
    [1, 3, 4]
    """
    held = {
        token.line + further
        for token in _split_tokens(text)
        if token.kind not in ("comment", "newline", "end")
        for further in range(token.text.count("\n") + 1)
    }
    return frozenset(range(1, text.count("\n") + 2)) - held


class _Token(NamedTuple):
    """A word, text or mark; a named tuple, since a large file has a quarter of a million."""

    kind: str
    text: str
    start: int
    line: int


def _split_tokens(text: str) -> list[_Token]:
    """Split a text into tokens without its spaces, and add an end token; the kind of a mark is the mark."""
    tokens = []
    line = 1
    for match in _TOKEN.finditer(text):
        kind, word = str(match.lastgroup), match.group()
        if kind != "space":
            tokens.append(_Token(word if kind == "mark" else kind, word, match.start(), line))
        line += word.count("\n")
    tokens.append(_Token("end", "", len(text), line))
    return tokens


def _measure_nesting(tokens: list[_Token]) -> tuple[int, int]:
    """Measure the deepest nesting of the tokens, and find its line."""
    deepest, line = 0, 1
    brackets = dots = 0
    for token in tokens:
        if token.kind == ".":
            dots += 1
        elif token.kind not in ("word", "string"):
            dots = 0
            brackets = max(0, brackets + (token.kind in "[{") - (token.kind in "]}"))
        if brackets + dots > deepest:
            deepest, line = brackets + dots, token.line
    return deepest, line


@dataclass(slots=True)
class _Scan:
    """A pass over the tokens. Mutable: it holds how far the pass has come."""

    tokens: list[_Token]
    at: int = 0
    table: KeyPath = ()
    lines: dict[KeyPath, int] = field(default_factory=dict)
    repeated: list[Repeated] = field(default_factory=list)
    counts: dict[KeyPath, int] = field(default_factory=dict)

    @property
    def now(self) -> _Token:
        return self.tokens[self.at]

    def take(self) -> _Token:
        token = self.now
        self.at = min(self.at + 1, len(self.tokens) - 1)
        return token

    def read_document(self) -> None:
        while self.now.kind != "end":
            if self.now.kind in ("newline", "comment"):
                self.take()
                continue
            if self.now.kind == "[":
                self.read_header()
            else:
                self.read_entry(self.table)
            while self.now.kind not in ("newline", "end"):
                self.take()

    def read_header(self) -> None:
        """Read `[a.b]`, or `[[a.b]]`, which starts another item of a list of tables."""
        opening = self.take()
        in_list = self.now.kind == "[" and self.now.start == opening.start + 1
        if in_list:
            self.take()
        *holders, last = self.read_key() or [""]
        path: KeyPath = ()
        for part in holders:
            path = (*path, part)
            self.lines.setdefault(path, opening.line)
            if path in self.counts:
                path = (*path, self.counts[path] - 1)
        path = (*path, last)
        if in_list:
            self.lines.setdefault(path, opening.line)
            self.counts[path] = self.counts.get(path, 0) + 1
            path = (*path, self.counts[path] - 1)
        self.lines[path] = opening.line
        self.table = path

    def read_entry(self, table: KeyPath) -> None:
        """Read `a.b = value`."""
        line = self.now.line
        parts = self.read_key()
        if not parts or self.now.kind != "=":
            return
        self.take()
        path = table
        for part in parts[:-1]:
            path = (*path, part)
            self.lines.setdefault(path, line)
        path = (*path, parts[-1])
        if path in self.lines:
            self.repeated.append(Repeated(path=path, first_line=self.lines[path], line=line))
        self.lines.setdefault(path, line)
        self.read_value(path)

    def read_key(self) -> list[str]:
        parts = []
        while self.now.kind in ("word", "string"):
            parts.append(_key_name(self.take().text))
            if self.now.kind != ".":
                break
            self.take()
        return parts

    def read_value(self, path: KeyPath) -> None:
        if self.now.kind == "[":
            self.read_items(path)
        elif self.now.kind == "{":
            self.read_inline_table(path)
        else:
            while self.now.kind not in (",", "]", "}", "newline", "comment", "end"):
                self.take()

    def read_items(self, path: KeyPath) -> None:
        self.take()
        number = 0
        while self.now.kind not in ("]", "end"):
            if self.now.kind in ("newline", "comment", ",", "}", "="):
                self.take()
                continue
            self.lines[(*path, number)] = self.now.line
            self.read_value((*path, number))
            number += 1
        self.take()

    def read_inline_table(self, path: KeyPath) -> None:
        self.take()
        while self.now.kind not in ("}", "newline", "end"):
            before = self.at
            self.read_entry(path)
            if self.at == before:
                self.take()
        if self.now.kind == "}":
            self.take()


def _key_name(text: str) -> str:
    """Return a key without its quotes, its escapes replaced."""
    if text[0] not in "\"'":
        return text
    try:
        return str(tomllib.loads(f"key = {text}")["key"])
    except ValueError:
        return text
