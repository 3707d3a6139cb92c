import re
from pathlib import Path

import pytest

from fillwright.errors import UnknownNameError
from fillwright.lesson.glossary import format_glossary, get_term, load_glossary

PAGE = Path(__file__).parents[3] / "docs" / "glossary.md"
MOST_WORDS = 20


def test_the_page_in_docs_has_the_terms_of_the_table():
    assert PAGE.read_text("utf-8") == format_glossary()


def test_terms_are_sorted_and_unique():
    terms = [entry.term.casefold() for entry in load_glossary()]
    assert terms == sorted(set(terms))
    assert len(terms) >= 40


@pytest.mark.parametrize("entry", load_glossary(), ids=lambda entry: entry.term)
def test_meanings_have_short_sentences(entry):
    assert entry.meaning.endswith(".")
    for sentence in re.split(r"(?<=[.:])\s", entry.meaning):
        assert len(sentence.split()) <= MOST_WORDS, sentence


def test_an_unknown_term_is_refused():
    with pytest.raises(UnknownNameError, match='no term called "gradde"; did you mean "grade"'):
        get_term("gradde")
