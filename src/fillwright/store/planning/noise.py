"""How long a student may practise before the day's noise is used up."""

from __future__ import annotations

import tomllib
from functools import cache
from importlib.resources import files
from typing import Any

from fillwright.errors import UnknownNameError


@cache
def _table() -> dict[str, Any]:
    return tomllib.loads(files(__package__).joinpath("noise.toml").read_text("utf-8"))


def minutes_at(level_dba: float) -> float:
    """Minutes a day at a level, after NIOSH 98-126: T = 8 h / 2 ^ ((L - 85) / 3).

    >>> minutes_at(85), minutes_at(88), minutes_at(100)
    (480.0, 240.0, 15.0)
    """
    budget = _table()["budget"]
    halvings = (level_dba - budget["level_dba"]) / budget["exchange_db"]
    return float(budget["hours"] * 60 / 2**halvings)


def minutes_on(instrument: str, *, protected: bool) -> float:
    """Minutes a day on what a student practises on, at most a whole day.

    Raises:
        UnknownNameError: for an instrument nobody knows.

    >>> minutes_on("acoustic kit", protected=False), minutes_on("acoustic kit", protected=True)
    (15.0, 480.0)
    """
    return min(
        24 * 60.0, minutes_at(level_dba(instrument) - (_table()["protection"]["dba"] if protected else 0))
    )


def level_dba(instrument: str) -> float:
    """How loud it is at the player's ear.

    Raises:
        UnknownNameError: for an instrument nobody knows.
    """
    levels = _table()["instrument"]
    if instrument not in levels:
        raise UnknownNameError.of("instrument to practise on", instrument, levels)
    return float(levels[instrument])
