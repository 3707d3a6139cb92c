import io
import json
import zipfile
from datetime import UTC, datetime

import pytest
from tests.unit.store.reports import GOOD

from fillwright.errors import StoreError
from fillwright.store.archive import LIST, back_up, restore
from fillwright.store.criteria import Criteria
from fillwright.store.database import open_store
from fillwright.store.desk import only_teacher, reading, writing
from fillwright.store.lessons import add_lesson, add_series, all_series, newest
from fillwright.store.settings import Own, keep_own, own_tables
from fillwright.store.students import Profile, add_student
from fillwright.store.takes import Of, add_take, recording_of

TEXT = 'number = 1\ntitle = "Ünö"\n\n[[figure]]\nname = "single paradiddle"\nsteps = ["last beat"]\n'
NOW = datetime(2026, 3, 2, tzinfo=UTC)


@pytest.fixture
def full(desks):
    with desks(write=True) as desk:
        lesson = add_lesson(desk, add_series(desk, "S"), TEXT)
        of = Of(student=add_student(desk, Profile(name="Pim")), lesson=lesson, fill="a", tempo=60)
        take = add_take(desk, of, GOOD, ("audio/wav", bytes(range(256))), criteria=Criteria())
        keep_own(desk, Own(kind="kit", name="nook", text='[kits.nook]\nfrom = "four-piece"\n'))
    return lesson, take


def backup_of(store):
    file = io.BytesIO()
    counted = back_up(store, file, now=NOW)
    file.seek(0)
    return file, counted


def test_a_backup_of_either_goes_into_sqlite(store, full, tmp_path):
    file, counted = backup_of(store)
    other = open_store(tmp_path / "other.db")
    assert restore(other, file) == counted
    with reading(other, only_teacher(other)) as desk:
        assert newest(desk, full[0]).text == TEXT
        assert recording_of(desk, full[1]) == ("audio/wav", bytes(range(256)))
        assert [kit.name for kit in own_tables(desk).kits] == ["nook"]
    other.close()


def test_a_backup_of_sqlite_goes_into_either_and_counting_goes_on(store, full, tmp_path):
    file, _ = backup_of(store)
    assert restore(store, file, replace=True).rows["take"] == 1
    with writing(store, only_teacher(store)) as desk:
        assert add_series(desk, "another") > 1
        assert len(all_series(desk)) == 2


def test_a_store_that_is_not_empty_is_not_overwritten(store, full):
    file, _ = backup_of(store)
    with pytest.raises(StoreError, match="not empty"):
        restore(store, file)


def changed(file, name, content):
    made = io.BytesIO()
    with zipfile.ZipFile(file) as old, zipfile.ZipFile(made, "w") as new:
        for each in old.namelist():
            new.writestr(each, content if each == name else old.read(each))
    made.seek(0)
    return made


@pytest.mark.parametrize("name", ["student.jsonl", "take_media.jsonl"])
def test_a_backup_that_was_changed_is_refused_before_anything_is_written(store, full, tmp_path, name):
    file, _ = backup_of(store)
    other = open_store(tmp_path / "other.db")
    with pytest.raises(StoreError, match=f"{name} in the backup is missing or damaged"):
        restore(other, changed(file, name, b"{}\n"))
    with other.reading() as connection:
        assert connection.exec_driver_sql("SELECT count(*) FROM teacher").scalar() == 0
    other.close()


def test_what_is_no_backup_is_said(store):
    with pytest.raises(StoreError, match="no backup"):
        restore(store, io.BytesIO(b"nothing of the kind"))


def test_a_backup_that_broke_off_is_said(store, full):
    file, _ = backup_of(store)
    with pytest.raises(StoreError, match="no backup"):
        restore(store, io.BytesIO(file.getvalue()[:-200]))


def test_a_backup_of_another_version_is_said(store, full, tmp_path):
    file, _ = backup_of(store)
    about = json.loads(zipfile.ZipFile(file).read(LIST))
    about["revision"] = "9999"
    other = open_store(tmp_path / "other.db")
    with pytest.raises(StoreError, match="version 9999"):
        restore(other, changed(file, LIST, json.dumps(about)))
    other.close()
