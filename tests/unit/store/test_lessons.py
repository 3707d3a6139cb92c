import pytest
from sqlalchemy import insert

from fillwright.errors import LessonFileError, NotThereError, StoreError
from fillwright.store.lessons import (
    add_lesson,
    add_series,
    all_series,
    delete_series,
    lessons_of,
    newest,
    one_lesson,
    put_away,
    save_text,
    versions,
)
from fillwright.store.schema import teacher

TEXT = """number = {number}
title = "Lesson {number}"  # a comment of the teacher's

[[figure]]
name = "single paradiddle"
steps = ["last beat"]
"""


@pytest.fixture
def lesson(desks):
    with desks(write=True) as desk:
        series = add_series(desk, "Quiet fills")
        return add_lesson(desk, series, TEXT.format(number=3))


@pytest.fixture
def stranger(store, clock):
    """Another teacher."""
    with store.writing() as connection:
        return connection.execute(insert(teacher).values(name="", created=clock())).inserted_primary_key[0]


def test_the_text_is_kept_as_it_was_written(desks, lesson):
    with desks() as desk:
        assert newest(desk, lesson).text == TEXT.format(number=3)
        assert one_lesson(desk, lesson).title == "Lesson 3"


def test_every_saved_version_is_kept(desks, clock, lesson):
    changed = TEXT.format(number=4)
    clock.pass_days(1)
    with desks(write=True) as desk:
        assert save_text(desk, lesson, changed)
        assert not save_text(desk, lesson, changed)
    with desks() as desk:
        kept = versions(desk, lesson)
        assert [one.text for one in kept] == [changed, TEXT.format(number=3)]
        assert (kept[0].saved - kept[1].saved).days == 1
        assert one_lesson(desk, lesson).number == 4


def test_a_text_with_mistakes_changes_nothing(desks, lesson):
    with pytest.raises(LessonFileError, match="figure"), desks(write=True) as desk:
        save_text(desk, lesson, "number = 1\ntitle = 'x'")
    with desks() as desk:
        assert len(versions(desk, lesson)) == 1


def test_lessons_stand_in_the_order_of_their_numbers(desks, lesson):
    with desks(write=True) as desk:
        series = one_lesson(desk, lesson).series
        add_lesson(desk, series, TEXT.format(number=1))
    with desks() as desk:
        assert [one.number for one in lessons_of(desk, series)] == [1, 3]


def test_a_lesson_that_was_put_away_can_be_brought_back(desks, lesson):
    with desks(write=True) as desk:
        series = one_lesson(desk, lesson).series
        put_away(desk, lesson)
        assert lessons_of(desk, series) == ()
        assert len(lessons_of(desk, series, put_away=True)) == 1
        put_away(desk, lesson, away=False)
        assert len(lessons_of(desk, series)) == 1


def test_two_series_can_not_have_one_title(desks, lesson):
    with pytest.raises(StoreError, match='already a series called "Quiet fills"'), desks(write=True) as desk:
        add_series(desk, "Quiet fills")


def test_a_series_goes_with_its_lessons(desks, lesson):
    with desks(write=True) as desk:
        delete_series(desk, one_lesson(desk, lesson).series)
    with desks() as desk, pytest.raises(NotThereError, match="no such lesson"):
        newest(desk, lesson)


@pytest.mark.parametrize("look", [one_lesson, newest, versions, put_away])
def test_another_teachers_lesson_is_not_there(desks, lesson, stranger, look):
    with desks(write=True, of=stranger) as desk:
        assert all_series(desk) == ()
        with pytest.raises(NotThereError, match="no such lesson"):
            look(desk, lesson)


def test_a_number_that_no_row_can_have_is_not_there(desks):
    with desks() as desk, pytest.raises(NotThereError, match="no such lesson"):
        one_lesson(desk, 2**63)
