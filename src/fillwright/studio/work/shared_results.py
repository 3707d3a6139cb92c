"""A cache for work that several visitors need at the same moment: it is done once, and the others wait."""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache, wraps
from threading import RLock
from typing import ParamSpec, TypeVar

_LOCKS = 64
"""Locks of each function: enough that two calls seldom share one by chance. Ours."""

_Parameters = ParamSpec("_Parameters")
_Result = TypeVar("_Result")


def share_results(maxsize: int) -> Callable[[Callable[_Parameters, _Result]], Callable[_Parameters, _Result]]:
    """Cache a function's results, and never run two calls with equal arguments at the same time.

    Calls with equal arguments share a lock. So do a few others, by chance.

    Args:
        maxsize: number of results in the cache.
    """

    def decorate(function: Callable[_Parameters, _Result]) -> Callable[_Parameters, _Result]:
        cache = lru_cache(maxsize)(function)
        locks = [RLock() for _ in range(_LOCKS)]

        @wraps(function)
        def call_once(*args: _Parameters.args, **kwargs: _Parameters.kwargs) -> _Result:
            with locks[hash((args, *kwargs.items())) % _LOCKS]:
                return cache(*args, **kwargs)  # type: ignore[arg-type]

        return call_once

    return decorate
