"""Every test of the store runs on SQLite and on PostgreSQL."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest
from sqlalchemy import create_engine, text

from fillwright.store.database import open_store
from fillwright.store.transaction import begin_reading, begin_writing, ensure_teacher


@pytest.fixture(params=["sqlite", "postgresql"])
def where(request, tmp_path):
    """An empty place for a store."""
    if request.param == "sqlite":
        yield tmp_path / "studio.db"
        return
    url = request.getfixturevalue("postgres_url")
    yield url
    engine = create_engine(url.replace("postgresql://", "postgresql+psycopg://"))
    with engine.begin() as connection:
        connection.execute(text("DROP SCHEMA public CASCADE"))
        connection.execute(text("CREATE SCHEMA public"))
    engine.dispose()


@pytest.fixture
def store(where):
    """An open store, empty."""
    opened = open_store(where)
    yield opened
    opened.close()


class Ticking:
    """A clock that tests set."""

    def __init__(self):
        self.now = datetime(2026, 3, 2, 17, 0, tzinfo=UTC)

    def __call__(self):
        return self.now

    def pass_days(self, days):
        self.now += timedelta(days=days)


@pytest.fixture
def clock():
    return Ticking()


@pytest.fixture
def transactions(store, clock):
    """Begin transactions of the only teacher, or of another: `with transactions(write=True) as transaction`."""
    teacher = ensure_teacher(store, clock)

    def begin(*, write=False, of=None):
        return (begin_writing if write else begin_reading)(store, of or teacher, clock)

    return begin
