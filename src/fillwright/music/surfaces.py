"""Surfaces: everything that can be struck, from the table `surfaces.toml`."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

from fillwright.errors import UnknownNameError
from fillwright.music.stroke import Limb


@dataclass(frozen=True, slots=True, kw_only=True)
class Surface:
    """One thing that can be struck.

    Attributes:
        name: as we say it, "floor tom".
        label: as a page says it.
        kind: "drum" or "cymbal".
        loc: staff position of its note head, 0 = bottom line, each step a line or a space up.
        key: General MIDI Level 1 percussion key.
        head: shape of the note head: "" (ordinary), "x", "diamond" or "circle-x".
        mark: "open" where the note carries the open sign, else "".
        limb: "hand", or the foot that plays it.
    """

    name: str
    label: str
    kind: str
    loc: int
    key: int
    head: str = ""
    mark: str = ""
    limb: str = "hand"

    @property
    def foot(self) -> Limb | None:
        """The foot that plays it, or None where a hand does."""
        return None if self.limb == "hand" else Limb(self.limb)

    @property
    def is_cymbal(self) -> bool:
        """Whether it is a cymbal."""
        return self.kind == "cymbal"


@cache
def surfaces() -> dict[str, Surface]:
    """Every surface by name, in the order of the table: drums from the lowest note head up, then cymbals."""
    table = tomllib.loads(files(__package__).joinpath("surfaces.toml").read_text("utf-8"))
    return {row["name"]: Surface(**row) for row in table["surface"]}


def surface(name: str) -> Surface:
    """The surface of that name.

    Raises:
        UnknownNameError: for a name that stands in no table.

    >>> surface("snare").key
    38
    """
    found = surfaces().get(name)
    if found is None:
        raise UnknownNameError.of("surface", name, surfaces())
    return found
