"""Taste: what a route is liked for, and what each stroke costs under it."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

from fillwright.craft.player.kits import Kit
from fillwright.errors import FitError
from fillwright.music.stroke import Level
from fillwright.music.surfaces import surface


@dataclass(frozen=True, slots=True, kw_only=True)
class Taste:
    """What is wanted of a route.

    Attributes:
        away: how far from the snare, 0 (stay on it) to 1.
        surfaces: how many different surfaces at most, the kick not counted.
        regular: how much a pattern that repeats is wanted, 0 to 1.
        cymbals: whether cymbals may be struck.
        kick: whether a stroke of the figure may be handed to the foot.
    """

    away: float = 0.5
    surfaces: int = 5
    regular: float = 0.8
    cymbals: bool = True
    kick: bool = False

    def __post_init__(self) -> None:
        """Refuse what can't be meant."""
        for name, share in (("away", self.away), ("regular", self.regular)):
            if not 0 <= share <= 1:
                raise FitError(
                    f'A taste of {share:g} for "{name}" can\'t be followed; it lies between 0 and 1.'
                )
        if self.surfaces < 1:
            raise FitError(f"A route on {self.surfaces} surfaces can't be played; it takes at least 1.")


@dataclass(frozen=True, slots=True, kw_only=True)
class Costs:
    """The numbers of `taste.toml`, in thousandths unless a share."""

    strong_at_home: int
    strong_away: int
    tap_at_home: int
    tap_away: int
    by_distance: float
    ghost_away: int
    tap_on_cymbal: int
    doubled_cymbal: int
    a_metre: int
    at_the_limit: int
    crossing: int
    weak_change: int
    stale: int
    each_choice: int
    moving_on: int
    by_hand: int
    to_the_foot: int
    differ: float
    same_shape: int


@cache
def costs() -> Costs:
    """What everything costs."""
    table = tomllib.loads(files(__package__).joinpath("taste.toml").read_text("utf-8"))
    return Costs(**table["stroke"], **table["move"], **table["idea"])


@cache
def _order() -> tuple[str, ...]:
    table = tomllib.loads(files(__package__).joinpath("taste.toml").read_text("utf-8"))
    return tuple(surface(name).name for name in table["palette"])


def palette(taste: Taste, kit: Kit) -> tuple[str, ...]:
    """The surfaces that a taste allows on a kit, the snare first.

    >>> from fillwright.craft.kits import find_kit
    >>> palette(Taste(surfaces=3), find_kit("five-piece"))
    ('snare', 'floor tom', 'high tom')
    """
    on_kit = (name for name in _order() if kit.has(name))
    wanted = [name for name in on_kit if taste.cymbals or not surface(name).is_cymbal]
    return tuple(wanted[: taste.surfaces])


def stroke_cost(taste: Taste, kit: Kit, name: str, *, level: Level, strong: bool) -> int:
    """What a stroke on a surface costs, in thousandths.

    Args:
        taste: what is wanted.
        kit: where it is played.
        name: the surface.
        level: how loud the stroke is meant.
        strong: whether it is one that a listener follows, an accent or what stands for one.
    """
    table = costs()
    if name == "snare":
        return round(taste.away * (table.strong_at_home if strong else table.tap_at_home))
    if surface(name).is_cymbal and not strong:
        return table.tap_on_cymbal + (table.ghost_away if level is Level.GHOST else 0)
    far = _share_of_the_way(kit, name)
    grown = 1 - table.by_distance + table.by_distance * far
    away = (1 - taste.away) * (table.strong_away if strong else table.tap_away) * grown
    return round(away) + (table.ghost_away if level is Level.GHOST else 0)


def _share_of_the_way(kit: Kit, name: str) -> float:
    """How far a surface is from the snare, 1 for the furthest of the kit."""
    home = kit.spot("snare")
    furthest = max(home.distance_cm(spot) for spot in kit.spots.values())
    return home.distance_cm(kit.spot(name)) / furthest
