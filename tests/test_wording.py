"""Everything that a person reads keeps to the writing guide: help, pages, tables, docs, docstrings, errors.

Each rule names a phrase and what to write instead; a place that breaks one is listed with its file and line.
"""

from __future__ import annotations

import ast
import io
import re
import tokenize
from collections.abc import Iterator
from html.parser import HTMLParser
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
SOURCE = ROOT / "src" / "fillwright"

FORBIDDEN = {
    r"\b(is|are|was|be|been) told\b|\btold (by|in|with|of)\b": "reported, listed",
    r"\banew\b": "again",
    r"(?<!there )(?<!which )\bis no (?!(less|longer|more|other|such|better|worse)\b)[a-z]+": "is not a",
    r"\breckon(s|ed|ing)?\b": "calculate",
    r"\blest\b": "so that ... not",
    r"\bpassed over\b(?! time)": "skipped",
    r"\b(put|puts|putting) right\b": "fix",
    r"\bnobody\b": "unknown",
    r"\bknown are\b": "use one of",
    r"\bwhoever\b|\bwherever\b": "rewrite the sentence",
    r"\bmay be chance\b": "state the confidence",
}
"""Phrases that no reader should meet, each with what to write."""

OPENINGS = re.compile(r"^(What|Whether|Whatever|Who|Whose)\b")
"""Words that a label, heading or docstring may not begin with."""

QUESTION = re.compile(r"\?\s*$")
"""A question is a sentence, not a clause used as a name."""


class Texts(HTMLParser):
    """Text and spoken attributes of a template, each with its line."""

    SPOKEN = ("title", "aria-label", "placeholder", "alt", "value")

    def __init__(self) -> None:
        super().__init__()
        self.found: list[tuple[int, str]] = []
        self.quiet = 0

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Collect the attributes that are shown or spoken."""
        self.quiet += tag in ("script", "style")
        self.found += [(self.getpos()[0], text) for name, text in attrs if name in self.SPOKEN and text]

    def handle_endtag(self, tag: str) -> None:
        """Leave a script or a style sheet."""
        self.quiet -= tag in ("script", "style")

    def handle_data(self, data: str) -> None:
        """Collect visible text, line by line."""
        if not self.quiet:
            first = self.getpos()[0]
            self.found += [(first + n, line.strip()) for n, line in enumerate(data.split("\n")) if line.strip()]


def html_texts(path: Path) -> Iterator[tuple[int, str]]:
    """Yield the texts of a template; Jinja's own marks and comments are left out."""
    text = re.sub(
        r"\{#.*?#\}", lambda m: "\n" * m.group().count("\n"), path.read_text("utf-8"), flags=re.DOTALL
    )
    parser = Texts()
    parser.feed(re.sub(r"\{%.*?%\}", lambda m: "\n" * m.group().count("\n"), text, flags=re.DOTALL))
    yield from parser.found


def python_texts(path: Path) -> Iterator[tuple[int, str]]:
    """Yield docstrings, comments and every string of two words or more."""
    text = path.read_text("utf-8")
    for node in ast.walk(ast.parse(text)):
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and " " in node.value.strip():
            for number, line in enumerate(node.value.split("\n")):
                yield node.lineno + number, line.strip()
    for token in tokenize.generate_tokens(io.StringIO(text).readline):
        if token.type == tokenize.COMMENT:
            yield token.start[0], token.string.lstrip("# ")


def plain_texts(path: Path) -> Iterator[tuple[int, str]]:
    """Yield the lines of a file that is text or data; code blocks of a document are left out."""
    code = False
    for number, line in enumerate(path.read_text("utf-8").split("\n"), 1):
        if line.startswith("```"):
            code = not code
        if not code:
            yield number, line.strip()


READERS = {".py": python_texts, ".html": html_texts}
FILES = sorted(
    path
    for pattern in ("*.py", "*.html", "*.mjs", "*.typ", "*.toml", "*.md", "*.css")
    for path in SOURCE.rglob(pattern)
    if "migrations" not in path.parts
) + sorted([*(ROOT / "docs").rglob("*.md"), ROOT / "README.md", *(ROOT / "tools").glob("*.py")])


@pytest.mark.parametrize("path", FILES, ids=lambda path: str(path.relative_to(ROOT)))
def test_no_text_breaks_the_writing_guide(path: Path) -> None:
    broken = [
        f"{path.relative_to(ROOT)}:{line}: {text[:100]!r}: write {better!r}"
        for line, text in READERS.get(path.suffix, plain_texts)(path)
        for pattern, better in FORBIDDEN.items()
        if re.search(pattern, text, re.IGNORECASE)
    ]
    assert not broken, "\n".join(broken)


@pytest.mark.parametrize(
    "path", [path for path in FILES if path.suffix == ".py"], ids=lambda p: str(p.relative_to(ROOT))
)
def test_no_docstring_opens_with_a_clause(path: Path) -> None:
    holders = ast.Module | ast.ClassDef | ast.FunctionDef | ast.AsyncFunctionDef
    described = [
        (getattr(node, "lineno", 1), ast.get_docstring(node) or "")
        for node in ast.walk(ast.parse(path.read_text("utf-8")))
        if isinstance(node, holders)
    ]
    assert not [
        f"{path.name}:{line}: {text[:80]}"
        for line, text in described
        if OPENINGS.match(text) or text.startswith(("How ", "Where "))
    ]


@pytest.mark.parametrize("path", [path for path in FILES if path.suffix == ".html"], ids=lambda path: path.name)
def test_no_label_opens_with_a_clause(path: Path) -> None:
    found = [
        (line, text) for line, text in html_texts(path) if OPENINGS.match(text) and not QUESTION.search(text)
    ]
    assert not found


@pytest.mark.parametrize(
    "path", [path for path in FILES if path.suffix == ".md"], ids=lambda p: str(p.relative_to(ROOT))
)
def test_no_heading_opens_with_a_clause(path: Path) -> None:
    headings = [line.lstrip("# ") for line in path.read_text("utf-8").split("\n") if line.startswith("#")]
    assert not [heading for heading in headings if OPENINGS.match(heading) and not QUESTION.search(heading)]


def test_the_rules_find_what_they_forbid() -> None:
    bad = (
        "All mistakes are told together.",
        "99999 is no port",
        "it is made anew",
        "keys that nobody knows",
        "known are: a, b",
    )
    for text in bad:
        assert any(re.search(pattern, text, re.IGNORECASE) for pattern in FORBIDDEN)
    assert not any(re.search(pattern, "it is no longer there", re.IGNORECASE) for pattern in FORBIDDEN)
    assert OPENINGS.match("What is there")
