"""Kits: where each surface stands and how large it is, from the table `kits.toml`, and a teacher's own."""

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
from fillwright.music.rudiments import plain
from fillwright.music.surfaces import surface

PART_OF = MappingProxyType(
    {"rim": "snare", "open hi-hat": "hi-hat", "ride bell": "ride bow", "foot hi-hat": "hi-hat"}
)
"""Surfaces that are a part of another, or the same one played otherwise."""

_NEEDED = ("snare", "kick")
"""What every fill starts on, and what the foot plays under a cymbal."""


USUAL = "five-piece"
"""The kit where nobody names one."""


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


def find_kit(name: str, own: Sequence[Kit] = ()) -> Kit:
    """The kit of that name: a teacher's own first, then those of the table.

    Raises:
        UnknownNameError: offering the nearest name.

    >>> find_kit("four-piece").has("mid tom")
    False
    """
    known = (*own, *kits().values())
    for kit in known:
        if plain(kit.name) == plain(name):
            return kit
    raise UnknownNameError.of("kit", name, [kit.name for kit in known])


def read_kit(name: str, row: Mapping[str, Any], base: Kit | None = None) -> Kit:
    """A kit from one row of a table shaped like `kits.toml`.

    Args:
        name: of the kit.
        row: what it leaves out and what it adds; its title, or it is called by its name.
        base: the kit that it is made from; None for one written out from nothing.

    Raises:
        UnknownNameError: for a surface that stands in no table, or is left out where there is none.
        FitError: for a kit on which nothing can be taught: without snare or kick, or with a part of a surface
            and not the surface itself.
    """
    spots = dict(base.spots) if base else {}
    for left_out in row.get("without", ()):
        if left_out not in spots:
            raise UnknownNameError.of("surface to leave out", left_out, spots)
        del spots[left_out]
    for each in cast("list[dict[str, Any]]", row.get("surfaces", ())):
        x, y = each["at"]
        spots[surface(each["name"]).name] = Spot(x=x, y=y, size=each["size"])
    _refuse_what_can_not_be_played(name, spots)
    kit = Kit(
        name=name,
        title=row.get("title", name),
        spots=MappingProxyType(spots),
        mirrored=base.mirrored if base else False,
    )
    return kit.mirror() if row.get("mirrored") else kit


def _refuse_what_can_not_be_played(name: str, spots: Mapping[str, Spot]) -> None:
    for needed in _NEEDED:
        if needed not in spots:
            raise FitError(f"The {name} kit has no {needed}; every kit needs a snare and a kick.")
    for part, whole in PART_OF.items():
        if part in spots and whole not in spots:
            raise FitError(
                f"The {name} kit has the {part} and no {whole}, which it belongs to; leave out both."
            )


def _read(name: str, table: Mapping[str, Any]) -> Kit:
    row = table[name]
    return read_kit(name, row, _read(row["from"], table) if "from" in row else None)
