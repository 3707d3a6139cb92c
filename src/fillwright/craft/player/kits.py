"""Kits: place and size of each surface, from the table `kits.toml` or written by a teacher."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache
from importlib.resources import files
from math import hypot
from types import MappingProxyType
from typing import Any, cast

from fillwright.errors import FitError, UnknownNameError
from fillwright.music.rudiments import normalize_name
from fillwright.music.surfaces import find_surface

PART_OF = MappingProxyType(
    {"rim": "snare", "open hi-hat": "hi-hat", "ride bell": "ride bow", "foot hi-hat": "hi-hat"}
)
"""Surfaces that are a part of another one, or the same one played in another way."""

_NEEDED = ("snare", "kick")
"""Surfaces of every kit: fills start on the snare, and the kick doubles cymbals."""

USUAL = "five-piece"
"""The default kit."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Spot:
    """Place and size of a surface, in cm from the drummer, who looks along y.

    Attributes:
        x: distance to the right.
        y: distance to the front.
        size: width of the surface.
    """

    x: float
    y: float
    size: float

    def distance_cm(self, other: Spot) -> float:
        """Return the distance between the middles of two surfaces.

        >>> Spot(x=0, y=0, size=36).distance_cm(Spot(x=30, y=40, size=25))
        50.0
        """
        return hypot(self.x - other.x, self.y - other.y)


@dataclass(frozen=True, slots=True, kw_only=True)
class Kit:
    """A kit from above.

    Attributes:
        name: its name in files and options.
        title: its name on a page.
        spots: place and size of each surface by name.
        mirrored: True where it is set up for a left-handed player.
    """

    name: str
    title: str
    spots: Mapping[str, Spot]
    mirrored: bool = False

    def spot(self, name: str) -> Spot:
        """Return place and size of a surface.

        Raises:
            UnknownNameError: for a surface that the kit does not have.
        """
        if name not in self.spots:
            raise UnknownNameError.of(f"surface on the {self.name} kit", name, self.spots)
        return self.spots[name]

    def mirror(self) -> Kit:
        """Return the kit set up the other way round."""
        spots = {name: Spot(x=-spot.x, y=spot.y, size=spot.size) for name, spot in self.spots.items()}
        return replace(self, spots=MappingProxyType(spots), mirrored=not self.mirrored)

    def has(self, name: str) -> bool:
        """Return True if the kit has a surface."""
        return name in self.spots


@cache
def load_kits() -> Mapping[str, Kit]:
    """Return every kit of the table by name."""
    table = tomllib.loads(files(__package__).joinpath("kits.toml").read_text("utf-8"))["kits"]
    return {name: _read(name, table) for name in table}


def find_kit(name: str, written: Sequence[Kit] = ()) -> Kit:
    """Return the kit of that name: the teacher's kits first, then those of the table.

    Args:
        name: of the kit.
        written: kits that the teacher wrote.

    Raises:
        UnknownNameError: with the nearest known name.

    >>> find_kit("four-piece").has("mid tom")
    False
    """
    known = (*written, *load_kits().values())
    for kit in known:
        if normalize_name(kit.name) == normalize_name(name):
            return kit
    raise UnknownNameError.of("kit", name, [kit.name for kit in known])


def read_kit(name: str, row: Mapping[str, Any], base: Kit | None = None) -> Kit:
    """Read a kit from one row of a table in the form of `kits.toml`.

    Args:
        name: of the kit.
        row: surfaces to leave out, surfaces to add, and a title; without a title it is the name.
        base: the kit to start from; None for none.

    Raises:
        UnknownNameError: for an unknown surface, or a surface to leave out that the base does not have.
        FitError: for a kit without snare or kick, or with a part of a surface but not the surface itself.
    """
    spots = dict(base.spots) if base else {}
    for left_out in row.get("without", ()):
        if left_out not in spots:
            raise UnknownNameError.of("surface to leave out", left_out, spots)
        del spots[left_out]
    for entry in cast("list[dict[str, Any]]", row.get("surfaces", ())):
        x, y = entry["at"]
        spots[find_surface(entry["name"]).name] = Spot(x=x, y=y, size=entry["size"])
    _check_surfaces(name, spots)
    kit = Kit(
        name=name,
        title=row.get("title", name),
        spots=MappingProxyType(spots),
        mirrored=base.mirrored if base else False,
    )
    return kit.mirror() if row.get("mirrored") else kit


def _check_surfaces(name: str, spots: Mapping[str, Spot]) -> None:
    for needed in _NEEDED:
        if needed not in spots:
            raise FitError(f"The {name} kit has no {needed}; every kit needs a snare and a kick.")
    for part, main in PART_OF.items():
        if part in spots and main not in spots:
            raise FitError(
                f"The {name} kit has the {part} but not the {main} that it belongs to; leave out both."
            )


def _read(name: str, table: Mapping[str, Any]) -> Kit:
    row = table[name]
    return read_kit(name, row, _read(row["from"], table) if "from" in row else None)
