"""A series as one book: every lesson, its fills drawn once, contents and index on the right pages."""

from __future__ import annotations

import io

import pypdf
import pytest

from fillwright.errors import FitError
from fillwright.lesson.file import Lesson, parse_lesson
from fillwright.pack.book import MOST_LESSONS, typeset_book


def lesson(number: int, title: str, *figures: str, head: str = "") -> Lesson:
    tables = "".join(f'[[figure]]\nname = "{name}"\nsteps = ["last beat"]\n' for name in figures)
    return parse_lesson(f'number = {number}\ntitle = "{title}"\nseries = "Shed"\nbars = 1\n{head}\n{tables}')


LESSONS = (
    lesson(1, "Hands", "single stroke four", "single paradiddle", head='teacher = "Bo"'),
    lesson(2, "Flams", "flam accent", head='page = "letter"\nhand = "left"'),
    lesson(3, "Again", "single paradiddle", head='groove = "shuffle"'),
)


@pytest.fixture(scope="module")
def pages() -> list[str]:
    content = typeset_book(LESSONS)
    return [page.extract_text() for page in pypdf.PdfReader(io.BytesIO(content)).pages]


def test_the_title_page_counts_what_is_in_it(pages):
    assert "Shed" in pages[0]
    assert "3 lessons, 4 fills" in pages[0]
    assert "Bo" in pages[0]


def test_contents_and_index_lead_to_the_pages(pages):
    starts = {
        title: number for number, page in enumerate(pages, start=1) for title in TITLES if _begins(page, title)
    }
    contents = pages[1].splitlines()
    for title, start in starts.items():
        (line,) = [line for line in contents if title in line]
        assert line.split()[-1] == str(start)
    (index,) = [
        page for page in pages if page.lstrip().startswith("Index by figure") or "Index by figure" in page[:40]
    ]
    (line,) = [line for line in index.splitlines() if line.startswith("single paradiddle")]
    found = [int(word.strip(",")) for word in line.split() if word.strip(",").isdigit()]
    assert found == [starts["1. Hands"], starts["3. Again"]]


TITLES = ("1. Hands", "2. Flams", "3. Again")


def _begins(page: str, title: str) -> bool:
    return title in page and "Each number is a phrase" in page


def test_the_last_page_is_key_and_care(pages):
    assert "Notation key" in pages[-1]
    assert "Look after yourself" in pages[-1]


def test_the_same_bytes_twice_whoever_engraves():
    told = []
    content = typeset_book(LESSONS, progress=lambda *one: told.append(one))
    assert told == [("Hands", 1, 3), ("Flams", 2, 3), ("Again", 3, 3)]
    assert content == typeset_book(LESSONS, processes=2)
    assert typeset_book(LESSONS[:1], title="Other") != content


def test_a_lesson_that_leaves_everything_out_still_has_its_page():
    nothing = lesson(4, "Rest", "flam", head='leave_out = ["flam-last-beat"]')
    content = typeset_book([*LESSONS[:1], nothing])
    assert any("4. Rest" in page.extract_text() for page in pypdf.PdfReader(io.BytesIO(content)).pages[2:])


@pytest.mark.parametrize("count", [0, MOST_LESSONS + 1])
def test_a_book_has_lessons_but_not_too_many(count):
    with pytest.raises(FitError, match=f"A book can't have {count} lessons"):
        typeset_book(LESSONS[:1] * count)
