"""A full disk and a damaged file: one sentence without anybody's data."""

import gzip
from pathlib import Path
from random import Random

import pytest
from sqlalchemy import event, text

from fillwright.errors import FillwrightError, StoreError
from fillwright.store.archive import write_backup_file
from fillwright.store.database import open_store
from fillwright.store.lessons import add_series, list_series
from fillwright.store.students import Profile, add_student, list_students
from fillwright.store.transaction import begin_reading, begin_writing, ensure_teacher

OLD = Path(__file__).parents[3] / "golden" / "backups" / "studio-1.db.gz"
PRIVATE = ("Pim", "Quinn", "ghost notes", "earplugs")


def test_a_full_disk_is_one_sentence_and_nothing_is_lost(tmp_path):
    store = open_store(tmp_path / "studio.db")
    teacher = ensure_teacher(store)
    with begin_writing(store, teacher) as transaction:
        add_series(transaction, "kept")

    @event.listens_for(store.engine, "begin")
    def _limit(connection):
        pages = connection.exec_driver_sql("PRAGMA page_count").scalar()
        connection.exec_driver_sql(f"PRAGMA max_page_count = {pages}")

    def fill():
        with begin_writing(store, teacher) as transaction:
            for number in range(2_000):
                add_student(transaction, Profile(name=f"secret {number}", notes="private " * 400))

    with pytest.raises(StoreError, match=r"can't be written, because the disk is full\.$") as refused:
        fill()
    assert "private" not in str(refused.value)
    with begin_reading(store, teacher) as transaction:
        assert [series.title for series in list_series(transaction)] == ["kept"]
        assert list_students(transaction) == ()
    store.close()


def test_a_server_that_ends_a_connection_is_one_sentence(postgres_url):
    store = open_store(postgres_url)

    def end_own_connection():
        with store.begin_reading() as connection:
            connection.execute(text("SELECT pg_terminate_backend(pg_backend_pid())"))

    with pytest.raises(StoreError, match="can't be used"):
        end_own_connection()
    with store.begin_writing() as connection:
        connection.execute(text("DROP SCHEMA public CASCADE"))
        connection.execute(text("CREATE SCHEMA public"))
    store.close()


@pytest.mark.parametrize("content", [b"", b"SQLite format 3\0", b"SQLite format 3\0" + b"\xff" * 5_000])
def test_an_empty_file_is_a_new_store_and_a_broken_one_is_refused(tmp_path, content):
    path = tmp_path / "studio.db"
    path.write_bytes(content)
    if not content:
        open_store(path).close()
        return
    with pytest.raises(StoreError, match=r"is damaged or is not a store of Fillwright; [a-z ]+\.$"):
        open_store(path)
    assert path.exists()


def test_a_folder_in_the_place_of_the_store_is_refused(tmp_path):
    (tmp_path / "studio.db").mkdir()
    with pytest.raises(StoreError, match="can't be"):
        open_store(tmp_path / "studio.db")


def test_a_damaged_store_is_backed_up_whole_or_refused(tmp_path):
    content = gzip.decompress(OLD.read_bytes())
    random = Random(12)
    refused = 0
    for number in range(60):
        damaged = bytearray(content)
        if number % 2:
            damaged[random.randrange(100, len(damaged))] ^= 1 << random.randrange(8)
        else:
            start = random.randrange(len(damaged) - 500)
            damaged[start : start + 500] = random.randbytes(500)
        folder = tmp_path / str(number)
        folder.mkdir()
        (folder / "studio.db").write_bytes(damaged)
        sentence = ""
        try:
            store = open_store(folder / "studio.db")
            try:
                write_backup_file(store, folder / "all.zip")
            finally:
                store.close()
        except FillwrightError as error:
            sentence = str(error)
        refused += bool(sentence)
        assert "\n" not in sentence
        assert not [word for word in PRIVATE if word in sentence], sentence
        assert bool(sentence) != (folder / "all.zip").exists()
    assert refused > 10
