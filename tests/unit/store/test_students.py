import csv
import io
import json
import zipfile
from datetime import date

import pytest
from sqlalchemy import func, select

from fillwright.errors import NotThereError, StoreError, TempoError, UnknownNameError
from fillwright.store.criteria import Criteria
from fillwright.store.export import export_student
from fillwright.store.lessons import add_lesson, add_series
from fillwright.store.practice_log import list_practice, log_practice
from fillwright.store.schema import account, assignment, passed, practice, student, take, take_media
from fillwright.store.settings import OwnItem, delete_own, save_own
from fillwright.store.students import (
    Profile,
    add_student,
    assign,
    change_student,
    delete_student,
    get_student,
    list_assignments,
    list_students,
    unassign,
)
from fillwright.store.takes import (
    Exercise,
    add_take,
    delete_take,
    get_recording,
    get_report,
    get_take,
    list_passes,
    list_takes,
    mark_passed,
)
from tests.unit.store.reports import GOOD, POOR

TEXT = """number = 1
title = "One"

[[figure]]
name = "single paradiddle"
steps = ["last beat"]
"""


@pytest.fixture
def both(transactions):
    """A student and a lesson."""
    with transactions(write=True) as transaction:
        return add_student(transaction, Profile(name="Pim")), add_lesson(
            transaction, add_series(transaction, "S"), TEXT
        )


def test_a_student_is_what_was_asked_and_nothing_more(transactions, both):
    with transactions() as transaction:
        assert get_student(transaction, both[0]).profile == Profile(name="Pim")


@pytest.mark.parametrize(
    ("wrong", "error", "words"),
    [
        ({"name": "  "}, StoreError, "1 to 80"),
        ({"name": "x" * 81}, StoreError, "81 characters"),
        ({"hand": "both"}, StoreError, "right or left"),
        ({"level": "wizard"}, UnknownNameError, "wizard"),
        ({"practises_on": "roof"}, StoreError, "practice pad"),
        ({"notes": "x" * 4001}, StoreError, "4,001"),
    ],
)
def test_what_can_not_be_stored_is_refused(wrong, error, words):
    with pytest.raises(error, match=words):
        Profile(**{"name": "Pim", **wrong})


def test_a_kit_must_be_ours_or_the_teachers_own(transactions, both):
    own = OwnItem(kind="kit", name="nook", text='[kits.nook]\nfrom = "four-piece"\n')
    for name in ("none", "nook"):
        with (
            transactions(write=True) as transaction,
            pytest.raises(UnknownNameError, match=f'no kit called "{name}"'),
        ):
            add_student(transaction, Profile(name="Mo", kit=name))
    with transactions(write=True) as transaction:
        save_own(transaction, own)
        add_student(transaction, Profile(name="Mo", kit="nook"))
        with pytest.raises(UnknownNameError, match='no kit called "none"'):
            change_student(transaction, both[0], Profile(name="Pim", kit="none"))


def test_a_student_keeps_a_kit_that_is_deleted(transactions, both):
    with transactions(write=True) as transaction:
        save_own(transaction, OwnItem(kind="kit", name="nook", text='[kits.nook]\nfrom = "four-piece"\n'))
        change_student(transaction, both[0], Profile(name="Pim", kit="nook"))
        delete_own(transaction, "kit", "nook")
        change_student(transaction, both[0], Profile(name="Pom", kit="nook"))
    with transactions() as transaction:
        assert get_student(transaction, both[0]).profile == Profile(name="Pom", kit="nook")


def test_a_student_can_be_changed(transactions, both):
    with transactions(write=True) as transaction:
        change_student(transaction, both[0], Profile(name="Pom", hand="left"))
    with transactions() as transaction:
        assert [one.profile.name for one in list_students(transaction)] == ["Pom"]


def test_assignments_come_and_go(transactions, both):
    number, lesson = both
    with transactions(write=True) as transaction:
        given = assign(transaction, number, lesson, due=date(2026, 4, 1))
    with transactions(write=True) as transaction:
        assert [one.due for one in list_assignments(transaction, number)] == [date(2026, 4, 1)]
        assert assign(transaction, number, lesson, due=date(2026, 5, 1)) == given
        assert [one.due for one in list_assignments(transaction, number)] == [date(2026, 5, 1)]
        unassign(transaction, number, given)
        assert list_assignments(transaction, number) == ()


def test_a_good_take_passes_and_a_poor_one_does_not(transactions, both):
    of = Exercise(student=both[0], lesson=both[1], fill="a-fill", tempo=70)
    with transactions(write=True) as transaction:
        poor = add_take(transaction, of, POOR, ("audio/wav", b"abc"), criteria=Criteria())
        assert list_passes(transaction, both[0]) == ()
        good = add_take(transaction, of, GOOD, ("audio/wav", b"def"), criteria=Criteria())
    with transactions() as transaction:
        assert [one.id for one in list_takes(transaction, both[0])] == [good, poor]
        assert get_take(transaction, good).passed
        assert get_recording(transaction, poor) == ("audio/wav", b"abc")
        assert [one.take for one in list_passes(transaction, both[0])] == [good]
        assert (get_report(transaction, poor), get_report(transaction, good)) == (POOR, GOOD)


def test_a_pass_outlives_its_take(transactions, both):
    of = Exercise(student=both[0], lesson=both[1], fill="a-fill", tempo=70)
    with transactions(write=True) as transaction:
        delete_take(transaction, add_take(transaction, of, GOOD, ("audio/wav", b""), criteria=Criteria()))
        assert [one.take for one in list_passes(transaction, both[0])] == [None]


def test_a_tempo_that_can_not_be_played_is_refused(transactions, both):
    with transactions(write=True) as transaction, pytest.raises(TempoError, match="4000"):
        mark_passed(transaction, Exercise(student=both[0], lesson=both[1], fill="a", tempo=4000))


@pytest.mark.parametrize("minutes", [0, -1, 1441, float("nan")])
def test_minutes_that_can_not_be_are_refused(transactions, both, minutes):
    with transactions(write=True) as transaction, pytest.raises(StoreError, match="can't be logged"):
        log_practice(transaction, both[0], minutes)


def test_a_deleted_student_leaves_nothing(transactions, both, store):
    number, lesson = both
    of = Exercise(student=number, lesson=lesson, fill="a", tempo=60)
    with transactions(write=True) as transaction:
        assign(transaction, number, lesson)
        add_take(transaction, of, GOOD, ("audio/wav", b"x"), criteria=Criteria())
        log_practice(transaction, number, 12)
        delete_student(transaction, number)
    with store.begin_reading() as connection:
        for table in (student, assignment, take, take_media, passed, practice, account):
            assert connection.execute(select(func.count()).select_from(table)).scalar_one() == 0, table.name


def test_a_record_can_be_taken_away_whole(transactions, both):
    number, lesson = both
    of = Exercise(student=number, lesson=lesson, fill="a-fill", tempo=60)
    with transactions(write=True) as transaction:
        assign(transaction, number, lesson)
        add_take(transaction, of, GOOD, ("audio/wav", b"sound"), criteria=Criteria())
        log_practice(transaction, number, 12, lesson=lesson, fill="a-fill", tempo=60)
        content = export_student(transaction, number)
        assert len(list_practice(transaction, number)) == 1
    with zipfile.ZipFile(io.BytesIO(content)) as archive:
        assert json.loads(archive.read("student.json"))["name"] == "Pim"
        rows = list(csv.DictReader(io.StringIO(archive.read("passed.csv").decode())))
        assert [(row["fill"], row["tempo"], row["by"]) for row in rows] == [("a-fill", "60", "take")]
        takes = [name for name in archive.namelist() if name.startswith("takes/")]
        assert {name.rsplit(".", 1)[1] for name in takes} == {"json", "wav"}
        assert archive.read(next(name for name in takes if name.endswith("wav"))) == b"sound"


def test_nobody_elses_student_is_there(transactions, both):
    with transactions(of=both[0] + 1000) as transaction, pytest.raises(NotThereError, match="no such student"):
        list_takes(transaction, both[0])
