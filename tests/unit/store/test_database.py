import sqlite3

import pytest
from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext
from sqlalchemy import text

from fillwright.errors import StoreError
from fillwright.store.database import open_store
from fillwright.store.lessons import add_series, list_series
from fillwright.store.schema import metadata


def test_the_migrations_make_the_tables_of_the_schema(store):
    with store.begin_reading() as connection:
        assert compare_metadata(MigrationContext.configure(connection), metadata) == []


def test_opening_twice_changes_nothing(where):
    for _ in range(2):
        opened = open_store(where)
        with opened.begin_reading() as connection:
            assert connection.execute(text("SELECT version_num FROM alembic_version")).scalar_one()
        opened.close()


def test_a_transaction_that_fails_leaves_nothing(transactions):
    def add_and_stop():
        with transactions(write=True) as transaction:
            add_series(transaction, "lost")
            raise RuntimeError("stop")

    with pytest.raises(RuntimeError, match="stop"):
        add_and_stop()
    with transactions() as transaction:
        assert list_series(transaction) == ()


def test_a_store_of_a_newer_program_is_left_alone(store, where):
    with store.begin_writing() as connection:
        connection.execute(text("UPDATE alembic_version SET version_num = '9999'"))
    with pytest.raises(StoreError, match="newer version of Fillwright"):
        open_store(where)


def test_a_file_that_is_no_store_is_said_and_left(tmp_path):
    path = tmp_path / "studio.db"
    path.write_bytes(b"not a database at all, but long enough to look at" * 30)
    with pytest.raises(StoreError, match="is damaged or is not a store"):
        open_store(path)
    assert path.read_bytes().startswith(b"not a database")


@pytest.mark.parametrize(
    ("url", "words"),
    [
        ("mysql://x/y", "does not support mysql"),
        ("postgresql://nobody@127.0.0.1:1/none", "can't be opened"),
        ("://", "can't be read"),
    ],
)
def test_a_wrong_place_is_refused(url, words):
    with pytest.raises(StoreError, match=words):
        open_store(url)


def test_sqlite_keeps_a_journal_that_readers_do_not_wait_for(tmp_path):
    open_store(tmp_path / "a.db").close()
    with sqlite3.connect(tmp_path / "a.db") as raw:
        assert raw.execute("PRAGMA journal_mode").fetchone() == ("wal",)
