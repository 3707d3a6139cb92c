"""Work that several visitors ask for at the same moment is done once; the others wait for it alone."""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache, wraps
from threading import RLock
from typing import ParamSpec, TypeVar

_LOCKS = 64

_Given = ParamSpec("_Given")
_Made = TypeVar("_Made")


def once(maxsize: int) -> Callable[[Callable[_Given, _Made]], Callable[_Given, _Made]]:
    """Keep what a function made, and let no two threads make the same.

    Calls of the same arguments share one of a number of locks; so do a few others, by chance.

    Args:
        maxsize: how many results are kept.
    """

    def kept(make: Callable[_Given, _Made]) -> Callable[_Given, _Made]:
        cached = lru_cache(maxsize)(make)
        locks = [RLock() for _ in range(_LOCKS)]

        @wraps(make)
        def called(*given: _Given.args, **named: _Given.kwargs) -> _Made:
            with locks[hash((given, *named.items())) % _LOCKS]:
                return cached(*given, **named)  # type: ignore[arg-type]

        return called

    return kept
