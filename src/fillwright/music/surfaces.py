"""Surfaces: the drums and cymbals, from the table `surfaces.toml`."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

from fillwright.errors import UnknownNameError
from fillwright.music.stroke import Limb


@dataclass(frozen=True, slots=True, kw_only=True)
class Surface:
    """A drum or a cymbal, or a part of one.

    Attributes:
        name: its name in files and code, "floor tom".
        label: its name on a page.
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
        """Foot that plays it; None where a hand does."""
        return None if self.limb == "hand" else Limb(self.limb)

    @property
    def is_cymbal(self) -> bool:
        """True for a cymbal."""
        return self.kind == "cymbal"


@cache
def load_surfaces() -> dict[str, Surface]:
    """Return every surface by name, in the order of the table: drums from the lowest, then cymbals."""
    table = tomllib.loads(files(__package__).joinpath("surfaces.toml").read_text("utf-8"))
    return {row["name"]: Surface(**row) for row in table["surface"]}


def find_surface(name: str) -> Surface:
    """Return the surface of that name.

    Raises:
        UnknownNameError: for a name that is not in the table.

    >>> find_surface("snare").key
    38
    """
    if name not in load_surfaces():
        raise UnknownNameError.of("surface", name, load_surfaces())
    return load_surfaces()[name]
