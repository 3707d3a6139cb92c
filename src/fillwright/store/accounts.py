"""Accounts of a school: sign-in, invitations by a one-time link, and the audit."""

from __future__ import annotations

import hashlib
import secrets
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from argon2 import PasswordHasher
from argon2.exceptions import InvalidHashError, VerificationError
from sqlalchemy import Connection, Row, delete, insert, select, update
from sqlalchemy.exc import IntegrityError

from fillwright.errors import StoreError
from fillwright.store.database import added
from fillwright.store.schema import account, audit, invitation, student, teacher

INVITATION_DAYS = 7
SHORTEST_PASSWORD = 10
_LONGEST_PASSWORD = 200
_HASHER = PasswordHasher()

_NOBODY = _HASHER.hash(secrets.token_hex(16))
"""Checked where there is no such login, so that the answer takes as long."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Account:
    """Who is signed in.

    Attributes:
        id: of the account.
        login: as typed at sign-in.
        role: "teacher" or "student".
        teacher: whose desk it is.
        student: the student's number; None for a teacher.
        epoch: of its sessions.
    """

    id: int
    login: str
    role: str
    teacher: int
    student: int | None
    epoch: int


def invite(
    connection: Connection,
    *,
    now: datetime,
    teacher_number: int | None = None,
    student_number: int | None = None,
    token: Callable[[], str] = lambda: secrets.token_urlsafe(32),
) -> str:
    """Make a one-time link's token: for a student of a teacher, or for a new teacher.

    Args:
        connection: inside a transaction.
        now: this moment.
        teacher_number: whose student is invited; None invites a new teacher with a desk of their own.
        student_number: who is invited; None for a new teacher.
        token: makes an unguessable text.

    Raises:
        StoreError: where the student has an account already, or is not that teacher's.
    """
    role = "teacher" if student_number is None else "student"
    if student_number is None:
        teacher_number = added(connection, teacher, {"name": "", "created": now})
    else:
        mine = select(student.c.id).where(
            student.c.id == student_number, student.c.teacher_id == teacher_number
        )
        if connection.execute(mine).one_or_none() is None:
            raise StoreError("There is no such student.")
        if connection.execute(select(account.c.id).where(account.c.student_id == student_number)).first():
            raise StoreError("This student has an account already.")
        connection.execute(delete(invitation).where(invitation.c.student_id == student_number))
    secret = token()
    values = {"role": role, "teacher_id": teacher_number, "student_id": student_number}
    until = now + timedelta(days=INVITATION_DAYS)
    connection.execute(insert(invitation).values(token=_digest(secret), until=until, **values))
    return secret


def accept(connection: Connection, secret: str, *, login: str, password: str, now: datetime) -> Account:
    """Use an invitation: an account with the login and password of one's choice.

    Raises:
        StoreError: for a link that is unknown, used or too old, a login that is taken, or a short password.
    """
    query = select(invitation).where(invitation.c.token == _digest(secret), invitation.c.until >= now)
    found = connection.execute(query).one_or_none()
    if found is None:
        raise StoreError("This link has been used or is too old; ask for a new one.")
    login = login.strip().casefold()
    if not 0 < len(login) <= 80:
        raise StoreError(f"A login of {len(login)} characters can't be kept; choose 1 to 80.")
    hashed = _hashed(password)
    values = {"login": login, "password": hashed, "role": found.role, "epoch": 0}
    try:
        with connection.begin_nested():
            connection.execute(
                insert(account).values(teacher_id=found.teacher_id, student_id=found.student_id, **values)
            )
    except IntegrityError as error:
        raise StoreError(f'The login "{login}" is taken; choose another.') from error
    connection.execute(delete(invitation).where(invitation.c.id == found.id))
    note(connection, who=login, what="account made", now=now)
    made = by_login(connection, login)
    if made is None:
        raise StoreError("The account could not be made.")
    return made


def sign_in(connection: Connection, login: str, password: str) -> Account | None:
    """The account of a login and password; None where they don't belong together."""
    query = select(account.c.password).where(account.c.login == login.strip().casefold())
    hashed = connection.execute(query).scalar()
    try:
        _HASHER.verify(hashed or _NOBODY, password[: _LONGEST_PASSWORD + 1])
    except (VerificationError, InvalidHashError):
        return None
    return by_login(connection, login.strip().casefold()) if hashed else None


def any_account(connection: Connection) -> bool:
    """Whether anybody has an account."""
    return connection.execute(select(account.c.id).limit(1)).first() is not None


def by_login(connection: Connection, login: str) -> Account | None:
    """The account of a login, or None."""
    row = connection.execute(select(account).where(account.c.login == login)).one_or_none()
    return _account(row) if row else None


def by_number(connection: Connection, number: int) -> Account | None:
    """The account of a number, or None."""
    row = connection.execute(select(account).where(account.c.id == number)).one_or_none()
    return _account(row) if row else None


def change_password(connection: Connection, number: int, password: str) -> None:
    """Set another password; every session of the account ends.

    Raises:
        StoreError: for a short password.
    """
    change = update(account).where(account.c.id == number)
    connection.execute(change.values(password=_hashed(password), epoch=account.c.epoch + 1))


def end_sessions(connection: Connection, number: int) -> None:
    """Sign an account out everywhere."""
    connection.execute(update(account).where(account.c.id == number).values(epoch=account.c.epoch + 1))


def note(connection: Connection, *, who: str, what: str, now: datetime, detail: str = "") -> None:
    """A line in the audit."""
    connection.execute(insert(audit).values(at=now, who=who[:80], what=what[:40], detail=detail[:200]))


def _hashed(password: str) -> str:
    if not SHORTEST_PASSWORD <= len(password) <= _LONGEST_PASSWORD:
        raise StoreError(
            f"A password of {len(password)} characters can't be used; choose {SHORTEST_PASSWORD} to "
            f"{_LONGEST_PASSWORD}, a few words are good."
        )
    return _HASHER.hash(password)


def _digest(secret: str) -> str:
    return hashlib.sha256(secret.encode("utf-8")).hexdigest()


def _account(row: Row[Any]) -> Account:
    return Account(
        id=row.id,
        login=row.login,
        role=row.role,
        teacher=row.teacher_id,
        student=row.student_id,
        epoch=row.epoch,
    )
