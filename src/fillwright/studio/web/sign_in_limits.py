"""The limits on sign-ins: wrong passwords make a visitor wait, longer each time, and no one else.

Wrong passwords are counted for each pair of login and network address. A device that signed in before is
counted by itself, so that no one else makes it wait. Two allowances, far above honest mistakes, stop guesses at
many logins from one address, and at one login from many addresses.
"""

from __future__ import annotations

from collections import OrderedDict
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from threading import Lock

FREE_TRIES = 5
"""Wrong passwords before anybody waits. Ours."""

FIRST_WAIT = timedelta(seconds=15)
"""Wait after FREE_TRIES wrong passwords; each further one doubles it. Ours."""

LONGEST_WAIT = timedelta(minutes=15)
"""Longest wait. Ours."""

_FORGOTTEN = timedelta(days=1)
"""Time after the last wrong password until a pair starts again. Ours."""

_MOST_DOUBLINGS = 10
"""Doublings of the wait that are calculated; fewer reach LONGEST_WAIT."""

_MOST_KEYS = 10_000
"""Pairs, and addresses, and logins that are remembered: about 2 MB each. Ours."""

_NO_WAIT = timedelta(0)  # says that a try may begin


@dataclass(frozen=True, slots=True)
class Allowance:
    """Wrong passwords that are allowed at once, and the time that gives back one of them."""

    most: int
    every: timedelta


ADDRESS_ALLOWANCE = Allowance(most=300, every=timedelta(seconds=1))
"""For all logins from one address: a school of 300, each mistyping once in the same minute. Ours."""

LOGIN_ALLOWANCE = Allowance(most=100, every=timedelta(minutes=15))
"""For one login from all addresses: NIST SP 800-63B (2017), 5.2.2, allows 100 (from memory)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Try:
    """One sign-in.

    Attributes:
        login: that was typed.
        address: of the network.
        device: number of a device that signed in to this login before; "" for any other.
    """

    login: str
    address: str
    device: str = ""

    @property
    def pair(self) -> str:
        """Key under which wrong passwords are counted."""
        return f"device {self.device} {self.login}" if self.device else f"address {self.address} {self.login}"


@dataclass(frozen=True, slots=True)
class _Count:
    """Wrong passwords so far, those that were given back subtracted, and the time of the last one."""

    number: float
    last: datetime


@dataclass(slots=True)
class _Counts:
    """Counts by key; the oldest are dropped. Mutable."""

    by_key: OrderedDict[str, _Count] = field(default_factory=OrderedDict)

    def save(self, key: str, number: float, last: datetime) -> None:
        """Save a count, or drop it if nothing is left of it."""
        self.by_key.pop(key, None)
        if number > 0:
            self.by_key[key] = _Count(number, last)
        while len(self.by_key) > _MOST_KEYS:
            self.by_key.popitem(last=False)


class SignInTries:
    """Sign-ins that failed or are going on. Mutable, and safe among threads.

    A try counts from its start, so that many at the same moment can't exceed a limit.
    """

    def __init__(self) -> None:
        """Start without any tries."""
        self._pairs, self._addresses, self._logins = _Counts(), _Counts(), _Counts()
        self._lock = Lock()

    def begin(self, attempt: Try, now: datetime) -> timedelta:
        """Count a try and return a wait of zero; return the wait, counting nothing, if it comes too early."""
        with self._lock:
            pair = self._pairs.by_key.get(attempt.pair)
            if pair and now - pair.last >= _FORGOTTEN:
                pair = None
            waits = [pair.last + calculate_wait(int(pair.number)) - now] if pair else []
            used = self._calculate_used(attempt, now)
            waits += [allowance.every * (number + 1 - allowance.most) for _, _, allowance, number in used]
            longest = max(waits, default=_NO_WAIT)
            if longest > _NO_WAIT:
                return longest
            self._pairs.save(attempt.pair, (pair.number if pair else 0) + 1, now)
            for counts, key, _, number in used:
                counts.save(key, number + 1, now)
            return _NO_WAIT

    def succeed(self, attempt: Try, now: datetime) -> None:
        """Forget the tries of a pair, because its password was right; no allowance is used."""
        with self._lock:
            self._pairs.save(attempt.pair, 0, now)
            for counts, key, _, number in self._calculate_used(attempt, now):
                counts.save(key, number - 1, now)

    def _calculate_used(self, attempt: Try, now: datetime) -> list[tuple[_Counts, str, Allowance, float]]:
        """Return what is used of each allowance now. A device that signed in before uses none."""
        if attempt.device:
            return []
        used = []
        for counts, key, allowance in (
            (self._addresses, attempt.address, ADDRESS_ALLOWANCE),
            (self._logins, attempt.login, LOGIN_ALLOWANCE),
        ):
            count = counts.by_key.get(key)
            number = max(0.0, count.number - (now - count.last) / allowance.every) if count else 0.0
            used.append((counts, key, allowance, number))
        return used


def calculate_wait(wrong: int) -> timedelta:
    """Return the wait after so many wrong passwords.

    >>> [calculate_wait(wrong).seconds for wrong in (4, 5, 6, 10, 11, 90)]
    [0, 15, 30, 480, 900, 900]
    """
    if wrong < FREE_TRIES:
        return _NO_WAIT
    doublings = min(wrong - FREE_TRIES, _MOST_DOUBLINGS)
    return min(LONGEST_WAIT, FIRST_WAIT * (1 << doublings))


def describe_wait(wait: timedelta) -> str:
    """Return a wait in words, rounded up.

    >>> [describe_wait(timedelta(seconds=seconds)) for seconds in (1, 29.5, 421)]
    ['1 second', '30 seconds', '8 minutes']
    """
    seconds = -(-wait // timedelta(seconds=1))
    if seconds < 120:
        return "1 second" if seconds == 1 else f"{seconds} seconds"
    return f"{-(-seconds // 60)} minutes"
