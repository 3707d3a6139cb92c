"""The tables of a store.

Everything hangs on a teacher, and goes when its owner goes. Moments are UTC. The text of a lesson is kept as it
was written, every saved version of it.
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


class Moment(TypeDecorator[datetime]):
    """A moment in UTC: aware in Python, without a zone in the database, the same on both."""

    impl = DateTime
    cache_ok = True

    def process_bind_param(self, value: datetime | None, dialect: Dialect) -> datetime | None:  # noqa: ARG002
        """To the database; a moment without a zone is a mistake of ours."""
        if value is None:
            return None
        if value.tzinfo is None:
            raise ValueError(f"{value} has no time zone")
        return value.astimezone(UTC).replace(tzinfo=None)

    def process_result_value(self, value: Any, dialect: Dialect) -> datetime | None:  # noqa: ARG002
        """From the database."""
        return None if value is None else value.replace(tzinfo=UTC)


def _id() -> Column[int]:
    return Column("id", Integer, primary_key=True, autoincrement=True)


def _of(table: str, *, optional: bool = False) -> Column[int]:
    """A column that names the row of another table to which this one belongs."""
    return Column(f"{table}_id", ForeignKey(f"{table}.id", ondelete="CASCADE"), nullable=optional, index=True)


teacher = Table(
    "teacher",
    metadata,
    _id(),
    Column("name", String(80), nullable=False),
    Column("created", Moment, nullable=False),
)

series = Table(
    "series",
    metadata,
    _id(),
    _of("teacher"),
    Column("title", String(80), nullable=False),
    UniqueConstraint("teacher_id", "title"),
)

lesson = Table(
    "lesson",
    metadata,
    _id(),
    _of("series"),
    Column("number", Integer, nullable=False),
    Column("title", String(80), nullable=False),
    Column("put_away", Boolean, nullable=False, default=False),
)
"""Number and title are those of the newest version, kept here so that a list needs no reading of texts."""

lesson_version = Table(
    "lesson_version",
    metadata,
    _id(),
    _of("lesson"),
    Column("saved", Moment, nullable=False),
    Column("text", Text, nullable=False),
)

own = Table(
    "own",
    metadata,
    _id(),
    _of("teacher"),
    Column("kind", String(10), nullable=False),
    Column("name", String(80), nullable=False),
    Column("text", Text, nullable=False),
    CheckConstraint("kind in ('figure', 'groove', 'kit')", name="kind"),
    UniqueConstraint("teacher_id", "kind", "name"),
)

student = Table(
    "student",
    metadata,
    _id(),
    _of("teacher"),
    Column("name", String(80), nullable=False),
    Column("hand", String(5), nullable=False),
    Column("level", String(20), nullable=False),
    Column("kit", String(80), nullable=False),
    Column("practises_on", String(20), nullable=False),
    Column("notes", Text, nullable=False),
    Column("created", Moment, nullable=False),
)

assignment = Table(
    "assignment",
    metadata,
    _id(),
    _of("student"),
    _of("lesson"),
    Column("fill", String(120), nullable=False),
    Column("given", Moment, nullable=False),
    Column("due", Date),
    UniqueConstraint("student_id", "lesson_id", "fill"),
)
"""`fill` is "" where the whole lesson is assigned."""

take = Table(
    "take",
    metadata,
    _id(),
    _of("student"),
    _of("lesson"),
    Column("fill", String(120), nullable=False),
    Column("tempo", Integer, nullable=False),
    Column("recorded", Moment, nullable=False),
    Column("media_type", String(60), nullable=False),
    Column("report", JSON, nullable=False),
    Column("passed", Boolean, nullable=False),
)

take_media = Table(
    "take_media",
    metadata,
    Column("take_id", ForeignKey("take.id", ondelete="CASCADE"), primary_key=True),
    Column("content", LargeBinary, nullable=False),
    Column("picture", Text, nullable=False),
)
"""Apart from the take, so that a list of takes does not carry their sound."""

passed = Table(
    "passed",
    metadata,
    _id(),
    _of("student"),
    _of("lesson"),
    Column("fill", String(120), nullable=False),
    Column("tempo", Integer, nullable=False),
    Column("at", Moment, nullable=False),
    Column("take_id", ForeignKey("take.id", ondelete="SET NULL"), index=True),
)
"""A fill passed at a tempo: by a take, or by the teacher's word where there is none."""

practice = Table(
    "practice",
    metadata,
    _id(),
    _of("student"),
    _of("lesson", optional=True),
    Column("fill", String(120), nullable=False),
    Column("tempo", Integer),
    Column("at", Moment, nullable=False),
    Column("minutes", Float, nullable=False),
)

setting = Table(
    "setting",
    metadata,
    Column("teacher_id", ForeignKey("teacher.id", ondelete="CASCADE"), primary_key=True),
    Column("name", String(40), primary_key=True),
    Column("value", JSON, nullable=False),
)

account = Table(
    "account",
    metadata,
    _id(),
    Column("login", String(80), nullable=False, unique=True),
    Column("password", String(200), nullable=False),
    Column("role", String(10), nullable=False),
    _of("teacher"),
    _of("student", optional=True),
    Column("epoch", Integer, nullable=False, default=0),
    CheckConstraint("(role = 'student') = (student_id is not null)", name="role"),
    UniqueConstraint("student_id"),
)
"""Of a teacher, or of a student of that teacher. Raising `epoch` ends every session of the account."""

invitation = Table(
    "invitation",
    metadata,
    _id(),
    Column("token", String(64), nullable=False, unique=True),
    Column("role", String(10), nullable=False),
    _of("teacher"),
    _of("student", optional=True),
    Column("until", Moment, nullable=False),
)
"""`token` is the SHA-256 of what stands in the link; a used invitation is deleted."""

audit = Table(
    "audit",
    metadata,
    _id(),
    Column("at", Moment, nullable=False),
    Column("who", String(80), nullable=False),
    Column("what", String(40), nullable=False),
    Column("detail", String(200), nullable=False),
    Index(None, "at"),
)
"""A line for every sign-in and deletion. It names no student beyond a number: it outlives them."""
