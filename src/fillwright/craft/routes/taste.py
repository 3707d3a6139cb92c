"""Taste: how a route should be, and the cost of each stroke under it."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

from fillwright.craft.player.kits import Kit
from fillwright.errors import FitError
from fillwright.music.stroke import Level
from fillwright.music.surfaces import find_surface


@dataclass(frozen=True, slots=True, kw_only=True)
class Taste:
    """Preferences for a route.

    Attributes:
        away: preference for surfaces away from the snare, 0 (stay on it) to 1.
        surfaces: the most different surfaces, the kick not counted.
        regular: preference for a pattern that repeats, 0 to 1.
        cymbals: True if cymbals may be struck.
        kick: True if the foot may take a stroke of the figure.
    """

    away: float = 0.5
    surfaces: int = 5
    regular: float = 0.8
    cymbals: bool = True
    kick: bool = False

    def __post_init__(self) -> None:
        """Refuse values outside their range.

        Raises:
            FitError: for a share outside 0 to 1, or no surface.
        """
        for name, share in (("away", self.away), ("regular", self.regular)):
            if not 0 <= share <= 1:
                raise FitError(f'{share:g} is not a valid value for "{name}"; use 0 to 1.')
        if self.surfaces < 1:
            raise FitError(f"A route on {self.surfaces} surfaces can't be played; use 1 or more.")


@dataclass(frozen=True, slots=True, kw_only=True)
class Costs:
    """Numbers of `taste.toml`: shares, and costs in thousandths."""

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
def load_costs() -> Costs:
    """Return the numbers of `taste.toml`."""
    table = tomllib.loads(files(__package__).joinpath("taste.toml").read_text("utf-8"))
    return Costs(**table["stroke"], **table["move"], **table["idea"])


@cache
def _load_palette() -> tuple[str, ...]:
    table = tomllib.loads(files(__package__).joinpath("taste.toml").read_text("utf-8"))
    return tuple(find_surface(name).name for name in table["palette"])


def choose_palette(taste: Taste, kit: Kit) -> tuple[str, ...]:
    """Return the surfaces that a taste allows on a kit, the snare first.

    >>> from fillwright.craft.player.kits import find_kit
    >>> choose_palette(Taste(surfaces=3), find_kit("five-piece"))
    ('snare', 'floor tom', 'high tom')
    """
    on_kit = (name for name in _load_palette() if kit.has(name))
    wanted = [name for name in on_kit if taste.cymbals or not find_surface(name).is_cymbal]
    return tuple(wanted[: taste.surfaces])


def price_stroke(taste: Taste, kit: Kit, name: str, *, level: Level, strong: bool) -> int:
    """Return the cost of a stroke on a surface, in thousandths.

    Args:
        taste: how the route should be.
        kit: the kit.
        name: the surface.
        level: dynamics of the stroke.
        strong: True for a stroke that stands out, an accent or a beat.
    """
    table = load_costs()
    if name == "snare":
        return round(taste.away * (table.strong_at_home if strong else table.tap_at_home))
    if find_surface(name).is_cymbal and not strong:
        return table.tap_on_cymbal + (table.ghost_away if level is Level.GHOST else 0)
    share = _measure_distance_share(kit, name)
    factor = 1 - table.by_distance + table.by_distance * share
    away = (1 - taste.away) * (table.strong_away if strong else table.tap_away) * factor
    return round(away) + (table.ghost_away if level is Level.GHOST else 0)


def _measure_distance_share(kit: Kit, name: str) -> float:
    """Return the distance of a surface from the snare as a share of the furthest one's."""
    home = kit.spot("snare")
    furthest = max(home.distance_cm(spot) for spot in kit.spots.values())
    return home.distance_cm(kit.spot(name)) / furthest
