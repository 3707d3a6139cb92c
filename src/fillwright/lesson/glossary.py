"""The glossary: trade terms and our own words, each with its meaning."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

from fillwright.errors import UnknownNameError


@dataclass(frozen=True, slots=True, kw_only=True)
class Term:
    """A term and its meaning, in one or two sentences."""

    term: str
    meaning: str


@cache
def load_glossary() -> tuple[Term, ...]:
    """Load every term, in alphabetical order."""
    table = tomllib.loads(files(__package__).joinpath("glossary.toml").read_text("utf-8"))
    return tuple(Term(**entry) for entry in table["entry"])


def get_term(term: str) -> Term:
    """Return a term by its name.

    Raises:
        UnknownNameError: for a term that the glossary lacks.

    >>> get_term("bpm").meaning
    'Beats per minute, the unit of tempo. At 60 bpm there is one beat each second.'
    """
    terms = {entry.term: entry for entry in load_glossary()}
    if term not in terms:
        raise UnknownNameError.of("term", term, terms)
    return terms[term]


def format_glossary() -> str:
    """Return the glossary as a page of docs/, in Markdown."""
    lines = [
        "# Glossary",
        "",
        "The words of the lessons, handouts, reports and pages. This page is generated from",
        "`src/fillwright/lesson/glossary.toml` by `python tools/write_glossary.py`.",
        "",
        "| term | meaning |",
        "|---|---|",
        *(f"| {entry.term} | {entry.meaning} |" for entry in load_glossary()),
    ]
    return "\n".join(lines) + "\n"
