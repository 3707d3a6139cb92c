"""Days and times as pages say them: those on the wall where the studio runs."""

from __future__ import annotations

import time
from datetime import UTC, date, datetime

import pytest

from fillwright.store.transaction import Transaction
from fillwright.studio.web.render import format_day, format_time

LATE = datetime(2026, 3, 1, 22, 30, tzinfo=UTC)


@pytest.fixture(params=["Asia/Tokyo", "America/Chicago"])
def wall(request, monkeypatch):
    """A zone that the machine is in, and what a late evening in UTC is there."""
    monkeypatch.setenv("TZ", request.param)
    time.tzset()
    yield {"Asia/Tokyo": (date(2026, 3, 2), "07:30"), "America/Chicago": (date(2026, 3, 1), "16:30")}[
        request.param
    ]
    monkeypatch.undo()
    time.tzset()


def test_a_moment_is_told_by_the_clock_on_the_wall(wall):
    today, clock = wall
    assert format_day(LATE) == format_day(today) == f"{today.day} March 2026"
    assert format_time(LATE) == clock


def test_today_is_the_day_on_the_wall(wall):
    assert Transaction(connection=None, teacher=1, now=LATE).today == wall[0]
