"""Where the keys of a TOML text stand: the reader of values forgets their lines, and mistakes need them."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import NamedTuple

Path = tuple[str | int, ...]
"""A place in a TOML text: names of keys and numbers of list items, ("figure", 0, "name")."""

MAX_NESTING = 8
"""How deep lists, tables and dotted keys may stand in one another; a lesson needs three."""

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
    """A key that stands twice."""

    path: Path
    first_line: int
    line: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Outline:
    """The places of a TOML text.

    Attributes:
        lines: the line of every key, table and list item, from 1. Empty where the nesting is too deep.
        repeated: keys that stand twice, in the order of the text.
        nesting: how deep lists, tables and dotted keys stand in one another.
        deepest_line: where they first stand so deep.
    """

    lines: Mapping[Path, int]
    repeated: tuple[Repeated, ...]
    nesting: int
    deepest_line: int

    def line_of(self, path: Path) -> int:
        """The line of a place; of what holds it, where it stands nowhere; 1 for the whole text."""
        for length in range(len(path), 0, -1):
            if path[:length] in self.lines:
                return self.lines[path[:length]]
        return 1


def outline(text: str) -> Outline:
    r"""Find the line of every key and list item of a TOML text; never fails, whatever the text.

    A text that is no TOML gets the places up to the point where it goes wrong, and perhaps some after it.

    >>> places = outline('title = "a"\n[[figure]]\nname = "b"\n')
    >>> places.line_of(("figure", 0, "name"))
    3
    >>> places.line_of(("figure", 0, "cue"))
    2
    """
    tokens = _tokens(text)
    nesting, deepest_line = _nesting(tokens)
    scan = _Scan(tokens=tokens)
    if nesting <= MAX_NESTING:
        scan.document()
    return Outline(
        lines=MappingProxyType(scan.lines),
        repeated=tuple(scan.repeated),
        nesting=nesting,
        deepest_line=deepest_line,
    )


def bare_lines(text: str) -> frozenset[int]:
    r"""The lines of a TOML text, from 1, that hold nothing or a remark.

    >>> sorted(bare_lines('# a\nb = "x"  # beside\n\n'))
    [1, 3, 4]
    """
    held = {
        token.line + further
        for token in _tokens(text)
        if token.kind not in ("comment", "newline", "end")
        for further in range(token.text.count("\n") + 1)
    }
    return frozenset(range(1, text.count("\n") + 2)) - held


class _Token(NamedTuple):
    """One word, text or mark; a named tuple, since a large file has a quarter of a million."""

    kind: str
    text: str
    start: int
    line: int


def _tokens(text: str) -> list[_Token]:
    """The tokens of a text, spaces left out, with an end behind the last; a mark's kind is the mark."""
    found = []
    line = 1
    for match in _TOKEN.finditer(text):
        kind, word = str(match.lastgroup), match.group()
        if kind != "space":
            found.append(_Token(word if kind == "mark" else kind, word, match.start(), line))
        line += word.count("\n")
    found.append(_Token("end", "", len(text), line))
    return found


def _nesting(tokens: list[_Token]) -> tuple[int, int]:
    """How deep the deepest token stands, and its line."""
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
    """One pass over the tokens. Mutable: it is the pass, not a value."""

    tokens: list[_Token]
    at: int = 0
    table: Path = ()
    lines: dict[Path, int] = field(default_factory=dict)
    repeated: list[Repeated] = field(default_factory=list)
    counts: dict[Path, int] = field(default_factory=dict)

    @property
    def now(self) -> _Token:
        return self.tokens[self.at]

    def take(self) -> _Token:
        token = self.now
        self.at = min(self.at + 1, len(self.tokens) - 1)
        return token

    def document(self) -> None:
        while self.now.kind != "end":
            if self.now.kind in ("newline", "comment"):
                self.take()
                continue
            if self.now.kind == "[":
                self.header()
            else:
                self.entry(self.table)
            while self.now.kind not in ("newline", "end"):
                self.take()

    def header(self) -> None:
        """`[a.b]`, or `[[a.b]]`, which starts another item of a list of tables."""
        opening = self.take()
        in_list = self.now.kind == "[" and self.now.start == opening.start + 1
        if in_list:
            self.take()
        *holders, last = self.key() or [""]
        path: Path = ()
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

    def entry(self, table: Path) -> None:
        """`a.b = value`."""
        line = self.now.line
        parts = self.key()
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
        self.value(path)

    def key(self) -> list[str]:
        parts = []
        while self.now.kind in ("word", "string"):
            parts.append(_key_name(self.take().text))
            if self.now.kind != ".":
                break
            self.take()
        return parts

    def value(self, path: Path) -> None:
        if self.now.kind == "[":
            self.items(path)
        elif self.now.kind == "{":
            self.inline_table(path)
        else:
            while self.now.kind not in (",", "]", "}", "newline", "comment", "end"):
                self.take()

    def items(self, path: Path) -> None:
        self.take()
        number = 0
        while self.now.kind not in ("]", "end"):
            if self.now.kind in ("newline", "comment", ",", "}", "="):
                self.take()
                continue
            self.lines[(*path, number)] = self.now.line
            self.value((*path, number))
            number += 1
        self.take()

    def inline_table(self, path: Path) -> None:
        self.take()
        while self.now.kind not in ("}", "newline", "end"):
            before = self.at
            self.entry(path)
            if self.at == before:
                self.take()
        if self.now.kind == "}":
            self.take()


def _key_name(text: str) -> str:
    """A key without its quotes, its escapes read."""
    if text[0] not in "\"'":
        return text
    try:
        return str(tomllib.loads(f"key = {text}")["key"])
    except ValueError:
        return text
