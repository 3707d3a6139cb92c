"""The limit on sign-ins: too many wrong passwords, and a visitor has to wait."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Mapping
from datetime import datetime, timedelta
from threading import Lock

MOST_TRIES_PER_LOGIN = 5
"""Wrong passwords for one login within WAIT. Ours."""

MOST_TRIES_PER_ADDRESS = 40
"""Wrong passwords from one network address within WAIT: a whole school may share one. Ours."""

WAIT = timedelta(minutes=15)
"""Time after which a try no longer counts. Ours."""

_MOST_KEYS = 10_000
"""Logins and addresses that are remembered; about 1 MB. Ours."""


class SignInTries:
    """Recent sign-ins that failed or are going on, by key. Mutable, and safe among threads.

    A try counts from its start, so that many at the same moment can't exceed the limit.
    """

    def __init__(self) -> None:
        """Start without any tries."""
        self._moments: OrderedDict[str, tuple[datetime, ...]] = OrderedDict()
        self._lock = Lock()

    def begin(self, limits: Mapping[str, int], now: datetime) -> bool:
        """Count a try under each key and return True; return False, counting none, if one key is at its limit.

        Args:
            limits: most tries for each key.
            now: current time.
        """
        with self._lock:
            recent = {key: self._list_recent(key, now) for key in limits}
            if any(len(recent[key]) >= limits[key] for key in limits):
                return False
            for key, moments in recent.items():
                self._save(key, (*moments, now))
            return True

    def undo(self, limits: Mapping[str, int], now: datetime) -> None:
        """Undo a try, because its password was right."""
        with self._lock:
            for key in limits:
                moments = list(self._list_recent(key, now))
                if now in moments:
                    moments.remove(now)
                self._save(key, tuple(moments))

    def forget(self, key: str) -> None:
        """Forget every try of a key."""
        with self._lock:
            self._moments.pop(key, None)

    def _save(self, key: str, moments: tuple[datetime, ...]) -> None:
        if not moments:
            self._moments.pop(key, None)
            return
        self._moments[key] = moments
        self._moments.move_to_end(key)
        while len(self._moments) > _MOST_KEYS:
            self._moments.popitem(last=False)

    def _list_recent(self, key: str, now: datetime) -> tuple[datetime, ...]:
        return tuple(moment for moment in self._moments.get(key, ()) if now - moment < WAIT)
