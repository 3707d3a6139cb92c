"""Which key of a SoundFont is which surface: General MIDI's, or as a table of the user's says.

```
bank = 0          # if left out 128, or the first preset where there is no such bank
program = 0
[keys]
"floor tom" = 41  # the others stay where General MIDI has them
china = false     # it has none; the modelled kit plays it
```
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from fillwright.errors import SoundsError, UnknownNameError
from fillwright.music.surfaces import surface, surfaces
from fillwright.tables.sound_table import read_table, whole_number

KEYS = ("bank", "program", "keys")
"""What a table may hold."""

MOST_BANK, MOST_PROGRAM, MOST_KEY = 128, 127, 127


@dataclass(frozen=True, slots=True, kw_only=True)
class SoundKeys:
    """Where the sounds of a SoundFont lie.

    Attributes:
        bank: None for percussion's own, else the first.
        program: None for the lowest there.
        keys: by surface; one that is missing has no sound.
    """

    bank: int | None = None
    program: int | None = None
    keys: Mapping[str, int]


def general_midi() -> SoundKeys:
    """The keys of General MIDI Level 1.

    >>> general_midi().keys["snare"]
    38
    """
    return SoundKeys(keys={name: each.key for name, each in surfaces().items()})


def read_sound_keys(path: Path) -> SoundKeys:
    """The keys that a table names, the others as General MIDI has them.

    Raises:
        SoundsError: for a file that can't be read, and for the first thing in it that can't be.
    """
    table = read_table(path)
    for key in table:
        if key not in KEYS:
            raise SoundsError(f'{path.name}: "{key}" is not read here; write bank, program and [keys].')
    keys = table.get("keys", {})
    if not isinstance(keys, dict):
        raise SoundsError(f'{path.name}: "keys" is no table; write [keys] and below it "floor tom" = 41.')
    named = {_surface(name, path.name): _key(path.name, name, keys[name]) for name in keys}
    every = {**general_midi().keys, **named}
    return SoundKeys(
        bank=_number(table, path.name, "bank", MOST_BANK),
        program=_number(table, path.name, "program", MOST_PROGRAM),
        keys={name: key for name, key in every.items() if key is not None},
    )


def _number(table: Mapping[str, Any], file: str, key: str, most: int) -> int | None:
    return whole_number(file, key, table[key], (0, most)) if key in table else None


def _key(file: str, name: str, value: object) -> int | None:
    """A key, or None where the table says that there is none."""
    return None if value is False else whole_number(file, name, value, (0, MOST_KEY))


def _surface(name: str, file: str) -> str:
    try:
        return surface(name).name
    except UnknownNameError as error:
        raise SoundsError(f"{file}: {error}") from error
