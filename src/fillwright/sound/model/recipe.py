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

Curve = tuple[tuple[float, float], ...]
"""Points of a curve over frequency: (Hz, value), ascending, with straight lines over octaves between them."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SoundPart:
    """Fields that every part of a sound has.

    Attributes:
        db: level among the parts, in dB.
        soft_db: dB that the part loses on top of the other parts when the stroke is half as hard.
        attack_ms: time in which it rises from silence.
    """

    db: float = 0.0
    soft_db: float = 0.0
    attack_ms: float = 0.15


@dataclass(frozen=True, slots=True, kw_only=True)
class Membrane(SoundPart):
    """The modes of a struck drum head.

    Attributes:
        hz: frequency of the lowest mode, once it has settled.
        t60: seconds in which a mode falls by 60 dB, over frequency.
        strike: place of the stroke, 0 the centre, 1 the edge.
        contact_ms: contact time of stick (or beater) and head in an accent.
        glide: share by which all modes start higher, because a hard blow tightens the head.
        glide_ms: time constant of the glide.
        air: load of the air on the head, 2 rho a / sigma, without unit.
        second: lowest mode of the two heads moving against each other: ratio to `hz`, dB against the lowest
            mode.
        colour: filter of shell, vent hole and distance, dB over frequency.
    """

    hz: float
    t60: Curve
    strike: float
    contact_ms: float
    glide: float
    glide_ms: float
    air: float
    second: tuple[float, float]
    colour: Curve = ((1000.0, 0.0),)


@dataclass(frozen=True, slots=True, kw_only=True)
class Partials(SoundPart):
    """A few separate tones: a bell, the ping of a stick, a rim.

    Attributes:
        tones: Hz, dB and t60 in seconds of each.
    """

    tones: tuple[tuple[float, float, float], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Plate(SoundPart):
    """The dense modes of a cymbal, after Chladni's law as modified for cymbals: f = base * (m + 2n) ^ power.

    Attributes:
        cymbal: name of the cymbal that has these modes: hi-hats open and closed are the same pair.
        base_hz: base of the law above.
        power: exponent of the law above.
        spectrum: level of each half octave at the start of an accent, dB over frequency.
        t60: seconds in which a mode falls by 60 dB, over frequency.
        rise_ms: time constant with which a mode swells after the blow, over frequency.
        uneven_db: standard deviation of the modes' levels from the spectrum: a few strong ones sound as tones.
        width: 0 for both sides alike, 1 for two sides a quarter turn apart in phase.
    """

    cymbal: str
    base_hz: float
    power: float
    spectrum: Curve
    t60: Curve
    rise_ms: Curve = ((1000.0, 0.0),)
    uneven_db: float = 2.0
    width: float = 0.5


@dataclass(frozen=True, slots=True, kw_only=True)
class Stick(SoundPart):
    """The blow itself, as it spreads over a cymbal: a click with its high frequencies first.

    Attributes:
        spectrum: level, dB over frequency.
        contact_ms: contact time of stick and cymbal in an accent.
        late_ms: delay of 1 kHz after the highest frequency.
    """

    spectrum: Curve
    contact_ms: float
    late_ms: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Noise(SoundPart):
    """Shaped noise: snare wires, a stick's or beater's click, two cymbals against each other.

    Attributes:
        spectrum: level, dB over frequency.
        t60: seconds in which it falls by 60 dB.
        width: 0 for both sides alike, 1 for two sides with nothing in common.
    """

    spectrum: Curve
    t60: float
    width: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Wash(SoundPart):
    """Noise in bands that decay at different speeds: modes of head and shell that are too dense to separate.

    Attributes:
        spectrum: level of each half octave at the start of an accent, dB over frequency.
        t60: seconds in which each falls by 60 dB, over frequency.
        contact_ms: contact time of stick and head in an accent; softer strokes are duller.
        width: 0 for both sides alike, 1 for two sides with nothing in common.
    """

    spectrum: Curve
    t60: Curve
    contact_ms: float
    width: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Wires(Wash):
    """Snare wires, driven by the lower head.

    Attributes:
        hz: frequency of the head that throws them.
        delay_ms: time that the blow takes through the drum.
        slap: share of their sound that comes in bursts, once a cycle, while the head swings far; 0 to 1.
    """

    hz: float
    delay_ms: float
    slap: float


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
