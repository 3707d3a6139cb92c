"""One strict schema for each table's rows in a backup, made from the columns of the tables."""

from __future__ import annotations

from datetime import date, datetime
from functools import cache
from typing import Annotated, Any

import msgspec
from sqlalchemy import JSON, Boolean, Column, Date, Float, Integer, LargeBinary, String, Table
from sqlalchemy.sql.schema import ScalarElementColumnDefault

from fillwright import budget
from fillwright.errors import StoreError
from fillwright.store.schema import UtcDateTime, metadata, session

_LARGEST_INTEGER = 2**31 - 1  # of PostgreSQL's `integer`

Row = dict[str, Any]
"""Values of a row by column, as the database takes them."""

_UNREADABLE = (msgspec.MsgspecError, ValueError, OverflowError, RecursionError)
"""Exceptions for a line that is not a row."""


def list_tables() -> tuple[Table, ...]:
    """List the tables of a backup, those that others refer to first.

    Sessions are left out: restoring must not sign in a device that was signed out since.
    """
    return tuple(table for table in metadata.sorted_tables if table is not session)


def has_recordings(table: Table) -> bool:
    """Return True if a table has recordings, so that its rows are large."""
    return any(isinstance(column.type, LargeBinary) for column in table.columns)


@cache
def make_decoder(table: Table) -> msgspec.json.Decoder[msgspec.Struct]:
    """Make the reader of a table's rows.

    A column that may be empty, or has a default, may be missing: backups of earlier versions lack new columns.
    """
    fields: list[Any] = []
    for column in table.columns:
        kind = _find_type(column)
        name = str(column.name)  # SQLAlchemy's is a class of its own
        if column.nullable:
            fields.append((name, kind | None, None))
        elif isinstance(column.default, ScalarElementColumnDefault):
            fields.append((name, kind, column.default.arg))
        else:
            fields.append((name, kind))
    struct = msgspec.defstruct(str(table.name), fields, kw_only=True, frozen=True, forbid_unknown_fields=True)
    return msgspec.json.Decoder(struct, strict=True)


def _find_type(column: Column[Any]) -> Any:
    """Return the type that a column's values have in JSON.

    Raises:
        TypeError: for a type that no column has yet, which is a mistake in our code.
    """
    kind: Any = column.type
    if isinstance(kind, UtcDateTime):
        return Annotated[datetime, msgspec.Meta(tz=True)]
    if isinstance(kind, Boolean):
        return bool
    if isinstance(kind, Integer):
        return Annotated[int, msgspec.Meta(ge=-_LARGEST_INTEGER, le=_LARGEST_INTEGER)]
    if isinstance(kind, String):
        return str if kind.length is None else Annotated[str, msgspec.Meta(max_length=kind.length)]
    for known, plain in ((Float, float), (Date, date), (LargeBinary, bytes), (JSON, Any)):
        if isinstance(kind, known):
            return plain
    raise TypeError(f"column {column} has a type that backups don't have")


def decode_row(table: Table, line: bytes | bytearray) -> Row:
    """Read one line of a backup.

    Raises:
        StoreError: for a line that is not a row of the table. Its text is never quoted: it is somebody's data.
    """
    try:
        row = msgspec.structs.asdict(make_decoder(table).decode(line))
        for column in table.columns:
            if isinstance(column.type, JSON):
                _check_nesting(row[column.name])
        return row
    except _UNREADABLE as error:
        raise StoreError(f"A row of {table.name} can't be read") from error


def _check_nesting(value: Any) -> None:
    """Refuse JSON that is nested so deeply that it can't be written again.

    Raises:
        ValueError: where it is.
    """
    inner = [value]
    for _ in range(budget.BACKUP_NESTING):
        inner = [child for parent in inner for child in _list_children(parent)]
        if not inner:
            return
    raise ValueError("nested too deeply")


def _list_children(value: Any) -> list[Any]:
    if isinstance(value, dict):
        return list(value.values())
    return value if isinstance(value, list) else []


class KeyOrder:
    """A check that a table's rows come in the order of their keys, each once."""

    def __init__(self, table: Table) -> None:
        """Take the table."""
        self._names = [column.name for column in table.primary_key.columns]
        self._last: Any = None
        self._rest: set[Any] = set()

    def accept(self, row: Row) -> bool:
        """Return True if a row may follow those before it."""
        first, *rest = (row[name] for name in self._names)
        if self._last is not None and first < self._last:
            return False
        if first != self._last:
            self._last, self._rest = first, set()
        before = len(self._rest)
        self._rest.add(tuple(rest))
        return len(self._rest) > before
