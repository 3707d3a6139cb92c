"""One transaction on the store on behalf of one teacher, whose data it reads and changes."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, date, datetime
from typing import Any

from sqlalchemy import Connection, Row, Select, Table, select
from sqlalchemy.exc import DataError, IntegrityError

from fillwright.errors import NotThereError, StoreError
from fillwright.store.database import Store, add_row
from fillwright.store.schema import teacher as teachers

Clock = Callable[[], datetime]


def read_clock() -> datetime:
    """Return the current time in UTC, to the second."""
    return datetime.now(UTC).replace(microsecond=0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Transaction:
    """A transaction on behalf of one teacher, which almost every function of the store takes.

    Attributes:
        connection: of the transaction.
        teacher: number of the teacher.
        now: start of the transaction, in UTC.
    """

    connection: Connection
    teacher: int
    now: datetime

    @property
    def today(self) -> date:
        """Current day in the studio's time zone."""
        return self.now.astimezone().date()

    def lock(self) -> None:
        """Wait until no other transaction that locked the teacher's data runs; its changes can be read then."""
        query = select(teachers.c.id).where(teachers.c.id == self.teacher).with_for_update()
        self.connection.execute(query)  # SQLite has one writer at a time anyway, and ignores the lock

    def fetch_all(self, query: Select[Any]) -> Sequence[Row[Any]]:
        """Return every row of a query."""
        return self.connection.execute(query).all()

    def fetch_one(self, query: Select[Any], noun: str) -> Row[Any]:
        """Return the only row of a query.

        Args:
            query: that finds at most one row, of this teacher.
            noun: kind of thing, for the sentence.

        Raises:
            NotThereError: if there is none.
        """
        try:
            row = self.connection.execute(query).one_or_none()
        except (DataError, OverflowError):
            row = None  # a number larger than any row's
        if row is None:
            raise NotThereError(f"There is no such {noun}.")
        return row

    def add(self, table: Table, values: Mapping[str, Any], clash: str) -> int:
        """Add a row and return its number.

        Args:
            table: of the schema.
            values: of the row.
            clash: sentence of the error if there is such a row already.

        Raises:
            StoreError: if there is such a row already.
        """
        try:
            with self.connection.begin_nested():
                return add_row(self.connection, table, values)
        except IntegrityError as error:
            raise StoreError(clash) from error


@contextmanager
def begin_reading(store: Store, teacher: int, clock: Clock = read_clock) -> Iterator[Transaction]:
    """Begin a transaction that reads."""
    with store.begin_reading() as connection:
        yield Transaction(connection=connection, teacher=teacher, now=clock())


@contextmanager
def begin_writing(store: Store, teacher: int, clock: Clock = read_clock) -> Iterator[Transaction]:
    """Begin a transaction that changes things: all of them, or none if an error is raised."""
    with store.begin_writing() as connection:
        yield Transaction(connection=connection, teacher=teacher, now=clock())


def ensure_teacher(store: Store, clock: Clock = read_clock) -> int:
    """Return the number of the only teacher of a store without accounts; add one to a new store."""
    query = select(teachers.c.id).order_by(teachers.c.id).limit(1)
    with store.begin_reading() as connection:  # mostly there is one, and no writer has to wait
        number = connection.execute(query).scalar()
    if number is not None:
        return int(number)
    with store.begin_writing() as connection:
        number = connection.execute(query).scalar()
        return (
            add_row(connection, teachers, {"name": "", "created": clock()}) if number is None else int(number)
        )
