"""How often a sign-in may be tried before it has to wait."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Mapping
from datetime import datetime, timedelta
from threading import Lock

MOST_FOR_LOGIN = 5
MOST_FROM_ADDRESS = 40
"""A school may stand behind one address, so an address may fail as often as several forgetful students."""

WAIT = timedelta(minutes=15)
_MOST_KEPT = 10_000


class Tries:
    """Sign-ins that failed or are going on, by key, the oldest forgotten. Mutable, and safe among threads.

    A try counts from its beginning, so that many at once are not more than their number.
    """

    def __init__(self) -> None:
        """None so far."""
        self._found: OrderedDict[str, tuple[datetime, ...]] = OrderedDict()
        self._lock = Lock()

    def begin(self, most: Mapping[str, int], now: datetime) -> bool:
        """Count a try under each key; where one has too many of late, none is counted and the answer is no."""
        with self._lock:
            recent = {key: self._recent(key, now) for key in most}
            if any(len(recent[key]) >= most[key] for key in most):
                return False
            for key, moments in recent.items():
                self._keep(key, (*moments, now))
            return True

    def succeeded(self, most: Mapping[str, int], now: datetime) -> None:
        """Take a try back that was none: the password was right."""
        with self._lock:
            for key in most:
                moments = list(self._recent(key, now))
                if now in moments:
                    moments.remove(now)
                self._keep(key, tuple(moments))

    def forget(self, key: str) -> None:
        """Forget every try of a key."""
        with self._lock:
            self._found.pop(key, None)

    def _keep(self, key: str, moments: tuple[datetime, ...]) -> None:
        if not moments:
            self._found.pop(key, None)
            return
        self._found[key] = moments
        self._found.move_to_end(key)
        while len(self._found) > _MOST_KEPT:
            self._found.popitem(last=False)

    def _recent(self, key: str, now: datetime) -> tuple[datetime, ...]:
        return tuple(moment for moment in self._found.get(key, ()) if now - moment < WAIT)
