"""Kits: where each surface stands and how large it is, from the table `kits.toml`."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cache
from importlib.resources import files
from math import hypot
from types import MappingProxyType
from typing import Any, cast

from fillwright.errors import UnknownNameError
from fillwright.music.surfaces import surface


@dataclass(frozen=True, slots=True, kw_only=True)
class Spot:
    """A surface on the plan, in centimetres from the drummer, who looks along y.

    Attributes:
        x: to the right.
        y: to the front.
        size: across the surface.
    """

    x: float
    y: float
    size: float

    def distance_cm(self, other: Spot) -> float:
        """From middle to middle.

        >>> Spot(x=0, y=0, size=36).distance_cm(Spot(x=30, y=40, size=25))
        50.0
        """
        return hypot(self.x - other.x, self.y - other.y)


@dataclass(frozen=True, slots=True, kw_only=True)
class Kit:
    """A kit from above.

    Attributes:
        name: as an option names it.
        title: in words.
        spots: each surface of the kit by name.
        mirrored: whether it is set up for a left-handed player.
    """

    name: str
    title: str
    spots: Mapping[str, Spot]
    mirrored: bool = False

    def spot(self, name: str) -> Spot:
        """Where a surface stands.

        Raises:
            UnknownNameError: for a surface that the kit has not.
        """
        if name not in self.spots:
            raise UnknownNameError.of(f"surface on the {self.name} kit", name, self.spots)
        return self.spots[name]

    def mirror(self) -> Kit:
        """The same kit set up the other way round."""
        spots = {name: Spot(x=-spot.x, y=spot.y, size=spot.size) for name, spot in self.spots.items()}
        return replace(self, spots=MappingProxyType(spots), mirrored=not self.mirrored)

    def has(self, name: str) -> bool:
        """Whether the kit has a surface."""
        return name in self.spots


@cache
def kits() -> Mapping[str, Kit]:
    """Every kit of the table by name."""
    table = tomllib.loads(files(__package__).joinpath("kits.toml").read_text("utf-8"))["kits"]
    return {name: _read(name, table) for name in table}


def find_kit(name: str) -> Kit:
    """The kit of that name.

    Raises:
        UnknownNameError: offering the nearest name.

    >>> find_kit("four-piece").has("mid tom")
    False
    """
    if name not in kits():
        raise UnknownNameError.of("kit", name, kits())
    return kits()[name]


def _read(name: str, table: Mapping[str, Any]) -> Kit:
    row = table[name]
    spots = dict(_read(row["from"], table).spots) if "from" in row else {}
    for left_out in row.get("without", ()):
        del spots[left_out]
    for each in cast("list[dict[str, Any]]", row.get("surfaces", ())):
        x, y = each["at"]
        spots[surface(each["name"]).name] = Spot(x=x, y=y, size=each["size"])
    kit = Kit(name=name, title=row["title"], spots=MappingProxyType(spots))
    return kit.mirror() if row.get("mirrored") else kit
