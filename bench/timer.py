"""Duration of a call: the median of several runs."""

from __future__ import annotations

import statistics
import time
from collections.abc import Callable


def median_seconds(work: Callable[[], object], *, runs: int) -> float:
    """Seconds of the middle one of some runs."""
    times = []
    for _ in range(runs):
        start = time.perf_counter()
        work()
        times.append(time.perf_counter() - start)
    return statistics.median(times)
