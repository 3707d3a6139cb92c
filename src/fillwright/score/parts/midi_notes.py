"""Pads: which surface a MIDI key stands for, from the table `midi_notes.toml` or one's own."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cache
from importlib.resources import files
from pathlib import Path
from typing import Any

from fillwright.craft.player.kits import Kit
from fillwright.errors import FillwrightError
from fillwright.music.surfaces import find_surface

UNKNOWN_GOES_TO = "snare"
"""A key that stands in no table is a stroke of a hand, and the snare is where a hand is at home."""

_LARGEST_TABLE_BYTES = 100_000


@dataclass(frozen=True, slots=True, kw_only=True)
class Pads:
    """A table of keys.

    Attributes:
        keys: surface of each MIDI key.
        electronic: those that a recording of an electronic kit uses otherwise.
        groups: the pad that a surface belongs to, where it isn't one of its own.
        instead: for a kit without a surface, others in order of preference.
    """

    keys: Mapping[int, str]
    electronic: Mapping[int, str]
    groups: Mapping[str, str]
    instead: Mapping[str, tuple[str, ...]]

    def find(self, key: int, *, recorded: bool) -> str | None:
        """The surface of a key, None where nobody knows it."""
        return (self.electronic.get(key) if recorded else None) or self.keys.get(key)

    def pad(self, name: str) -> str:
        """The pad that a surface is on: rim and head are one, and so are edge, bow and bell.

        >>> default_pads().pad("ride bell")
        'ride'
        """
        return self.groups.get(name, name)

    def on(self, kit: Kit, name: str) -> str:
        """The surface that takes a stroke on a kit: its own where the kit has it; feet have their pedals.

        Raises:
            FillwrightError: where the kit has nothing for it.
        """
        if find_surface(name).foot is not None or kit.has(name):
            return name
        for other in self.instead.get(name, ()):
            if kit.has(other):
                return other
        raise FillwrightError(f"The {kit.name} kit has nothing that could stand for the {name}.")


@cache
def default_pads() -> Pads:
    """The project's own table."""
    table = tomllib.loads(files(__package__).joinpath("midi_notes.toml").read_text("utf-8"))
    return Pads(
        keys={int(key): find_surface(name).name for key, name in table["keys"].items()},
        electronic={int(key): find_surface(name).name for key, name in table["electronic"].items()},
        groups={name: pad for pad, names in table["pads"].items() for name in names},
        instead={name: tuple(others) for name, others in table["instead"].items()},
    )


def read_pads(path: Path) -> Pads:
    """The project's table with the lines of one's own before it: `[keys]`, then `38 = "snare"` for each key.

    Raises:
        FillwrightError: for a file that can't be read, a key outside 0 to 127 or a surface nobody knows.
    """
    own = {_key(key, path): _surface(key, name, path) for key, name in _own_keys(path).items()}
    base = default_pads()
    others = {key: name for key, name in base.electronic.items() if key not in own}
    return replace(base, keys={**base.keys, **own}, electronic=others)


def _own_keys(path: Path) -> Mapping[str, Any]:
    try:
        with path.open("rb") as file:
            content = file.read(_LARGEST_TABLE_BYTES + 1)
        table = tomllib.loads(content.decode("utf-8")) if len(content) <= _LARGEST_TABLE_BYTES else {}
    except (tomllib.TOMLDecodeError, UnicodeDecodeError, RecursionError) as error:
        raise FillwrightError(f'"{path}" is not a table of pads in TOML: {error}.') from error
    except OSError as error:
        raise FillwrightError(f'"{path}" can\'t be read: {(error.strerror or str(error)).lower()}.') from error
    keys = table.get("keys")
    if not isinstance(keys, dict) or not keys:
        raise FillwrightError(f'"{path}" has no pads; write [keys] and below it for example 38 = "snare".')
    return keys


def _key(text: str, path: Path) -> int:
    if not (text.isascii() and text.isdigit() and len(text) <= 3 and int(text) <= 127):
        raise FillwrightError(f'"{path}": "{text[:20]}" is no MIDI key; keys are whole numbers from 0 to 127.')
    return int(text)


def _surface(key: str, name: object, path: Path) -> str:
    if not isinstance(name, str):
        raise FillwrightError(f'"{path}": key {key} needs the name of a surface, for example "snare".')
    return find_surface(name).name
