"""Write a backup in small pieces: a recording is never in memory as a whole."""

from __future__ import annotations

import base64
import hashlib
import json
import zipfile
from collections.abc import Iterator
from datetime import date, datetime
from pathlib import Path
from typing import IO, Any

from alembic.migration import MigrationContext
from sqlalchemy import JSON, Column, Connection, LargeBinary, Table, Text, func, select

from fillwright.atomic import open_file
from fillwright.errors import StoreError
from fillwright.store.archive.contents import FORMAT, MANIFEST, RowCounts, allow_unpacked, name_part
from fillwright.store.archive.rows import list_tables
from fillwright.store.database import Store
from fillwright.store.transaction import read_clock

_BATCH_ROWS = 200
"""Rows without long texts that are read at a time. Ours."""

_PIECE_BYTES = 3 << 20
"""Bytes of a recording that are read at a time: a multiple of 3, so that base64 has no gaps. Ours."""


def write_backup_file(store: Store, path: Path) -> RowCounts:
    """Write a backup of a store into a file, completely or not at all. Only its owner can read it.

    Raises:
        OutputError: if it can't be written.
        StoreError: if the store is damaged.
    """
    with open_file(path, private=True) as file:
        return write_backup(store, file, now=read_clock())


def write_backup(store: Store, file: IO[bytes], *, now: datetime) -> RowCounts:
    """Write everything in a store into a zip.

    Args:
        store: to back up; others can use it meanwhile.
        file: open for writing.
        now: current time, noted in the backup.

    Raises:
        StoreError: if the store is damaged.
    """
    with store.begin_snapshot() as connection:
        _check_store(store, connection)
        counts, unpacked, packed = _write_zip(connection, file, now, zipfile.ZIP_DEFLATED)
        if unpacked > allow_unpacked(packed):  # hours of digital silence: it would be refused as an attack
            file.seek(0)
            file.truncate()
            counts, _, _ = _write_zip(connection, file, now, zipfile.ZIP_STORED)
    return RowCounts(rows=counts)


def _check_store(store: Store, connection: Connection) -> None:
    if store.on_sqlite and connection.exec_driver_sql("PRAGMA quick_check(1)").scalar() != "ok":
        raise _make_damage(f'The store "{store.where}"')


def _make_damage(part: str) -> StoreError:
    return StoreError(f"{part} is damaged, so it can't be backed up.")


def _write_zip(
    connection: Connection, file: IO[bytes], now: datetime, method: int
) -> tuple[dict[str, int], int, int]:
    """Write every table; return the number of rows by table, the bytes before and after packing."""
    counts: dict[str, int] = {}
    hashes: dict[str, str] = {}
    with zipfile.ZipFile(file, "w", method) as archive:
        for table in list_tables():
            digest = hashlib.sha256()
            counts[table.name] = 0
            with archive.open(name_part(table), "w", force_zip64=True) as part:
                for piece in _encode_rows(connection, table):
                    part.write(piece)
                    digest.update(piece)
                    counts[table.name] += piece.endswith(b"\n")
            hashes[name_part(table)] = digest.hexdigest()
        about = {
            "format": FORMAT,
            "made": now.isoformat(),
            "revision": read_revision(connection),
            "rows": counts,
            "sha256": hashes,
        }
        archive.writestr(MANIFEST, json.dumps(about, indent=1))
        sizes = [(part.file_size, part.compress_size) for part in archive.infolist()]
    return counts, sum(size for size, _ in sizes), sum(size for _, size in sizes)


def _encode_rows(connection: Connection, table: Table) -> Iterator[bytes]:
    """Yield the rows of a table as lines of JSON, each in one or more pieces.

    Raises:
        StoreError: for a value that is not of its column's type.
    """
    large = [column for column in table.columns if isinstance(column.type, LargeBinary)]
    small = [column for column in table.columns if column not in large]
    keys = list(table.primary_key.columns)
    has_texts = any(isinstance(column.type, Text | JSON) for column in small)
    query = select(*small).order_by(*keys)
    try:
        for row in connection.execute(query).yield_per(1 if has_texts else _BATCH_ROWS):
            values = {name: _encode_value(value) for name, value in row._mapping.items()}
            yield json.dumps(values, ensure_ascii=False)[:-1].encode("utf-8", "replace")
            condition = [key == row._mapping[key.name] for key in keys]
            for column in large:
                yield f', "{column.name}": "'.encode()
                yield from _encode_pieces(connection, column, condition)
                yield b'"'
            yield b"}\n"
    except (ValueError, TypeError) as error:  # SQLite keeps values of any type, and damaged ones
        raise _make_damage(f"A row of {table.name}") from error


def _encode_pieces(connection: Connection, column: Column[Any], condition: list[Any]) -> Iterator[bytes]:
    """Yield one recording as base64, piece by piece."""
    start = 1
    while True:
        piece = func.substr(column, start, _PIECE_BYTES, type_=LargeBinary)
        content = bytes(connection.execute(select(piece).where(*condition)).scalar_one())
        yield base64.b64encode(content)
        start += _PIECE_BYTES
        if len(content) < _PIECE_BYTES:
            return


def _encode_value(value: Any) -> Any:
    return value.isoformat() if isinstance(value, date) else value


def read_revision(connection: Connection) -> str:
    """Return the version of a store's tables."""
    return MigrationContext.configure(connection).get_current_revision() or ""
