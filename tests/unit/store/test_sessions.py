"""Sessions of accounts, on both databases."""

from __future__ import annotations

from datetime import timedelta

import pytest

from fillwright.errors import NotThereError
from fillwright.store.accounts import accept_invitation, invite
from fillwright.store.archive.rows import list_tables
from fillwright.store.schema import metadata
from fillwright.store.schema import session as sessions
from fillwright.store.sessions import (
    MOST_SESSIONS,
    SESSION_DAYS,
    add_session,
    end_other_sessions,
    end_session,
    end_session_of_token,
    find_session_use,
    list_sessions,
    write_session_use,
)


@pytest.fixture
def accounts(store, clock):
    """Add two accounts and return their numbers."""
    with store.begin_writing() as connection:
        return [
            accept_invitation(
                connection,
                invite(connection, now=clock()),
                login=login,
                password="four wooden spoons",
                now=clock(),
            ).id
            for login in ("ada", "bo")
        ]


def test_a_session_belongs_to_one_account_and_ends_in_time(store, clock, accounts):
    ada, bo = accounts
    start = clock()
    with store.begin_writing() as connection:
        add_session(connection, ada, "a", device="phone", now=start)
        assert find_session_use(connection, ada, "a", start) == start
        assert find_session_use(connection, bo, "a", start) is None
        assert find_session_use(connection, ada, "b", start) is None
        later = start + timedelta(days=SESSION_DAYS) - timedelta(seconds=1)
        write_session_use(connection, "a", later)
        assert find_session_use(connection, ada, "a", later) == later
        assert find_session_use(connection, ada, "a", start + timedelta(days=SESSION_DAYS)) is None
        assert list_sessions(connection, ada, "a", start + timedelta(days=SESSION_DAYS)) == ()


def test_sessions_are_listed_and_ended_by_their_owner_only(store, clock, accounts):
    ada, bo = accounts
    with store.begin_writing() as connection:
        for account, token in ((ada, "a"), (ada, "b"), (ada, "c"), (bo, "d")):
            add_session(connection, account, token, device=f"device {token}", now=clock())
        write_session_use(connection, "b", clock() + timedelta(hours=1))
        listed = list_sessions(connection, ada, "a", clock())
        assert [(each.device, each.is_current) for each in listed] == [
            ("device b", False),
            ("device c", False),
            ("device a", True),
        ]
        with pytest.raises(NotThereError):
            end_session(connection, bo, listed[0].id)
        end_session(connection, ada, listed[0].id)
        end_session_of_token(connection, "c")
        add_session(connection, ada, "e", device="tablet", now=clock())
        end_other_sessions(connection, ada, "a")
        assert [each.device for each in list_sessions(connection, ada, "a", clock())] == ["device a"]
        assert len(list_sessions(connection, bo, "d", clock())) == 1


def test_old_sessions_and_those_above_the_limit_go(store, clock, accounts):
    ada, bo = accounts
    with store.begin_writing() as connection:
        add_session(connection, ada, "old", device="", now=clock() - timedelta(days=SESSION_DAYS))
        for account in (bo, ada):
            for number in range(MOST_SESSIONS + 5):
                add_session(connection, account, f"{account} {number}", device="x" * 99, now=clock())
        rows = connection.execute(sessions.select()).all()
        assert [sum(row.account_id == account for row in rows) for account in accounts] == [MOST_SESSIONS] * 2
        assert find_session_use(connection, ada, f"{ada} 4", clock()) is None
        assert find_session_use(connection, ada, f"{ada} 5", clock()) == clock()


def test_backups_have_every_table_but_sessions():
    assert set(metadata.sorted_tables) - set(list_tables()) == {sessions}
