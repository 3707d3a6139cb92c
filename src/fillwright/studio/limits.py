"""How often a sign-in may fail before it has to wait."""

from __future__ import annotations

from collections import OrderedDict
from datetime import datetime, timedelta
from threading import Lock

MOST_FAILURES = 5
WAIT = timedelta(minutes=15)
_MOST_KEPT = 10_000


class Failures:
    """Failed sign-ins by login and by address, the oldest forgotten. Mutable, and safe among threads."""

    def __init__(self) -> None:
        """None so far."""
        self._found: OrderedDict[str, list[datetime]] = OrderedDict()
        self._lock = Lock()

    def must_wait(self, key: str, now: datetime) -> bool:
        """Whether there were too many of late."""
        with self._lock:
            return len(self._recent(key, now)) >= MOST_FAILURES

    def failed(self, key: str, now: datetime) -> None:
        """One more."""
        with self._lock:
            self._found[key] = [*self._recent(key, now), now]
            self._found.move_to_end(key)
            while len(self._found) > _MOST_KEPT:
                self._found.popitem(last=False)

    def succeeded(self, key: str) -> None:
        """Forget them."""
        with self._lock:
            self._found.pop(key, None)

    def _recent(self, key: str, now: datetime) -> list[datetime]:
        return [moment for moment in self._found.get(key, ()) if now - moment < WAIT]
