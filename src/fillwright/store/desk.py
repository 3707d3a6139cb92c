"""A teacher's desk: one transaction on the store, and whose things it may touch."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, date, datetime
from typing import Any

from sqlalchemy import Connection, Row, Select, Table, select
from sqlalchemy.exc import DataError, IntegrityError

from fillwright.errors import NotThereError, StoreError
from fillwright.store.database import Store, added
from fillwright.store.schema import teacher as teachers

Clock = Callable[[], datetime]


def wall_clock() -> datetime:
    """This moment in UTC, to the second."""
    return datetime.now(UTC).replace(microsecond=0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Desk:
    """What every function of the store works at.

    Attributes:
        connection: of the transaction.
        teacher: whose desk it is.
        now: the moment at which the transaction began.
    """

    connection: Connection
    teacher: int
    now: datetime

    @property
    def today(self) -> date:
        """The day on the wall where the studio runs."""
        return self.now.astimezone().date()

    def rows(self, query: Select[Any]) -> Sequence[Row[Any]]:
        """Everything that a query finds."""
        return self.connection.execute(query).all()

    def row(self, query: Select[Any], what: str) -> Row[Any]:
        """The one row that a query finds.

        Raises:
            NotThereError: where there is none at this desk; another teacher's is none.
        """
        try:
            found = self.connection.execute(query).one_or_none()
        except (DataError, OverflowError):
            found = None  # a number larger than any row's
        if found is None:
            raise NotThereError(f"There is no such {what}.")
        return found

    def add(self, table: Table, values: Mapping[str, Any], clash: str) -> int:
        """Add a row and give its number.

        Args:
            table: of the schema.
            values: of the row.
            clash: the sentence to say where it is already there.

        Raises:
            StoreError: where it is already there.
        """
        try:
            with self.connection.begin_nested():
                return added(self.connection, table, values)
        except IntegrityError as error:
            raise StoreError(clash) from error


@contextmanager
def reading(store: Store, teacher: int, clock: Clock = wall_clock) -> Iterator[Desk]:
    """A desk on which things are looked up."""
    with store.reading() as connection:
        yield Desk(connection=connection, teacher=teacher, now=clock())


@contextmanager
def writing(store: Store, teacher: int, clock: Clock = wall_clock) -> Iterator[Desk]:
    """A desk on which things are changed: all of them, or none where an error is raised."""
    with store.writing() as connection:
        yield Desk(connection=connection, teacher=teacher, now=clock())


def only_teacher(store: Store, clock: Clock = wall_clock) -> int:
    """The teacher of a store without accounts, added where the store is new."""
    query = select(teachers.c.id).order_by(teachers.c.id).limit(1)
    with store.reading() as connection:  # nearly always: nobody who writes has to wait for it
        found = connection.execute(query).scalar()
    if found is not None:
        return int(found)
    with store.writing() as connection:
        found = connection.execute(query).scalar()
        return added(connection, teachers, {"name": "", "created": clock()}) if found is None else int(found)
