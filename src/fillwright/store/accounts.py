"""Accounts of a school: sign-in, invitations by a one-time link, and the audit.

These functions work before anybody is signed in, so they take a connection, not a teacher's transaction.
"""

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
from fillwright.store.database import add_row
from fillwright.store.schema import account, audit, invitation, session, student, teacher

INVITATION_DAYS = 7
"""Days until an invitation expires. Ours."""

SHORTEST_PASSWORD = 10
"""Characters; NIST SP 800-63B (2017), 5.1.1.1, asks for at least 8 (from memory)."""

_LONGEST_PASSWORD = 200
"""Characters. Ours."""

_LONGEST_LOGIN = 80
"""Characters of a login, as the table has room for."""

_HASHER = PasswordHasher()
_HASHING = BoundedSemaphore(4)
"""Limit on password checks at the same time: each needs 64 MB of memory, which makes guessing expensive."""

_EPOCHS = 2**30
"""First epochs that are drawn from at random; they fit PostgreSQL's `integer`."""

_UNKNOWN_LOGIN_HASH = _HASHER.hash(secrets.token_hex(16))
"""Hash that is checked for an unknown login, so that the answer takes as long."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Account:
    """An account.

    Attributes:
        id: of the account.
        login: as typed at sign-in.
        role: "teacher" or "student".
        teacher: number of the teacher whose data it opens.
        student: number of the student; None for a teacher.
        epoch: of its sessions.
    """

    id: int
    login: str
    role: str
    teacher: int
    student: int | None
    epoch: int

    @property
    def audit_name(self) -> str:
        """Name in the audit; a student's number instead of their login."""
        return self.login if self.student is None else f"student {self.student}"


def add_teacher(connection: Connection, now: datetime) -> int:
    """Add a teacher without any data and return the number."""
    return add_row(connection, teacher, {"name": "", "created": now})


def find_first_teacher(connection: Connection) -> int | None:
    """Return the number of the first teacher, or None."""
    return connection.execute(select(teacher.c.id).order_by(teacher.c.id).limit(1)).scalar()


def invite(
    connection: Connection,
    *,
    now: datetime,
    teacher_number: int | None = None,
    student_number: int | None = None,
    token: Callable[[], str] = lambda: secrets.token_urlsafe(32),
) -> str:
    """Make the token of a one-time link, for a student or a teacher. An earlier link of theirs stops working.

    Args:
        connection: inside a transaction.
        now: current time.
        teacher_number: the student's teacher, or the teacher to invite; None adds a teacher.
        student_number: student to invite; None for a teacher.
        token: makes an unguessable text.

    Raises:
        StoreError: if the student has an account already, or belongs to another teacher.
    """
    role = "teacher" if student_number is None else "student"
    if teacher_number is None:
        teacher_number = add_teacher(connection, now)
    if student_number is None:
        theirs = (invitation.c.teacher_id == teacher_number, invitation.c.student_id.is_(None))
        connection.execute(delete(invitation).where(*theirs))
    else:
        query = select(student.c.id).where(
            student.c.id == student_number, student.c.teacher_id == teacher_number
        )
        if connection.execute(query).one_or_none() is None:
            raise NotThereError("There is no such student.")
        if has_account(connection, student_number):
            raise StoreError("This student has an account already.")
        connection.execute(delete(invitation).where(invitation.c.student_id == student_number))
    secret = token()
    values = {"role": role, "teacher_id": teacher_number, "student_id": student_number}
    until = now + timedelta(days=INVITATION_DAYS)
    connection.execute(insert(invitation).values(token=_hash_token(secret), until=until, **values))
    return secret


def accept_invitation(
    connection: Connection, secret: str, *, login: str, password: str, now: datetime
) -> Account:
    """Use an invitation: make an account with a login and password.

    Raises:
        StoreError: for a link that is unknown, used or expired, a login that is taken, or a short password.
    """
    query = select(invitation).where(invitation.c.token == _hash_token(secret), invitation.c.until >= now)
    invited = connection.execute(query).one_or_none()
    if invited is None:
        raise StoreError("This link was used already or has expired. Ask for a new one.")
    login = login.strip().casefold()
    if not 0 < len(login) <= _LONGEST_LOGIN:
        raise StoreError(f"The login has {len(login)} characters; choose 1 to {_LONGEST_LOGIN}.")
    password_hash = _hash_password(password)
    # sessions of a deleted account must not fit a new account with the same number
    epoch = secrets.randbelow(_EPOCHS)
    values = {"login": login, "password": password_hash, "role": invited.role, "epoch": epoch}
    try:
        with connection.begin_nested():
            connection.execute(
                insert(account).values(teacher_id=invited.teacher_id, student_id=invited.student_id, **values)
            )
    except IntegrityError as error:
        raise StoreError(f'The login "{login}" is taken; choose another.') from error
    connection.execute(delete(invitation).where(invitation.c.id == invited.id))
    new_account = find_account_by_login(connection, login)
    if new_account is None:
        raise StoreError("The account can't be added. Open the link again.")
    write_audit(connection, who=new_account.audit_name, action="account made", now=now)
    return new_account


def reset_account(connection: Connection, *, now: datetime, teacher_number: int, student_number: int) -> str:
    """Delete a student's account with its sessions, and make the token of a link for a new account.

    Raises:
        StoreError: if the student belongs to another teacher.
    """
    conditions = (account.c.student_id == student_number, account.c.teacher_id == teacher_number)
    connection.execute(delete(account).where(*conditions))
    return invite(connection, now=now, teacher_number=teacher_number, student_number=student_number)


def has_account(connection: Connection, student_number: int) -> bool:
    """Return True if a student has an account."""
    query = select(account.c.id).where(account.c.student_id == student_number)
    return connection.execute(query).first() is not None


def sign_in(connection: Connection, login: str, password: str) -> Account | None:
    """Return the account of a login and password, None if they don't match."""
    query = select(account.c.password).where(account.c.login == login.strip().casefold())
    password_hash = connection.execute(query).scalar()
    try:
        with _HASHING:
            _HASHER.verify(password_hash or _UNKNOWN_LOGIN_HASH, password[: _LONGEST_PASSWORD + 1])
    except (VerificationError, InvalidHashError):
        return None
    return find_account_by_login(connection, login.strip().casefold()) if password_hash else None


def has_any_account(connection: Connection) -> bool:
    """Return True if there is at least one account."""
    return connection.execute(select(account.c.id).limit(1)).first() is not None


def find_account_by_login(connection: Connection, login: str) -> Account | None:
    """Return the account of a login, or None."""
    row = connection.execute(select(account).where(account.c.login == login)).one_or_none()
    return _read_account(row) if row else None


def find_account(connection: Connection, number: int) -> Account | None:
    """Return the account of a number, or None."""
    row = connection.execute(select(account).where(account.c.id == number)).one_or_none()
    return _read_account(row) if row else None


def change_password(connection: Connection, number: int, password: str) -> None:
    """Set a new password and end every session of the account.

    Raises:
        StoreError: for a short password.
    """
    connection.execute(delete(session).where(session.c.account_id == number))
    change = update(account).where(account.c.id == number)
    connection.execute(change.values(password=_hash_password(password), epoch=account.c.epoch + 1))


def write_audit(connection: Connection, *, who: str, action: str, now: datetime, detail: str = "") -> None:
    """Write a line into the audit, each text cut to the length of its column."""
    connection.execute(insert(audit).values(at=now, who=who[:80], what=action[:40], detail=detail[:200]))


def _hash_password(password: str) -> str:
    if not SHORTEST_PASSWORD <= len(password) <= _LONGEST_PASSWORD:
        raise StoreError(
            f"The password has {len(password)} characters; choose {SHORTEST_PASSWORD} to {_LONGEST_PASSWORD}. "
            "A few words are good."
        )
    with _HASHING:
        return _HASHER.hash(password)


def _hash_token(secret: str) -> str:
    return hashlib.sha256(secret.encode("utf-8")).hexdigest()


def _read_account(row: Row[Any]) -> Account:
    return Account(
        id=row.id,
        login=row.login,
        role=row.role,
        teacher=row.teacher_id,
        student=row.student_id,
        epoch=row.epoch,
    )
