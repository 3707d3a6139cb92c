"""Small TOML tables that users write about their sounds."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

from fillwright.errors import SoundsError

LARGEST_BYTES = 256_000
"""The largest table that is read."""


def read_table(path: Path) -> dict[str, Any]:
    """The values of a table.

    Raises:
        SoundsError: for a file that is missing, no file, too large, no text or no TOML.
    """
    try:
        if path.exists() and not path.is_file():
            raise SoundsError(f'"{path}" is not a file; name a TOML table.')
        with path.open("rb") as file:
            data = file.read(LARGEST_BYTES + 1)
    except FileNotFoundError as error:
        raise SoundsError(f'There is no file "{path}"; check its name and folder.') from error
    except (OSError, ValueError) as error:
        raise SoundsError(f'"{path}" can\'t be read; check its name and whether you may read it.') from error
    if len(data) > LARGEST_BYTES:
        raise SoundsError(
            f"{path.name} has more than {LARGEST_BYTES // 1000} kB; no table of sounds needs them."
        )
    try:
        return tomllib.loads(data.decode("utf-8-sig"))
    except (ValueError, RecursionError) as error:  # no UTF-8 and no TOML are both ValueErrors
        raise SoundsError(f"{path.name} can't be read as TOML: {error}.") from error


def whole_number(file: str, key: str, value: object, allowed: tuple[int, int]) -> int:
    """A whole number between two bounds.

    Raises:
        SoundsError: for anything else.
    """
    low, high = allowed
    if isinstance(value, bool) or not isinstance(value, int) or not low <= value <= high:
        raise SoundsError(f'{file}: "{key}" is {shown(value)}; write a whole number from {low} to {high}.')
    return value


def number(file: str, key: str, value: object, allowed: tuple[float, float]) -> float:
    """A number between two bounds.

    Raises:
        SoundsError: for anything else.
    """
    low, high = allowed
    if isinstance(value, bool) or not isinstance(value, int | float) or not low <= value <= high:
        raise SoundsError(f'{file}: "{key}" is {shown(value)}; write a number from {low:g} to {high:g}.')
    return float(value)


def shown(value: object) -> str:
    """A value as a sentence has it, not longer than a line.

    >>> shown("loud")
    '"loud"'
    """
    text = f'"{value}"' if isinstance(value, str) else str(value)
    return text if len(text) <= 60 else f"{text[:57]}…"
