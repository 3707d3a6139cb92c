"""Values of a report on many strokes together: statistics, and how eighths swing."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum


class Swing(Enum):
    """Feel of the groove's eighths."""

    WRITTEN = "as written"
    STRAIGHT = "straight, but the music is a shuffle"
    SHUFFLE = "swung, but the music is straight eighths"


@dataclass(frozen=True, slots=True, kw_only=True)
class Statistics:
    """Mean and standard deviation of a value measured several times.

    Attributes:
        mean: of all values.
        deviation: standard deviation; None for a single value.
        count: number of values.
    """

    mean: float
    deviation: float | None
    count: int

    @property
    def error(self) -> float | None:
        """Standard error of the mean."""
        return None if self.deviation is None else self.deviation / float(self.count) ** 0.5
