"""The tables of a store.

Every row belongs to a teacher, directly or through another row, and is deleted with its owner. Times are UTC.
Every saved version of a lesson's text is kept as it was written.
"""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any

from sqlalchemy import (
    JSON,
    Boolean,
    CheckConstraint,
    Column,
    Date,
    DateTime,
    Dialect,
    Float,
    ForeignKey,
    Index,
    Integer,
    LargeBinary,
    MetaData,
    String,
    Table,
    Text,
    TypeDecorator,
    UniqueConstraint,
)

metadata = MetaData(
    naming_convention={
        "ix": "ix_%(table_name)s_%(column_0_N_name)s",
        "uq": "uq_%(table_name)s_%(column_0_N_name)s",
        "ck": "ck_%(table_name)s_%(constraint_name)s",
        "fk": "fk_%(table_name)s_%(column_0_N_name)s",
        "pk": "pk_%(table_name)s",
    }
)


class UtcDateTime(TypeDecorator[datetime]):
    """A time in UTC: with its time zone in Python, without one in either database."""

    impl = DateTime
    cache_ok = True

    def process_bind_param(self, value: datetime | None, dialect: Dialect) -> datetime | None:  # noqa: ARG002
        """Convert a time for the database.

        Raises:
            ValueError: for a time without a time zone, which is a mistake in our code.
        """
        if value is None:
            return None
        if value.tzinfo is None:
            raise ValueError(f"{value} has no time zone")
        return value.astimezone(UTC).replace(tzinfo=None)

    def process_result_value(self, value: Any, dialect: Dialect) -> datetime | None:  # noqa: ARG002
        """Convert a time from the database."""
        return None if value is None else value.replace(tzinfo=UTC)


def _make_id_column() -> Column[int]:
    return Column("id", Integer, primary_key=True, autoincrement=True)


def _make_owner_column(table: str, *, optional: bool = False) -> Column[int]:
    """Return a column with the number of the row, in another table, to which this one belongs."""
    return Column(f"{table}_id", ForeignKey(f"{table}.id", ondelete="CASCADE"), nullable=optional, index=True)


teacher = Table(
    "teacher",
    metadata,
    _make_id_column(),
    Column("name", String(80), nullable=False),
    Column("created", UtcDateTime, nullable=False),
)
"""A teacher, who owns everything else."""

series = Table(
    "series",
    metadata,
    _make_id_column(),
    _make_owner_column("teacher"),
    Column("title", String(80), nullable=False),
    UniqueConstraint("teacher_id", "title"),
)
"""A series of lessons."""

lesson = Table(
    "lesson",
    metadata,
    _make_id_column(),
    _make_owner_column("series"),
    Column("number", Integer, nullable=False),
    Column("title", String(80), nullable=False),
    Column("put_away", Boolean, nullable=False, default=False),
)
"""Number and title repeat those of the newest version, so that a list does not have to read texts."""

lesson_version = Table(
    "lesson_version",
    metadata,
    _make_id_column(),
    _make_owner_column("lesson"),
    Column("saved", UtcDateTime, nullable=False),
    Column("text", Text, nullable=False),
)

own_item = Table(
    "own",
    metadata,
    _make_id_column(),
    _make_owner_column("teacher"),
    Column("kind", String(10), nullable=False),
    Column("name", String(80), nullable=False),
    Column("text", Text, nullable=False),
    CheckConstraint("kind in ('figure', 'groove', 'kit')", name="kind"),
    UniqueConstraint("teacher_id", "kind", "name"),
)
"""Figures, grooves and kits that a teacher added."""

student = Table(
    "student",
    metadata,
    _make_id_column(),
    _make_owner_column("teacher"),
    Column("name", String(80), nullable=False),
    Column("hand", String(5), nullable=False),
    Column("level", String(20), nullable=False),
    Column("kit", String(80), nullable=False),
    Column("practises_on", String(20), nullable=False),
    Column("notes", Text, nullable=False),
    Column("created", UtcDateTime, nullable=False),
)
"""A student with their profile."""

assignment = Table(
    "assignment",
    metadata,
    _make_id_column(),
    _make_owner_column("student"),
    _make_owner_column("lesson"),
    Column("fill", String(120), nullable=False),
    Column("given", UtcDateTime, nullable=False),
    Column("due", Date),
    UniqueConstraint("student_id", "lesson_id", "fill"),
)
"""`fill` is "" where the whole lesson is assigned."""

take = Table(
    "take",
    metadata,
    _make_id_column(),
    _make_owner_column("student"),
    _make_owner_column("lesson"),
    Column("fill", String(120), nullable=False),
    Column("tempo", Integer, nullable=False),
    Column("recorded", UtcDateTime, nullable=False),
    Column("media_type", String(60), nullable=False),
    Column("report", JSON, nullable=False),
    Column("passed", Boolean, nullable=False),
)
"""A take with its report."""

take_media = Table(
    "take_media",
    metadata,
    Column("take_id", ForeignKey("take.id", ondelete="CASCADE"), primary_key=True),
    Column("content", LargeBinary, nullable=False),
    Column("picture", Text, nullable=False),
)
"""Separate from the take, so that a list of takes does not load their recordings."""

passed = Table(
    "passed",
    metadata,
    _make_id_column(),
    _make_owner_column("student"),
    _make_owner_column("lesson"),
    Column("fill", String(120), nullable=False),
    Column("tempo", Integer, nullable=False),
    Column("at", UtcDateTime, nullable=False),
    Column("take_id", ForeignKey("take.id", ondelete="SET NULL"), index=True),
)
"""A fill passed at a tempo, by a take or, without one, because the teacher marked it."""

practice = Table(
    "practice",
    metadata,
    _make_id_column(),
    _make_owner_column("student"),
    _make_owner_column("lesson", optional=True),
    Column("fill", String(120), nullable=False),
    Column("tempo", Integer),
    Column("at", UtcDateTime, nullable=False),
    Column("minutes", Float, nullable=False),
)
"""An entry of the practice log."""

setting = Table(
    "setting",
    metadata,
    Column("teacher_id", ForeignKey("teacher.id", ondelete="CASCADE"), primary_key=True),
    Column("name", String(40), primary_key=True),
    Column("value", JSON, nullable=False),
)
"""A setting of a teacher."""

account = Table(
    "account",
    metadata,
    _make_id_column(),
    Column("login", String(80), nullable=False, unique=True),
    Column("password", String(200), nullable=False),
    Column("role", String(10), nullable=False),
    _make_owner_column("teacher"),
    _make_owner_column("student", optional=True),
    Column("epoch", Integer, nullable=False, default=0),
    CheckConstraint("(role = 'student') = (student_id is not null)", name="role"),
    UniqueConstraint("student_id"),
)
"""Account of a teacher, or of one of their students. Raising `epoch` ends every session of the account."""

session = Table(
    "session",
    metadata,
    _make_id_column(),
    _make_owner_column("account"),
    Column("token", String(64), nullable=False, unique=True),
    Column("device", String(40), nullable=False),
    Column("created", UtcDateTime, nullable=False),
    Column("seen", UtcDateTime, nullable=False),
)
"""A device that is signed in. `token` is the SHA-256 of the session's token. Backups have no sessions."""

invitation = Table(
    "invitation",
    metadata,
    _make_id_column(),
    Column("token", String(64), nullable=False, unique=True),
    Column("role", String(10), nullable=False),
    _make_owner_column("teacher"),
    _make_owner_column("student", optional=True),
    Column("until", UtcDateTime, nullable=False),
)
"""`token` is the SHA-256 of the link's token; a used invitation is deleted."""

audit = Table(
    "audit",
    metadata,
    _make_id_column(),
    Column("at", UtcDateTime, nullable=False),
    Column("who", String(80), nullable=False),
    Column("what", String(40), nullable=False),
    Column("detail", String(200), nullable=False),
    Index(None, "at"),
)
"""A line for every sign-in and deletion. It outlives students, so it has their numbers, never their names."""
