"""Failures of a database as one sentence: a full disk, a damaged file, a lost server.

The text of a driver can have values of rows in it, such as a teacher's notes, so it is never repeated.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager

from sqlalchemy.exc import DataError, DBAPIError, IntegrityError, ProgrammingError

from fillwright.errors import StoreError

DAMAGED = "is damaged or is not a store of Fillwright; restore a backup into a new folder"
"""End of a sentence about a damaged file."""

_SQLITE_REASONS = {
    sqlite3.SQLITE_FULL: "can't be written, because the disk is full",
    sqlite3.SQLITE_IOERR: "can't be read or written, because the disk is full or fails",
    sqlite3.SQLITE_READONLY: "can't be written: its file or folder is read-only",
    sqlite3.SQLITE_CANTOPEN: "can't be opened: it is not a file, or you have no permission",
    sqlite3.SQLITE_PERM: "can't be opened: you have no permission",
    sqlite3.SQLITE_BUSY: "is in use by another program; try again",
    sqlite3.SQLITE_LOCKED: "is in use by another program; try again",
    sqlite3.SQLITE_NOMEM: "needs more memory than there is",
    sqlite3.SQLITE_TOOBIG: "can't hold a value that large",
}
"""Reasons by the low byte of SQLite's result code."""

_POSTGRES_REASONS = {
    "53100": "can't be written, because the server's disk is full",
    "53200": "needs more memory than the server has",
    "53300": "has no connection free; try again",
    "25006": "can't be written: the server is read-only",
    "40001": "was changed by somebody else at the same moment; try again",
    "40P01": "was changed by somebody else at the same moment; try again",
    "XX001": "is damaged; restore a backup into a new database",
    "XX002": "is damaged; restore a backup into a new database",
}
"""Reasons by PostgreSQL's SQLSTATE."""

_LOW_BYTE = 0xFF  # of SQLite's extended result codes


_FULL = (_SQLITE_REASONS[sqlite3.SQLITE_FULL], _POSTGRES_REASONS["53100"])


class FullDiskError(StoreError):
    """A store that can't be written, because the disk is full."""


@contextmanager
def refuse_failures(where: str) -> Iterator[None]:
    """Turn a failure of the database itself into one sentence. Refused values stay as they are.

    Args:
        where: name of the store, for the sentence.

    Raises:
        StoreError: for a full disk, a damaged file, a lost server.
    """
    try:
        yield
    except (IntegrityError, DataError, ProgrammingError):
        raise
    except DBAPIError as error:
        reason = describe_failure(error)
        kind = FullDiskError if reason in _FULL else StoreError
        raise kind(f'The store "{where}" {reason}.') from error


def describe_failure(error: DBAPIError) -> str:
    """Return the end of a sentence that says what is wrong with a store.

    A full disk ends the transaction, so that taking back its last part fails too: the first failure counts.
    """
    causes = list(_list_causes(error))
    if isinstance(causes[0], sqlite3.Error):
        codes = [getattr(cause, "sqlite_errorcode", sqlite3.SQLITE_CORRUPT) & _LOW_BYTE for cause in causes]
        return next((_SQLITE_REASONS[code] for code in codes if code in _SQLITE_REASONS), DAMAGED)
    state = getattr(causes[0], "sqlstate", None)
    return _POSTGRES_REASONS.get(state or "", "can't be used: the database server does not answer as it should")


def _list_causes(error: BaseException | None) -> Iterator[BaseException]:
    """List the driver's own errors, from the last one back to the first."""
    while error is not None:
        if isinstance(error, DBAPIError) and error.orig is not None:
            yield error.orig
        error = error.__context__
