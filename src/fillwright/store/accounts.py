"""Accounts of a school: sign-in, invitations by a one-time link, and the audit."""

from __future__ import annotations

import hashlib
import secrets
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime, timedelta
from threading import BoundedSemaphore
from typing import Any

from argon2 import PasswordHasher
from argon2.exceptions import InvalidHashError, VerificationError
from sqlalchemy import Connection, Row, delete, insert, select, update
from sqlalchemy.exc import IntegrityError

from fillwright.errors import NotThereError, StoreError
from fillwright.store.database import added
from fillwright.store.schema import account, audit, invitation, student, teacher

INVITATION_DAYS = 7
SHORTEST_PASSWORD = 10
_LONGEST_PASSWORD = 200
_HASHER = PasswordHasher()
_HASHING = BoundedSemaphore(4)
"""Each check takes 64 MB of memory on purpose, so that only some are made at a time."""

_EPOCHS = 2**30

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

    @property
    def named(self) -> str:
        """As the audit names them; of a student it keeps a number only."""
        return self.login if self.student is None else f"student {self.student}"


def new_teacher(connection: Connection, now: datetime) -> int:
    """An empty desk; gives its number."""
    return added(connection, teacher, {"name": "", "created": now})


def first_teacher(connection: Connection) -> int | None:
    """The oldest desk, or None."""
    return connection.execute(select(teacher.c.id).order_by(teacher.c.id).limit(1)).scalar()


def invite(
    connection: Connection,
    *,
    now: datetime,
    teacher_number: int | None = None,
    student_number: int | None = None,
    token: Callable[[], str] = lambda: secrets.token_urlsafe(32),
) -> str:
    """Make a one-time link's token, for a student or for a teacher; an earlier link of theirs no longer works.

    Args:
        connection: inside a transaction.
        now: this moment.
        teacher_number: whose student is invited, or who is; None invites a teacher to a new desk.
        student_number: who is invited; None for a teacher.
        token: makes an unguessable text.

    Raises:
        StoreError: where the student has an account already, or is not that teacher's.
    """
    role = "teacher" if student_number is None else "student"
    if teacher_number is None:
        teacher_number = new_teacher(connection, now)
    if student_number is None:
        theirs = (invitation.c.teacher_id == teacher_number, invitation.c.student_id.is_(None))
        connection.execute(delete(invitation).where(*theirs))
    else:
        mine = select(student.c.id).where(
            student.c.id == student_number, student.c.teacher_id == teacher_number
        )
        if connection.execute(mine).one_or_none() is None:
            raise NotThereError("There is no such student.")
        if has_account(connection, student_number):
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
    # sessions of an account that is deleted must not fit one that gets its number later
    values = {"login": login, "password": hashed, "role": found.role, "epoch": secrets.randbelow(_EPOCHS)}
    try:
        with connection.begin_nested():
            connection.execute(
                insert(account).values(teacher_id=found.teacher_id, student_id=found.student_id, **values)
            )
    except IntegrityError as error:
        raise StoreError(f'The login "{login}" is taken; choose another.') from error
    connection.execute(delete(invitation).where(invitation.c.id == found.id))
    made = by_login(connection, login)
    if made is None:
        raise StoreError("The account could not be made.")
    note(connection, who=made.named, what="account made", now=now)
    return made


def reset(connection: Connection, *, now: datetime, teacher_number: int, student_number: int) -> str:
    """Take a student's account away, with its sessions, and make the token of a link for another one.

    Raises:
        StoreError: where the student is not that teacher's.
    """
    mine = (account.c.student_id == student_number, account.c.teacher_id == teacher_number)
    connection.execute(delete(account).where(*mine))
    return invite(connection, now=now, teacher_number=teacher_number, student_number=student_number)


def has_account(connection: Connection, student_number: int) -> bool:
    """Whether a student has an account."""
    query = select(account.c.id).where(account.c.student_id == student_number)
    return connection.execute(query).first() is not None


def sign_in(connection: Connection, login: str, password: str) -> Account | None:
    """The account of a login and password; None where they don't belong together."""
    query = select(account.c.password).where(account.c.login == login.strip().casefold())
    hashed = connection.execute(query).scalar()
    try:
        with _HASHING:
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
    with _HASHING:
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
