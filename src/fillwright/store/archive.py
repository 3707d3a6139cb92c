"""Backup and restore: every table as lines of JSON in one zip, each file checked by its hash.

A backup sees one state of the store, so it is safe while the studio is open. It can be restored into SQLite and
PostgreSQL alike. It has every teacher's data, so these functions take the store, not a teacher's transaction.
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

from fillwright.atomic import write_file
from fillwright.errors import StoreError
from fillwright.store.database import Store
from fillwright.store.schema import UtcDateTime, metadata
from fillwright.store.transaction import read_clock

MANIFEST = "backup.json"
"""File in a backup that lists the others, with rows and hashes."""

_FORMAT = 1
"""Version of the format of backups."""

_BATCH_ROWS = 200
"""Rows that are read or written at a time. Ours."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RowCounts:
    """Number of rows of each table in a backup."""

    rows: Mapping[str, int]

    @property
    def total(self) -> int:
        """Number of rows of all tables."""
        return sum(self.rows.values())


def write_backup_file(store: Store, path: Path) -> RowCounts:
    """Write a backup of a store into a file, which is written completely or not at all.

    Raises:
        OutputError: if it can't be written.
    """
    with tempfile.TemporaryFile() as file:
        counted = write_backup(store, file, now=read_clock())
        file.seek(0)
        write_file(path, file.read())
    return counted


def check_backup(path: Path) -> None:
    """Check every file of a backup.

    Raises:
        StoreError: if it can't be read, is not a backup, or is damaged.
    """
    with _open_file(path) as file, _open_zip(file) as archive:
        _check_files(archive)


def restore_backup_file(store: Store, path: Path, *, replace: bool) -> RowCounts:
    """Restore a store from a file, as `restore_backup` does.

    Raises:
        StoreError: where the file can't be read, and as `restore_backup`.
    """
    with _open_file(path) as file:
        return restore_backup(store, file, replace=replace)


@contextmanager
def _open_file(path: Path) -> Iterator[IO[bytes]]:
    try:
        with path.open("rb") as file:
            yield file
    except OSError as error:
        reason = (error.strerror or str(error)).lower()
        raise StoreError(f'"{path}" can\'t be read: {reason}.') from error


@contextmanager
def _open_zip(file: IO[bytes]) -> Iterator[zipfile.ZipFile]:
    try:
        with zipfile.ZipFile(file) as archive:
            yield archive
    except (zipfile.BadZipFile, EOFError) as error:
        raise StoreError("The file is not a backup, or it is incomplete. Nothing was restored.") from error


def write_backup(store: Store, file: IO[bytes], *, now: datetime) -> RowCounts:
    """Write everything in a store into a zip.

    Args:
        store: to back up; others can use it meanwhile.
        file: open for writing.
        now: current time, noted in the backup.
    """
    counts: dict[str, int] = {}
    hashes: dict[str, str] = {}
    with store.begin_snapshot() as connection, zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as archive:
        for table in metadata.sorted_tables:
            name = f"{table.name}.jsonl"
            digest = hashlib.sha256()
            count = 0
            with archive.open(name, "w", force_zip64=True) as part:
                for line in _encode_rows(connection, table):
                    part.write(line)
                    digest.update(line)
                    count += 1
            counts[table.name] = count
            hashes[name] = digest.hexdigest()
        about = {
            "format": _FORMAT,
            "made": now.isoformat(),
            "revision": _read_revision(connection),
            "rows": counts,
            "sha256": hashes,
        }
        archive.writestr(MANIFEST, json.dumps(about, indent=1))
    return RowCounts(rows=counts)


def restore_backup(store: Store, file: IO[bytes], *, replace: bool = False) -> RowCounts:
    """Restore a backup into a store, all of it or nothing.

    Every hash is checked before anything is written.

    Args:
        store: to fill; it must be empty unless `replace`.
        file: the backup, open for reading.
        replace: True to delete everything in the store first.

    Raises:
        StoreError: for a file that is not a backup, a damaged one, one of another version, or a store that is
            not empty.
    """
    with _open_zip(file) as archive:
        about = _check_files(archive)
        with store.begin_writing() as connection:
            _check_target(connection, about, replace=replace)
            for table in metadata.sorted_tables:
                _insert_rows(connection, table, archive)
            if not store.on_sqlite:
                _advance_sequences(connection)
    return RowCounts(rows=about["rows"])


def _encode_rows(connection: Connection, table: Table) -> Iterator[bytes]:
    order = list(table.primary_key.columns)
    for row in connection.execute(select(table).order_by(*order)).yield_per(_BATCH_ROWS):
        values = {name: _encode_value(value) for name, value in row._mapping.items()}
        yield json.dumps(values, ensure_ascii=False).encode("utf-8") + b"\n"


def _encode_value(value: Any) -> Any:
    if isinstance(value, bytes | memoryview):
        return base64.b64encode(bytes(value)).decode("ascii")
    return value.isoformat() if isinstance(value, date) else value


def _check_files(archive: zipfile.ZipFile) -> dict[str, Any]:
    """Return the manifest of a backup after checking every file.

    Raises:
        StoreError: for a file that is missing or was changed.
    """
    try:
        about: dict[str, Any] = json.loads(archive.read(MANIFEST))
        listed = about["sha256"]
        known = about["format"] == _FORMAT
    except (KeyError, ValueError, TypeError) as error:
        raise StoreError(
            f"The file is not a backup: it has no readable {MANIFEST}. Nothing was restored."
        ) from error
    if not known:
        raise StoreError(
            "The backup was made by a newer version of Fillwright. Update Fillwright and try again."
        )
    for name in (f"{table.name}.jsonl" for table in metadata.sorted_tables):
        if listed.get(name) != _hash(archive, name):
            raise StoreError(f"{name} in the backup is missing or damaged. Nothing was restored.")
    return about


def _hash(archive: zipfile.ZipFile, name: str) -> str:
    try:
        with archive.open(name) as part:
            return hashlib.file_digest(part, "sha256").hexdigest()  # type: ignore[arg-type]
    except KeyError:
        return ""


def _check_target(connection: Connection, about: Mapping[str, Any], *, replace: bool) -> None:
    revision = _read_revision(connection)
    if about["revision"] != revision:
        raise StoreError(
            f"The backup has tables of version {about['revision']}, this store of version {revision}. "
            "Restore it with the version of Fillwright that made it, then update."
        )
    if replace:
        for table in reversed(metadata.sorted_tables):
            connection.execute(table.delete())
        return
    count = sum(
        connection.execute(select(func.count()).select_from(t)).scalar_one() for t in metadata.sorted_tables
    )
    if count:
        raise StoreError("The store is not empty. Restore into a new folder, or add --replace to overwrite it.")


def _insert_rows(connection: Connection, table: Table, archive: zipfile.ZipFile) -> None:
    batch: list[dict[str, Any]] = []
    with archive.open(f"{table.name}.jsonl") as part:
        for line in io.TextIOWrapper(part, "utf-8"):
            values = json.loads(line)
            batch.append(
                {column.name: _decode_value(column.type, values[column.name]) for column in table.columns}
            )
            if len(batch) == _BATCH_ROWS:
                connection.execute(insert(table), batch)
                batch = []
    if batch:
        connection.execute(insert(table), batch)


def _decode_value(kind: Any, value: Any) -> Any:
    if value is None:
        return None
    if isinstance(kind, LargeBinary):
        return base64.b64decode(value)
    if isinstance(kind, UtcDateTime):
        return datetime.fromisoformat(value)
    return date.fromisoformat(value) if kind.python_type is date else value


def _advance_sequences(connection: Connection) -> None:
    """Advance PostgreSQL's sequences to the highest restored number."""
    for table in metadata.sorted_tables:
        key = list(table.primary_key.columns)
        if len(key) == 1 and isinstance(key[0].type, Integer) and key[0].name == "id":
            highest = select(func.coalesce(func.max(key[0]), 0) + 1)
            connection.execute(
                text("SELECT setval(pg_get_serial_sequence(:name, 'id'), :next, false)"),
                {"name": table.name, "next": connection.execute(highest).scalar_one()},
            )


def _read_revision(connection: Connection) -> str:
    return MigrationContext.configure(connection).get_current_revision() or ""
