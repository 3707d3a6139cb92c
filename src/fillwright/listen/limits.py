"""The smallest differences that a listener notices or a teacher mentions, from the table `limits.toml`."""

from __future__ import annotations

import tomllib
from functools import cache
from importlib.resources import files


@cache
def _read_table() -> dict[str, dict[str, float]]:
    table: dict[str, dict[str, float]] = tomllib.loads(
        files(__package__).joinpath("limits.toml").read_text("utf-8")
    )
    return table


def get_limit(name: str) -> float:
    """Return a number of the table by "heading.key"; the key ends with the unit.

    >>> get_limit("flam.wide_ms")
    60.0
    """
    heading, _, key = name.partition(".")
    return _read_table()[heading][key]


def calculate_noticeable_ms(interval_ms: float) -> float:
    """Return the smallest shift of one stroke that is noticed, in ms (source in `limits.toml`).

    Args:
        interval_ms: time to the neighbouring strokes.

    >>> calculate_noticeable_ms(500.0), calculate_noticeable_ms(120.0)
    (12.5, 6.0)
    """
    if interval_ms <= get_limit("time.even_above_ms"):
        return get_limit("time.shift_least_ms")
    return max(get_limit("time.shift_least_ms"), get_limit("time.shift_share") * interval_ms)
