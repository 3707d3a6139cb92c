"""Restore a backup into a store, all of it or nothing, in batches of rows."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import IO

from sqlalchemy import Connection, Integer, Table, func, insert, select, text
from sqlalchemy.exc import DataError, IntegrityError, StatementError

from fillwright.errors import StoreError
from fillwright.store.archive.contents import RowCounts
from fillwright.store.archive.reading import Backup, open_backup, open_backup_file
from fillwright.store.archive.rows import Row, list_tables
from fillwright.store.database import Store

_BATCH_ROWS = 200
"""Rows that are written at a time. Ours."""

_BATCH_CHARACTERS = 1_000_000
"""Characters and bytes of the rows that are written at a time; one row may have more. Ours."""


def restore_backup_file(store: Store, path: Path, *, replace: bool) -> RowCounts:
    """Restore a store from a file, as `restore_backup` does. A store that was made for it goes after an error.

    Raises:
        StoreError: where the file can't be read, and as `restore_backup`.
    """
    try:
        with open_backup_file(path) as file:
            return restore_backup(store, file, replace=replace)
    except BaseException:
        store.discard()
        raise


def restore_backup(store: Store, file: IO[bytes], *, replace: bool = False) -> RowCounts:
    """Restore a backup into a store, all of it or nothing.

    Every row and hash is checked before the transaction ends.

    Args:
        store: to fill; it must be empty unless `replace`.
        file: the backup, open for reading.
        replace: True to delete everything in the store first.

    Raises:
        StoreError: for a file that is not a backup, a damaged one, one of another version, or a store that is
            not empty.
    """
    with open_backup(file) as backup, store.begin_writing() as connection:
        _empty_store(connection, replace=replace)
        for table in list_tables():
            _insert_rows(connection, table, backup)
        if not store.on_sqlite:
            _advance_sequences(connection)
        return backup.counts


def _empty_store(connection: Connection, *, replace: bool) -> None:
    if replace:
        for table in reversed(list_tables()):
            connection.execute(table.delete())
        return
    if any(connection.execute(select(func.count()).select_from(table)).scalar_one() for table in list_tables()):
        raise StoreError("The store is not empty. Restore into a new folder, or add --replace to overwrite it.")


def _insert_rows(connection: Connection, table: Table, backup: Backup) -> None:
    for batch in _collect_batches(backup.read_rows(table)):
        try:
            connection.execute(insert(table), batch)
            batch.clear()  # before the next one is read
        except (IntegrityError, DataError) as error:
            raise _make_misfit(table) from error
        except StatementError as error:
            if error.orig is None or isinstance(error.orig, ValueError | TypeError | OverflowError):
                raise _make_misfit(table) from error  # a value that the driver refuses
            raise


def _make_misfit(table: Table) -> StoreError:
    """Return an error that quotes no data, as the database's own would."""
    return StoreError(
        f"The backup is damaged: rows of {table.name} don't fit the others. Nothing was restored."
    )


def _collect_batches(rows: Iterator[Row]) -> Iterator[list[Row]]:
    """Yield rows in batches, limited by number and by size."""
    batch: list[Row] = []
    size = 0
    for row in rows:
        batch.append(row)
        size += sum(_measure(value) for value in row.values())
        del row
        if len(batch) == _BATCH_ROWS or size > _BATCH_CHARACTERS:
            yield batch
            batch, size = [], 0
    if batch:
        yield batch


def _measure(value: object) -> int:
    """Return the length of a value: a text or a recording by its own, a report by a guess that is high."""
    if isinstance(value, str | bytes):
        return len(value)
    return _BATCH_CHARACTERS // 10 if isinstance(value, dict | list) else 1


def _advance_sequences(connection: Connection) -> None:
    """Advance PostgreSQL's sequences to the highest restored number."""
    for table in list_tables():
        key = list(table.primary_key.columns)
        if len(key) == 1 and isinstance(key[0].type, Integer) and key[0].name == "id":
            highest = select(func.coalesce(func.max(key[0]), 0) + 1)
            connection.execute(
                text("SELECT setval(pg_get_serial_sequence(:name, 'id'), :next, false)"),
                {"name": table.name, "next": connection.execute(highest).scalar_one()},
            )
