"""What an ear can hear and what a teacher would mention, from the table `limits.toml`."""

from __future__ import annotations

import tomllib
from functools import cache
from importlib.resources import files


@cache
def _table() -> dict[str, dict[str, float]]:
    table: dict[str, dict[str, float]] = tomllib.loads(
        files(__package__).joinpath("limits.toml").read_text("utf-8")
    )
    return table


def get_limit(name: str) -> float:
    """A number of the table by its heading and name; the unit stands in the name.

    >>> limit("flam.wide_ms")
    60.0
    """
    heading, _, key = name.partition(".")
    return _table()[heading][key]


def calculate_noticeable_ms(interval_ms: float) -> float:
    """The smallest shift of one stroke that is noticed beside strokes so far apart.

    Args:
        interval_ms: time to the neighbouring strokes.

    >>> noticed_ms(500.0), noticed_ms(120.0)
    (12.5, 6.0)
    """
    if interval_ms <= get_limit("time.even_above_ms"):
        return get_limit("time.shift_least_ms")
    return max(get_limit("time.shift_least_ms"), get_limit("time.shift_share") * interval_ms)
