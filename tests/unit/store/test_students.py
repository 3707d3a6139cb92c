import csv
import io
import json
import zipfile
from datetime import date

import pytest
from sqlalchemy import func, select
from tests.unit.store.reports import GOOD, POOR

from fillwright.errors import NotThereError, StoreError, TempoError, UnknownNameError
from fillwright.store.criteria import Criteria
from fillwright.store.export import export_student
from fillwright.store.lessons import add_lesson, add_series
from fillwright.store.practice_log import log_practice, practice_of
from fillwright.store.schema import account, assignment, passed, practice, student, take, take_media
from fillwright.store.settings import Own, forget_own, keep_own
from fillwright.store.students import (
    Profile,
    add_student,
    all_students,
    assign,
    assignments,
    change_student,
    delete_student,
    one_student,
    take_back,
)
from fillwright.store.takes import (
    Of,
    add_take,
    delete_take,
    one_take,
    passes_of,
    recording_of,
    report_of,
    say_passed,
    takes_of,
)

TEXT = """number = 1
title = "One"

[[figure]]
name = "single paradiddle"
steps = ["last beat"]
"""


@pytest.fixture
def both(desks):
    """A student and a lesson."""
    with desks(write=True) as desk:
        return add_student(desk, Profile(name="Pim")), add_lesson(desk, add_series(desk, "S"), TEXT)


def test_a_student_is_what_was_asked_and_nothing_more(desks, both):
    with desks() as desk:
        assert one_student(desk, both[0]).profile == Profile(name="Pim")


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
def test_what_can_not_be_kept_is_said(wrong, error, words):
    with pytest.raises(error, match=words):
        Profile(**{"name": "Pim", **wrong})


def test_a_kit_must_be_ours_or_the_teachers_own(desks, both):
    own = Own(kind="kit", name="nook", text='[kits.nook]\nfrom = "four-piece"\n')
    for name in ("none", "nook"):
        with desks(write=True) as desk, pytest.raises(UnknownNameError, match=f'no kit called "{name}"'):
            add_student(desk, Profile(name="Mo", kit=name))
    with desks(write=True) as desk:
        keep_own(desk, own)
        add_student(desk, Profile(name="Mo", kit="nook"))
        with pytest.raises(UnknownNameError, match='no kit called "none"'):
            change_student(desk, both[0], Profile(name="Pim", kit="none"))


def test_a_student_keeps_a_kit_that_is_forgotten(desks, both):
    with desks(write=True) as desk:
        keep_own(desk, Own(kind="kit", name="nook", text='[kits.nook]\nfrom = "four-piece"\n'))
        change_student(desk, both[0], Profile(name="Pim", kit="nook"))
        forget_own(desk, "kit", "nook")
        change_student(desk, both[0], Profile(name="Pom", kit="nook"))
    with desks() as desk:
        assert one_student(desk, both[0]).profile == Profile(name="Pom", kit="nook")


def test_a_student_can_be_changed(desks, both):
    with desks(write=True) as desk:
        change_student(desk, both[0], Profile(name="Pom", hand="left"))
    with desks() as desk:
        assert [one.profile.name for one in all_students(desk)] == ["Pom"]


def test_assignments_come_and_go(desks, both):
    number, lesson = both
    with desks(write=True) as desk:
        given = assign(desk, number, lesson, due=date(2026, 4, 1))
    with desks(write=True) as desk:
        assert [one.due for one in assignments(desk, number)] == [date(2026, 4, 1)]
        assert assign(desk, number, lesson, due=date(2026, 5, 1)) == given
        assert [one.due for one in assignments(desk, number)] == [date(2026, 5, 1)]
        take_back(desk, number, given)
        assert assignments(desk, number) == ()


def test_a_good_take_passes_and_a_poor_one_does_not(desks, both):
    of = Of(student=both[0], lesson=both[1], fill="a-fill", tempo=70)
    with desks(write=True) as desk:
        poor = add_take(desk, of, POOR, ("audio/wav", b"abc"), criteria=Criteria())
        assert passes_of(desk, both[0]) == ()
        good = add_take(desk, of, GOOD, ("audio/wav", b"def"), criteria=Criteria())
    with desks() as desk:
        assert [one.id for one in takes_of(desk, both[0])] == [good, poor]
        assert one_take(desk, good).passed
        assert recording_of(desk, poor) == ("audio/wav", b"abc")
        assert [one.take for one in passes_of(desk, both[0])] == [good]
        assert (report_of(desk, poor), report_of(desk, good)) == (POOR, GOOD)


def test_a_pass_outlives_its_take(desks, both):
    of = Of(student=both[0], lesson=both[1], fill="a-fill", tempo=70)
    with desks(write=True) as desk:
        delete_take(desk, add_take(desk, of, GOOD, ("audio/wav", b""), criteria=Criteria()))
        assert [one.take for one in passes_of(desk, both[0])] == [None]


def test_a_tempo_that_can_not_be_played_is_refused(desks, both):
    with desks(write=True) as desk, pytest.raises(TempoError, match="4000"):
        say_passed(desk, Of(student=both[0], lesson=both[1], fill="a", tempo=4000))


@pytest.mark.parametrize("minutes", [0, -1, 1441, float("nan")])
def test_minutes_that_can_not_be_are_refused(desks, both, minutes):
    with desks(write=True) as desk, pytest.raises(StoreError, match="can't be kept"):
        log_practice(desk, both[0], minutes)


def test_a_deleted_student_leaves_nothing(desks, both, store):
    number, lesson = both
    of = Of(student=number, lesson=lesson, fill="a", tempo=60)
    with desks(write=True) as desk:
        assign(desk, number, lesson)
        add_take(desk, of, GOOD, ("audio/wav", b"x"), criteria=Criteria())
        log_practice(desk, number, 12)
        delete_student(desk, number)
    with store.reading() as connection:
        for table in (student, assignment, take, take_media, passed, practice, account):
            assert connection.execute(select(func.count()).select_from(table)).scalar_one() == 0, table.name


def test_a_record_can_be_taken_away_whole(desks, both):
    number, lesson = both
    of = Of(student=number, lesson=lesson, fill="a-fill", tempo=60)
    with desks(write=True) as desk:
        assign(desk, number, lesson)
        add_take(desk, of, GOOD, ("audio/wav", b"sound"), criteria=Criteria())
        log_practice(desk, number, 12, lesson=lesson, fill="a-fill", tempo=60)
        content = export_student(desk, number)
        assert len(practice_of(desk, number)) == 1
    with zipfile.ZipFile(io.BytesIO(content)) as archive:
        assert json.loads(archive.read("student.json"))["name"] == "Pim"
        rows = list(csv.DictReader(io.StringIO(archive.read("passed.csv").decode())))
        assert [(row["fill"], row["tempo"], row["by"]) for row in rows] == [("a-fill", "60", "take")]
        takes = [name for name in archive.namelist() if name.startswith("takes/")]
        assert {name.rsplit(".", 1)[1] for name in takes} == {"json", "wav"}
        assert archive.read(next(name for name in takes if name.endswith("wav"))) == b"sound"


def test_nobody_elses_student_is_there(desks, both):
    with desks(of=both[0] + 1000) as desk, pytest.raises(NotThereError, match="no such student"):
        takes_of(desk, both[0])
