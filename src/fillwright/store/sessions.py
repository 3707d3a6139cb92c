"""Sessions of accounts: one for each device that is signed in, listed and ended by their owner."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from sqlalchemy import Connection, delete, insert, select, update

from fillwright.errors import NotThereError
from fillwright.store.schema import session

SESSION_DAYS = 14
"""Days until a session ends. Ours."""

MOST_SESSIONS = 20
"""Sessions of one account; the oldest end first. Ours."""

_SEEN_EVERY = timedelta(minutes=10)
"""Time until a session's last use is written again, so that not every page waits to write. Ours."""

_LONGEST_DEVICE = 40
"""Characters of the words for a device, as the table has room for."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Session:
    """A session.

    Attributes:
        id: of the session.
        device: words for the device, such as "computer".
        created: time of the sign-in.
        seen: time of its last use, to ten minutes.
        is_current: True for the session that asks.
    """

    id: int
    device: str
    created: datetime
    seen: datetime
    is_current: bool


def add_session(connection: Connection, account_number: int, token: str, *, device: str, now: datetime) -> None:
    """Add the session of a token, and end those of the account that are too old or too many."""
    connection.execute(
        insert(session).values(
            account_id=account_number,
            token=_make_digest(token),
            device=device[:_LONGEST_DEVICE],
            created=now,
            seen=now,
        )
    )
    theirs = session.c.account_id == account_number
    newest = select(session.c.id).where(theirs).order_by(session.c.id.desc()).limit(MOST_SESSIONS)
    kept = connection.execute(newest).scalars().all()
    connection.execute(
        delete(session).where(theirs, session.c.id.not_in(kept) | (session.c.created <= _find_oldest(now)))
    )


def find_session_use(connection: Connection, account_number: int, token: str, now: datetime) -> datetime | None:
    """Return the last use of an account's session, None if there is no such session or it has ended."""
    query = select(session.c.seen).where(
        session.c.token == _make_digest(token),
        session.c.account_id == account_number,
        session.c.created > _find_oldest(now),
    )
    return connection.execute(query).scalar()


def needs_new_use(seen: datetime, now: datetime) -> bool:
    """Return True if the last use of a session is so long ago that it should be written again."""
    return now - seen >= _SEEN_EVERY


def write_session_use(connection: Connection, token: str, now: datetime) -> None:
    """Write that a session is used now."""
    connection.execute(update(session).where(session.c.token == _make_digest(token)).values(seen=now))


def list_sessions(connection: Connection, account_number: int, token: str, now: datetime) -> Sequence[Session]:
    """List the sessions of an account, those that were used last first.

    Args:
        connection: inside a transaction.
        account_number: of the account.
        token: of the session that asks.
        now: current time.
    """
    query = (
        select(session)
        .where(session.c.account_id == account_number, session.c.created > _find_oldest(now))
        .order_by(session.c.seen.desc(), session.c.id.desc())
    )
    return tuple(
        Session(
            id=row.id,
            device=row.device,
            created=row.created,
            seen=row.seen,
            is_current=row.token == _make_digest(token),
        )
        for row in connection.execute(query)
    )


def end_session(connection: Connection, account_number: int, number: int) -> None:
    """End one session of an account.

    Raises:
        NotThereError: if the account has no such session.
    """
    conditions = (session.c.id == number, session.c.account_id == account_number)
    if connection.execute(delete(session).where(*conditions)).rowcount == 0:
        raise NotThereError("There is no such session; it may have ended.")


def end_session_of_token(connection: Connection, token: str) -> None:
    """End the session of a token, if there is one."""
    connection.execute(delete(session).where(session.c.token == _make_digest(token)))


def end_other_sessions(connection: Connection, account_number: int, token: str) -> None:
    """End every session of an account except that of a token."""
    conditions = (session.c.account_id == account_number, session.c.token != _make_digest(token))
    connection.execute(delete(session).where(*conditions))


def _find_oldest(now: datetime) -> datetime:
    """Return the time of the oldest sign-in whose session has not ended."""
    return now - timedelta(days=SESSION_DAYS)


def _make_digest(token: str) -> str:
    return hashlib.sha256(token.encode("utf-8")).hexdigest()
