"""Tries at signing in."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime, timedelta

from fillwright.studio.web.sign_in_limits import WAIT, SignInTries

NOW = datetime(2026, 3, 2, 17, 0, tzinfo=UTC)
MOST = {"login ada": 3, "address x": 5}


def test_a_key_has_so_many_tries_until_it_waits():
    tries = SignInTries()
    assert [tries.begin(MOST, NOW) for _ in range(4)] == [True, True, True, False]
    assert not tries.begin(MOST, NOW + WAIT - timedelta(seconds=1))
    assert tries.begin(MOST, NOW + WAIT)


def test_a_try_that_is_refused_counts_under_no_key():
    tries = SignInTries()
    for _ in range(9):
        tries.begin({"login ada": 3, "address x": 5}, NOW)
    assert [tries.begin({"login bo": 3, "address x": 5}, NOW) for _ in range(3)] == [True, True, False]


def test_a_right_password_undoes_its_own_try_only():
    tries = SignInTries()
    for second in range(5):
        tries.begin({"address x": 5}, NOW + timedelta(seconds=second))
    tries.undo({"address x": 5}, NOW + timedelta(seconds=4))
    later = NOW + timedelta(seconds=5)
    assert [tries.begin({"address x": 5}, later) for _ in range(2)] == [True, False]


def test_many_at_once_are_not_more_than_their_number():
    tries = SignInTries()
    with ThreadPoolExecutor(20) as pool:
        let = list(pool.map(lambda _: tries.begin({"login ada": 5}, NOW), range(200)))
    assert sum(let) == 5


def test_only_so_many_keys_are_kept(monkeypatch):
    monkeypatch.setattr("fillwright.studio.web.sign_in_limits._MOST_KEYS", 10)
    tries = SignInTries()
    for number in range(50):
        tries.begin({f"login {number}": 1}, NOW)
    assert len(tries._moments) == 10
    assert tries.begin({"login 0": 1}, NOW)
    assert not tries.begin({"login 49": 1}, NOW)
