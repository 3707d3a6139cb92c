"""Tries at signing in."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime, timedelta

from fillwright.studio.web import sign_in_limits
from fillwright.studio.web.sign_in_limits import (
    FIRST_WAIT,
    FREE_TRIES,
    LOGIN_ALLOWANCE,
    LONGEST_WAIT,
    SignInTries,
    Try,
)

NOW = datetime(2026, 3, 2, 17, 0, tzinfo=UTC)
NO_WAIT = timedelta(0)
ADA = Try(login="ada", address="x")


def _fail(tries, attempt=ADA, times=1, now=NOW):
    return [tries.begin(attempt, now) for _ in range(times)]


def test_the_wait_doubles_up_to_the_longest_and_is_forgotten_after_a_day():
    tries, now, waits = SignInTries(), NOW, []
    assert _fail(tries, times=FREE_TRIES) == [NO_WAIT] * FREE_TRIES
    for _ in range(9):
        waits.append(tries.begin(ADA, now))
        now += waits[-1]
        assert tries.begin(ADA, now) == NO_WAIT
    assert waits == [min(LONGEST_WAIT, FIRST_WAIT * 2**doublings) for doublings in range(9)]
    assert _fail(tries, times=FREE_TRIES, now=now + timedelta(days=1)) == [NO_WAIT] * FREE_TRIES


def test_a_try_that_comes_too_early_counts_nowhere():
    tries = SignInTries()
    _fail(tries, times=FREE_TRIES)
    assert set(_fail(tries, times=1_000)) == {FIRST_WAIT}
    assert tries.begin(Try(login="bo", address="x"), NOW) == NO_WAIT
    assert tries.begin(Try(login="ada", address="y"), NOW) == NO_WAIT


def test_a_right_password_forgets_its_pair_and_uses_no_allowance():
    tries = SignInTries()
    for _ in range(1_000):
        assert tries.begin(ADA, NOW) == NO_WAIT
        tries.succeed(ADA, NOW)
    assert not tries._pairs.by_key
    assert not tries._addresses.by_key
    assert not tries._logins.by_key


def test_one_login_from_very_many_addresses_waits_except_on_a_remembered_device():
    tries = SignInTries()
    for number in range(LOGIN_ALLOWANCE.most):
        assert tries.begin(Try(login="ada", address=f"{number}"), NOW) == NO_WAIT
    assert tries.begin(Try(login="ada", address="new"), NOW) == LOGIN_ALLOWANCE.every
    assert tries.begin(Try(login="ada", address="new", device="d"), NOW) == NO_WAIT
    assert tries.begin(Try(login="ada", address="new"), NOW + LOGIN_ALLOWANCE.every) == NO_WAIT


def test_one_guesser_who_waits_each_time_never_uses_up_the_allowance_of_a_login():
    tries, now = SignInTries(), NOW
    for _ in range(500):
        now += tries.begin(ADA, now)
        assert tries.begin(Try(login="ada", address="home"), now) == NO_WAIT
        tries.succeed(Try(login="ada", address="home"), now)


def test_many_at_once_are_not_more_than_their_number():
    tries = SignInTries()
    with ThreadPoolExecutor(20) as pool:
        waits = list(pool.map(lambda _: tries.begin(ADA, NOW), range(200)))
    assert waits.count(NO_WAIT) == FREE_TRIES


def test_only_so_many_keys_are_kept(monkeypatch):
    monkeypatch.setattr(sign_in_limits, "_MOST_KEYS", 10)
    tries = SignInTries()
    for number in range(50):
        _fail(tries, Try(login=f"{number}", address=f"{number}"), FREE_TRIES)
    assert [len(c.by_key) for c in (tries._pairs, tries._addresses, tries._logins)] == [10, 10, 10]
    assert tries.begin(Try(login="0", address="0"), NOW) == NO_WAIT
    assert tries.begin(Try(login="49", address="49"), NOW) == FIRST_WAIT
