import io
import json
import zipfile
from datetime import UTC, datetime

import pytest

from fillwright.errors import StoreError
from fillwright.store.archive import MANIFEST, restore_backup, write_backup
from fillwright.store.criteria import Criteria
from fillwright.store.database import open_store
from fillwright.store.lessons import add_lesson, add_series, get_newest_version, list_series
from fillwright.store.settings import OwnItem, read_own_tables, save_own
from fillwright.store.students import Profile, add_student
from fillwright.store.takes import Exercise, add_take, get_recording
from fillwright.store.transaction import begin_reading, begin_writing, ensure_teacher
from tests.unit.store.reports import GOOD

TEXT = 'number = 1\ntitle = "Ünö"\n\n[[figure]]\nname = "single paradiddle"\nsteps = ["last beat"]\n'
NOW = datetime(2026, 3, 2, tzinfo=UTC)


@pytest.fixture
def full(transactions):
    with transactions(write=True) as transaction:
        lesson = add_lesson(transaction, add_series(transaction, "S"), TEXT)
        of = Exercise(student=add_student(transaction, Profile(name="Pim")), lesson=lesson, fill="a", tempo=60)
        take = add_take(transaction, of, GOOD, ("audio/wav", bytes(range(256))), criteria=Criteria())
        save_own(transaction, OwnItem(kind="kit", name="nook", text='[kits.nook]\nfrom = "four-piece"\n'))
    return lesson, take


def backup_of(store):
    file = io.BytesIO()
    counted = write_backup(store, file, now=NOW)
    file.seek(0)
    return file, counted


def test_a_backup_of_either_goes_into_sqlite(store, full, tmp_path):
    file, counted = backup_of(store)
    other = open_store(tmp_path / "other.db")
    assert restore_backup(other, file) == counted
    with begin_reading(other, ensure_teacher(other)) as transaction:
        assert get_newest_version(transaction, full[0]).text == TEXT
        assert get_recording(transaction, full[1]) == ("audio/wav", bytes(range(256)))
        assert [kit.name for kit in read_own_tables(transaction).kits] == ["nook"]
    other.close()


def test_a_backup_of_sqlite_goes_into_either_and_counting_goes_on(store, full, tmp_path):
    file, _ = backup_of(store)
    assert restore_backup(store, file, replace=True).rows["take"] == 1
    with begin_writing(store, ensure_teacher(store)) as transaction:
        assert add_series(transaction, "another") > 1
        assert len(list_series(transaction)) == 2


def test_a_store_that_is_not_empty_is_not_overwritten(store, full):
    file, _ = backup_of(store)
    with pytest.raises(StoreError, match="not empty"):
        restore_backup(store, file)


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
    with pytest.raises(StoreError, match=f"{name} in the backup is damaged: row 1 can't be read"):
        restore_backup(other, changed(file, name, b"{}\n"))
    with other.begin_reading() as connection:
        assert connection.exec_driver_sql("SELECT count(*) FROM teacher").scalar() == 0
    other.close()


def test_what_is_no_backup_is_said(store):
    with pytest.raises(StoreError, match="not a backup"):
        restore_backup(store, io.BytesIO(b"nothing of the kind"))


def test_a_backup_that_broke_off_is_said(store, full):
    file, _ = backup_of(store)
    with pytest.raises(StoreError, match="not a backup"):
        restore_backup(store, io.BytesIO(file.getvalue()[:-200]))


def test_a_backup_of_another_version_is_said(store, full, tmp_path):
    file, _ = backup_of(store)
    about = json.loads(zipfile.ZipFile(file).read(MANIFEST))
    about["revision"] = "9999"
    other = open_store(tmp_path / "other.db")
    with pytest.raises(StoreError, match="version 9999"):
        restore_backup(other, changed(file, MANIFEST, json.dumps(about)))
    other.close()
