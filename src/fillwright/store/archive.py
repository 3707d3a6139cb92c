"""Backup and restore: every table as lines of JSON in one zip, each file checked by its hash.

A backup sees one state of the store, so it is safe while the app runs. It can be restored into SQLite and
PostgreSQL alike.
"""

from __future__ import annotations

import base64
import hashlib
import io
import json
import tempfile
import zipfile
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path
from typing import IO, Any

from alembic.migration import MigrationContext
from sqlalchemy import Connection, Integer, LargeBinary, Table, func, insert, select, text

from fillwright.atomic import write_whole
from fillwright.errors import StoreError
from fillwright.store.database import Store
from fillwright.store.desk import wall_clock
from fillwright.store.schema import Moment, metadata

LIST = "backup.json"
_FORMAT = 1
_BATCH = 200


@dataclass(frozen=True, slots=True, kw_only=True)
class Counted:
    """How many rows of each table a backup holds."""

    rows: Mapping[str, int]

    @property
    def total(self) -> int:
        """Rows of all tables."""
        return sum(self.rows.values())


def write_backup(store: Store, path: Path) -> Counted:
    """Back a store up into a file, which is written whole or not at all.

    Raises:
        OutputError: where it can't be written.
    """
    with tempfile.TemporaryFile() as file:
        counted = back_up(store, file, now=wall_clock())
        file.seek(0)
        write_whole(path, file.read())
    return counted


def check_backup(path: Path) -> None:
    """Look at every file of a backup.

    Raises:
        StoreError: where it can't be read, is none, or is damaged.
    """
    with _opened(path) as file, _archive(file) as archive:
        _checked(archive)


def read_backup(store: Store, path: Path, *, replace: bool) -> Counted:
    """Restore a store from a file, as `restore` does.

    Raises:
        StoreError: where the file can't be read, and as `restore`.
    """
    with _opened(path) as file:
        return restore(store, file, replace=replace)


@contextmanager
def _opened(path: Path) -> Iterator[IO[bytes]]:
    try:
        with path.open("rb") as file:
            yield file
    except OSError as error:
        reason = (error.strerror or str(error)).lower()
        raise StoreError(f'"{path}" can\'t be read: {reason}.') from error


@contextmanager
def _archive(file: IO[bytes]) -> Iterator[zipfile.ZipFile]:
    try:
        with zipfile.ZipFile(file) as archive:
            yield archive
    except (zipfile.BadZipFile, EOFError) as error:
        raise StoreError("The file is no backup, or it was broken off; nothing was restored.") from error


def back_up(store: Store, file: IO[bytes], *, now: datetime) -> Counted:
    """Write everything in a store into a zip.

    Args:
        store: to back up; others may go on using it.
        file: open for writing.
        now: this moment, kept in the backup.
    """
    counts: dict[str, int] = {}
    hashes: dict[str, str] = {}
    with store.snapshot() as connection, zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as archive:
        for table in metadata.sorted_tables:
            name = f"{table.name}.jsonl"
            digest = hashlib.sha256()
            count = 0
            with archive.open(name, "w", force_zip64=True) as part:
                for line in _lines(connection, table):
                    part.write(line)
                    digest.update(line)
                    count += 1
            counts[table.name] = count
            hashes[name] = digest.hexdigest()
        about = {
            "format": _FORMAT,
            "made": now.isoformat(),
            "revision": _revision(connection),
            "rows": counts,
            "sha256": hashes,
        }
        archive.writestr(LIST, json.dumps(about, indent=1))
    return Counted(rows=counts)


def restore(store: Store, file: IO[bytes], *, replace: bool = False) -> Counted:
    """Put a backup into a store, all of it or nothing.

    Every hash is checked before anything is written.

    Args:
        store: to fill; it must be empty unless `replace`.
        file: the backup, open for reading.
        replace: whether what is in the store is deleted first.

    Raises:
        StoreError: for what is no backup, a damaged one, one of another version, or a store that is not empty.
    """
    with _archive(file) as archive:
        about = _checked(archive)
        with store.writing() as connection:
            _check_place(connection, about, replace=replace)
            for table in metadata.sorted_tables:
                _fill(connection, table, archive)
            if not store.on_sqlite:
                _count_on(connection)
    return Counted(rows=about["rows"])


def _lines(connection: Connection, table: Table) -> Iterator[bytes]:
    order = list(table.primary_key.columns)
    for row in connection.execute(select(table).order_by(*order)).yield_per(_BATCH):
        values = {name: _written(value) for name, value in row._mapping.items()}
        yield json.dumps(values, ensure_ascii=False).encode("utf-8") + b"\n"


def _written(value: Any) -> Any:
    if isinstance(value, bytes | memoryview):
        return base64.b64encode(bytes(value)).decode("ascii")
    return value.isoformat() if isinstance(value, date) else value


def _checked(archive: zipfile.ZipFile) -> dict[str, Any]:
    """The list of a backup, every file of it checked.

    Raises:
        StoreError: for what is missing or was changed.
    """
    try:
        about: dict[str, Any] = json.loads(archive.read(LIST))
        listed = about["sha256"]
        known = about["format"] == _FORMAT
    except (KeyError, ValueError, TypeError) as error:
        raise StoreError(f"The file is no backup: it has no readable {LIST}; nothing was restored.") from error
    if not known:
        raise StoreError("The backup was made by a newer Fillwright; update this one and restore it again.")
    for name in (f"{table.name}.jsonl" for table in metadata.sorted_tables):
        if listed.get(name) != _hash(archive, name):
            raise StoreError(f"{name} in the backup is missing or damaged; nothing was restored.")
    return about


def _hash(archive: zipfile.ZipFile, name: str) -> str:
    try:
        with archive.open(name) as part:
            return hashlib.file_digest(part, "sha256").hexdigest()  # type: ignore[arg-type]
    except KeyError:
        return ""


def _check_place(connection: Connection, about: Mapping[str, Any], *, replace: bool) -> None:
    here = _revision(connection)
    if about["revision"] != here:
        raise StoreError(
            f"The backup has tables of version {about['revision']}, this store of version {here}; restore it "
            "with the Fillwright that made it, then update."
        )
    if replace:
        for table in reversed(metadata.sorted_tables):
            connection.execute(table.delete())
        return
    kept = sum(
        connection.execute(select(func.count()).select_from(t)).scalar_one() for t in metadata.sorted_tables
    )
    if kept:
        raise StoreError(
            "The store is not empty; restore into a new one, or say that this one is to be replaced."
        )


def _fill(connection: Connection, table: Table, archive: zipfile.ZipFile) -> None:
    batch: list[dict[str, Any]] = []
    with archive.open(f"{table.name}.jsonl") as part:
        for line in io.TextIOWrapper(part, "utf-8"):
            values = json.loads(line)
            batch.append({column.name: _read(column.type, values[column.name]) for column in table.columns})
            if len(batch) == _BATCH:
                connection.execute(insert(table), batch)
                batch = []
    if batch:
        connection.execute(insert(table), batch)


def _read(kind: Any, value: Any) -> Any:
    if value is None:
        return None
    if isinstance(kind, LargeBinary):
        return base64.b64decode(value)
    if isinstance(kind, Moment):
        return datetime.fromisoformat(value)
    return date.fromisoformat(value) if kind.python_type is date else value


def _count_on(connection: Connection) -> None:
    """Let PostgreSQL's counters go on behind the highest number restored."""
    for table in metadata.sorted_tables:
        key = list(table.primary_key.columns)
        if len(key) == 1 and isinstance(key[0].type, Integer) and key[0].name == "id":
            highest = select(func.coalesce(func.max(key[0]), 0) + 1)
            connection.execute(
                text("SELECT setval(pg_get_serial_sequence(:name, 'id'), :next, false)"),
                {"name": table.name, "next": connection.execute(highest).scalar_one()},
            )


def _revision(connection: Connection) -> str:
    return MigrationContext.configure(connection).get_current_revision() or ""
