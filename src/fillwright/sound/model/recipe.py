"""Recipes: the parts of each sound of the modelled kit, from `kit.toml`, `drums.toml` and `cymbals.toml`."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any

from fillwright.craft.player.kits import find_kit
from fillwright.errors import UnknownNameError
from fillwright.sound.model.part_types import (
    Curve,
    Membrane,
    Noise,
    Partials,
    Plate,
    SoundPart,
    Stick,
    Wash,
    Wires,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class SoundRecipe:
    """One sound of the kit.

    Attributes:
        name: name of the surface, the articulation or the click.
        position: place on the kit, in metres from the drummer: to the right, to the front.
        loud_db: mean square over the first 100 ms of an accent, in dB of full scale.
        variations: number of strokes of the same loudness that sound different.
        parts: parts that sound together.
        tilt_db: dB per octave above 1 kHz that a stroke half as hard is duller.
        drive_db: gain into a soft ceiling, which rounds the highest peaks.
        room_db: level of the room against the drum; below −60 there is none.
        swells: True if it may be louder later than at its attack: a bounce of a buzz, not a stroke of its own.
    """

    name: str
    position: tuple[float, float]
    loud_db: float
    variations: int
    parts: tuple[SoundPart, ...]
    tilt_db: float = 3.0
    drive_db: float = 0.0
    room_db: float = -99.0
    swells: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Room:
    """The room that the drums stand in.

    Attributes:
        size: width, depth and height, in metres.
        seat: position of the drummer, in metres from the left wall and from the back wall.
        wall: level of a sound after one reflection, dB over frequency.
        tail_db: energy of the tail against the early reflections.
        wait_ms: time in which the tail swells.
        spectrum: level of each half octave of the tail, dB over frequency.
        t60: seconds in which the tail falls by 60 dB, over frequency.
    """

    size: tuple[float, float, float]
    seat: tuple[float, float]
    wall: Curve
    tail_db: float
    wait_ms: float
    spectrum: Curve
    t60: Curve


@dataclass(frozen=True, slots=True, kw_only=True)
class Articulation:
    """A second sound of a surface, next to its usual one.

    Attributes:
        of: name of the surface.
        least: velocity of the softest stroke on the surface that sounds like this.
        most: velocity of the hardest; below `least` if it only sounds when it is requested by name.
    """

    of: str
    least: int = 1
    most: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class KitRecipes:
    """Every recipe, by name.

    Attributes:
        gain_db: fixed gain of every file.
        velocity_power: exponent: amplitude is velocity to this power.
        room: the room that all drums share.
        recipes: recipes by surface, articulation ("snare ghost") or click.
        articulations: second sounds of surfaces, by name.
    """

    gain_db: float
    velocity_power: float
    room: Room
    recipes: Mapping[str, SoundRecipe]
    articulations: Mapping[str, Articulation]

    def find_recipe(self, name: str) -> SoundRecipe:
        """Return the recipe of that name.

        Raises:
            UnknownNameError: for a sound that the kit doesn't have.
        """
        recipe = self.recipes.get(name)
        if recipe is None:
            raise UnknownNameError.of("sound in the kit", name, self.recipes)
        return recipe

    def pick_articulation(self, name: str, velocity: int) -> str:
        """Return the name of the sound that a surface makes at a velocity: its own, or an articulation."""
        for sound, articulation in self.articulations.items():
            if articulation.of == name and articulation.least <= velocity <= articulation.most:
                return sound
        return name


_PLAN = "six-piece"
_IN_FRONT = (0.0, 1.0)  # metres: a click is straight ahead of the drummer; ours
_PARTS: dict[str, type[SoundPart]] = {
    "membrane": Membrane,
    "partials": Partials,
    "plate": Plate,
    "stick": Stick,
    "noise": Noise,
    "wash": Wash,
    "wires": Wires,
}


def _freeze_row(row: Mapping[str, Any]) -> dict[str, Any]:
    """Return a row of the table with its lists as tuples."""
    return {key: _freeze(value) for key, value in row.items()}


def _freeze(value: Any) -> Any:
    return tuple(map(_freeze, value)) if isinstance(value, list) else value


def _parse_part(row: Mapping[str, Any]) -> SoundPart:
    fields = _freeze_row(row)
    return _PARTS[fields.pop("kind")](**fields)


def parse_kit_recipes(table: Mapping[str, Any], *, mirrored: bool = False) -> KitRecipes:
    """Return the recipes of a table shaped like `kit.toml`.

    Args:
        table: the table, as `tomllib` reads it.
        mirrored: True for a kit set up for a left-handed player.
    """
    articulations = {name: Articulation(**row) for name, row in table.get("articulations", {}).items()}
    recipes = {}
    for row in map(_freeze_row, table["sound"]):
        name, parts = row["name"], tuple(map(_parse_part, row["parts"]))
        x, y = row.get("position") or _find_position(articulations[name].of if name in articulations else name)
        recipes[name] = SoundRecipe(**{**row, "parts": parts, "position": (-x if mirrored else x, y)})
    room = Room(**_freeze_row(table["room"]))
    return KitRecipes(**table["kit"], room=room, recipes=recipes, articulations=articulations)


def _find_position(surface: str) -> tuple[float, float]:
    """Return the position of a surface on the kit's plan, in metres; other sounds, as clicks, are in front."""
    plan = find_kit(_PLAN)
    if not plan.has(surface):
        return _IN_FRONT
    return plan.spot(surface).x / 100, plan.spot(surface).y / 100


@cache
def load_kit_recipes(*, mirrored: bool = False) -> KitRecipes:
    """Return the recipes of the modelled kit, its drums placed as on the plans of `craft.player.kits`.

    Args:
        mirrored: True for a kit set up for a left-handed player.

    >>> load_kit_recipes().find_recipe("hi-hat").position
    (-0.44, 0.48)
    """
    kit, *tables = (
        tomllib.loads(files(__package__).joinpath(name).read_text("utf-8"))
        for name in ("kit.toml", "drums.toml", "cymbals.toml")
    )
    sounds = [row for table in (kit, *tables) for row in table["sound"]]
    return parse_kit_recipes({**kit, "sound": sounds}, mirrored=mirrored)
