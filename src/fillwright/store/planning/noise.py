"""Minutes that a student can practise before the day's noise limit is reached."""

from __future__ import annotations

import tomllib
from functools import cache
from importlib.resources import files
from typing import Any

from fillwright.errors import UnknownNameError

_DAY_MINUTES = 24 * 60.0
"""Minutes of a day."""


@cache
def _read_table() -> dict[str, Any]:
    return tomllib.loads(files(__package__).joinpath("noise.toml").read_text("utf-8"))


def compute_minutes_at(level_dba: float) -> float:
    """Return the minutes a day at a sound level, by NIOSH 98-126: T = 8 h / 2 ^ ((L - 85) / 3).

    >>> compute_minutes_at(85), compute_minutes_at(88), compute_minutes_at(100)
    (480.0, 240.0, 15.0)
    """
    budget = _read_table()["budget"]
    halvings = (level_dba - budget["level_dba"]) / budget["exchange_db"]
    return float(budget["hours"] * 60 / 2**halvings)


def compute_minutes_on(instrument: str, *, protected: bool) -> float:
    """Return the minutes a day on an instrument to practise on, at most a whole day.

    Args:
        instrument: as in `noise.toml`.
        protected: True with hearing protection.

    Raises:
        UnknownNameError: for an unknown instrument.

    >>> compute_minutes_on("acoustic kit", protected=False), compute_minutes_on("acoustic kit", protected=True)
    (15.0, 480.0)
    """
    level_dba = get_loudness_dba(instrument) - (get_protection_dba() if protected else 0)
    return min(_DAY_MINUTES, compute_minutes_at(level_dba))


def get_loudness_dba(instrument: str) -> float:
    """Return the sound level of an instrument at the player's ear, in dBA.

    Raises:
        UnknownNameError: for an unknown instrument.
    """
    levels = _read_table()["instrument"]
    if instrument not in levels:
        raise UnknownNameError.of("instrument to practise on", instrument, levels)
    return float(levels[instrument])


def get_protection_dba() -> float:
    """Return how much earplugs lower the sound level, in dB."""
    return float(_read_table()["protection"]["dba"])
