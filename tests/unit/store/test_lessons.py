import pytest
from sqlalchemy import insert

from fillwright.errors import NotThereError, StoreError, TableError
from fillwright.store.lessons import (
    add_lesson,
    add_series,
    delete_series,
    get_lesson,
    get_newest_version,
    get_series,
    list_lessons,
    list_series,
    list_versions,
    rename_series,
    save_text,
    set_lesson_removed,
)
from fillwright.store.schema import teacher

TEXT = """number = {number}
title = "Lesson {number}"  # a comment of the teacher's

[[figure]]
name = "single paradiddle"
steps = ["last beat"]
"""


@pytest.fixture
def lesson(transactions):
    with transactions(write=True) as transaction:
        series = add_series(transaction, "Quiet fills")
        return add_lesson(transaction, series, TEXT.format(number=3))


@pytest.fixture
def stranger(store, clock):
    """Another teacher."""
    with store.begin_writing() as connection:
        return connection.execute(insert(teacher).values(name="", created=clock())).inserted_primary_key[0]


def test_the_text_is_kept_as_it_was_written(transactions, lesson):
    with transactions() as transaction:
        assert get_newest_version(transaction, lesson).text == TEXT.format(number=3)
        assert get_lesson(transaction, lesson).title == "Lesson 3"


def test_every_saved_version_is_kept(transactions, clock, lesson):
    changed = TEXT.format(number=4)
    clock.pass_days(1)
    with transactions(write=True) as transaction:
        assert save_text(transaction, lesson, changed)
        assert not save_text(transaction, lesson, changed)
    with transactions() as transaction:
        kept = list_versions(transaction, lesson)
        assert [one.text for one in kept] == [changed, TEXT.format(number=3)]
        assert (kept[0].saved - kept[1].saved).days == 1
        assert get_lesson(transaction, lesson).number == 4


def test_a_text_with_mistakes_changes_nothing(transactions, lesson):
    with pytest.raises(TableError, match="figure"), transactions(write=True) as transaction:
        save_text(transaction, lesson, "number = 1\ntitle = 'x'")
    with transactions() as transaction:
        assert len(list_versions(transaction, lesson)) == 1


def test_lessons_stand_in_the_order_of_their_numbers(transactions, lesson):
    with transactions(write=True) as transaction:
        series = get_lesson(transaction, lesson).series
        add_lesson(transaction, series, TEXT.format(number=1))
    with transactions() as transaction:
        assert [one.number for one in list_lessons(transaction, series)] == [1, 3]


def test_a_removed_lesson_can_be_restored(transactions, lesson):
    with transactions(write=True) as transaction:
        series = get_lesson(transaction, lesson).series
        set_lesson_removed(transaction, lesson, removed=True)
        assert list_lessons(transaction, series) == ()
        assert len(list_lessons(transaction, series, include_removed=True)) == 1
        set_lesson_removed(transaction, lesson, removed=False)
        assert len(list_lessons(transaction, series)) == 1


def test_two_series_can_not_have_one_title(transactions, lesson):
    with (
        pytest.raises(StoreError, match='already a series called "Quiet fills"'),
        transactions(write=True) as transaction,
    ):
        add_series(transaction, "Quiet fills")


def test_a_series_can_be_renamed(transactions, lesson):
    with transactions(write=True) as transaction:
        number = get_lesson(transaction, lesson).series
        rename_series(transaction, number, "Loud fills")
        rename_series(transaction, number, "Loud fills")
        other = add_series(transaction, "Other")
    with transactions(write=True) as transaction:
        assert [series.title for series in list_series(transaction)] == ["Loud fills", "Other"]
        with pytest.raises(StoreError, match='already a series called "Loud fills"'):
            rename_series(transaction, other, "Loud fills")
        assert get_series(transaction, other).title == "Other"


@pytest.mark.parametrize("title", ["", "x" * 81])
def test_a_title_of_the_wrong_length_is_refused(transactions, lesson, title):
    with transactions(write=True) as transaction:
        number = get_lesson(transaction, lesson).series
        for change in (add_series, lambda where, text: rename_series(where, number, text)):
            with pytest.raises(StoreError, match=f"has {len(title)} characters; write 1 to 80"):
                change(transaction, title)


def test_another_teachers_series_can_not_be_changed(transactions, lesson, stranger):
    with transactions() as transaction:
        number = get_lesson(transaction, lesson).series
    with transactions(write=True, of=stranger) as transaction:
        for change in (delete_series, lambda where, series: rename_series(where, series, "Mine")):
            with pytest.raises(NotThereError, match="no such series"):
                change(transaction, number)


def test_a_series_goes_with_its_lessons(transactions, lesson):
    with transactions(write=True) as transaction:
        delete_series(transaction, get_lesson(transaction, lesson).series)
    with transactions() as transaction, pytest.raises(NotThereError, match="no such lesson"):
        get_newest_version(transaction, lesson)


def remove_lesson(transaction, lesson):
    set_lesson_removed(transaction, lesson, removed=True)


@pytest.mark.parametrize("look", [get_lesson, get_newest_version, list_versions, remove_lesson])
def test_another_teachers_lesson_is_not_there(transactions, lesson, stranger, look):
    with transactions(write=True, of=stranger) as transaction:
        assert list_series(transaction) == ()
        with pytest.raises(NotThereError, match="no such lesson"):
            look(transaction, lesson)


def test_a_number_that_no_row_can_have_is_not_there(transactions):
    with transactions() as transaction, pytest.raises(NotThereError, match="no such lesson"):
        get_lesson(transaction, 2**63)
