"""Recipes: what each sound of the kit is made of, from `kit.toml`, `drums.toml` and `cymbals.toml`."""

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
"""Points of a curve over frequency: (Hz, value), ascending, joined by straight lines over octaves."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SoundPart:
    """What every part of a sound has.

    Attributes:
        db: how loud it is among the parts.
        soft_db: how much more it falls than the others when the stroke is half as hard.
        attack_ms: the time in which it rises from nothing.
    """

    db: float = 0.0
    soft_db: float = 0.0
    attack_ms: float = 0.15


@dataclass(frozen=True, slots=True, kw_only=True)
class Membrane(SoundPart):
    """The modes of a struck drum head.

    Attributes:
        hz: its lowest mode, once it has settled.
        t60: seconds in which a mode falls by 60 dB, over frequency.
        strike: where the stick lands, 0 the centre, 1 the edge.
        contact_ms: how long stick (or beater) and head touch in an accent.
        glide: how much higher all modes start, as a part: a hard blow tightens the head.
        glide_ms: the time constant of the glide.
        air: how heavy the air lies on the head, 2 rho a / sigma.
        second: the lowest mode with both heads against each other: ratio to `hz`, dB against the lowest.
        colour: what shell, hole and distance make of it, dB over frequency.
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
    """A few tones that can be told apart: a bell, a stick's ping, a rim.

    Attributes:
        tones: (Hz, dB, t60 in seconds) of each.
    """

    tones: tuple[tuple[float, float, float], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Plate(SoundPart):
    """The dense modes of a cymbal, after Chladni's law as modified for cymbals: f = base * (m + 2n) ^ power.

    Attributes:
        cymbal: whose modes they are: hi-hats open and closed are the same pair.
        base_hz: as above.
        power: as above.
        spectrum: loudness of each half octave at the start of an accent, dB.
        t60: seconds in which a mode falls by 60 dB, over frequency.
        rise_ms: the time constant with which it swells up after the blow, over frequency.
        uneven_db: how far its modes lie from that spectrum: few strong ones are heard as tones.
        width: 0 the same on both sides, 1 two sides that lie a quarter turn apart.
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
    """The blow itself, as it runs out over a cymbal: a click with its highs first.

    Attributes:
        spectrum: dB over frequency.
        contact_ms: how long stick and cymbal touch in an accent.
        late_ms: how much later 1 kHz comes than the highest.
    """

    spectrum: Curve
    contact_ms: float
    late_ms: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Noise(SoundPart):
    """Shaped noise: snare wires, a stick's or beater's click, two cymbals against each other.

    Attributes:
        spectrum: loudness over frequency, dB.
        t60: seconds in which it falls by 60 dB.
        width: as a plate's.
    """

    spectrum: Curve
    t60: float
    width: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Wash(SoundPart):
    """Noise whose bands die each in its own time: modes of head and shell too dense to tell apart.

    Attributes:
        spectrum: loudness of each half octave at the start of an accent, dB.
        t60: seconds in which each falls by 60 dB, over frequency.
        contact_ms: how long stick and head touch in an accent; softer strokes are duller.
        width: 0 the same on both sides, 1 two sides with nothing in common.
    """

    spectrum: Curve
    t60: Curve
    contact_ms: float
    width: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Wires(Wash):
    """Snare wires, driven by the lower head.

    Attributes:
        hz: the note of the head that throws them.
        delay_ms: until the blow has come through the drum.
        slap: how much of their sound comes in bursts, once a cycle, while the head swings far; 0 to 1.
    """

    hz: float
    delay_ms: float
    slap: float


@dataclass(frozen=True, slots=True, kw_only=True)
class SoundRecipe:
    """One sound of the kit.

    Attributes:
        name: of the surface, or of a click.
        place: where it stands, in metres from the drummer: to the right, to the front.
        loud_db: its mean square over the first 100 ms of an accent, in dB of full scale.
        variations: how many strokes of the same loudness sound different.
        parts: what is sounded together.
        tilt_db: dB per octave above 1 kHz that a stroke half as hard is duller.
        drive_db: how hard it is pressed into a soft ceiling; rounds the highest peaks.
        room_db: loudness of the room against the drum; below −60 none.
        swells: whether it may be louder later than at its attack: no stroke of its own, a bounce in a press.
    """

    name: str
    place: tuple[float, float]
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
        size: across, from back to front, and up, in metres.
        seat: where the drummer sits, from the left wall and from the back.
        wall: what one reflection keeps, dB over frequency.
        tail_db: energy of the tail against the early reflections.
        wait_ms: the time in which the tail swells up.
        spectrum: the tail's colour, dB of each half octave.
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
    """A sound of a surface beside its own.

    Attributes:
        of: the surface.
        least: the softest stroke on the surface that sounds like this by itself.
        most: the hardest; below `least` where it only sounds when asked for by its name.
    """

    of: str
    least: int = 1
    most: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class KitRecipes:
    """Every recipe, by name.

    Attributes:
        gain_db: the fixed gain of every file.
        velocity_power: amplitude goes with velocity to this power.
        room: shared by all drums.
        recipes: by surface, articulation ("snare ghost") or click.
        articulations: sounds of a surface beside its own, by name.
    """

    gain_db: float
    velocity_power: float
    room: Room
    recipes: Mapping[str, SoundRecipe]
    articulations: Mapping[str, Articulation]

    def find_recipe(self, name: str) -> SoundRecipe:
        """The recipe of that name.

        Raises:
            UnknownNameError: for a sound that the kit has not got.
        """
        found = self.recipes.get(name)
        if found is None:
            raise UnknownNameError.of("sound in the kit", name, self.recipes)
        return found

    def pick_articulation(self, name: str, velocity: int) -> str:
        """The sound that a surface makes at a velocity: its own, or an articulation's."""
        for sound, articulation in self.articulations.items():
            if articulation.of == name and articulation.least <= velocity <= articulation.most:
                return sound
        return name


_PLAN = "six-piece"
_IN_FRONT = (0.0, 1.0)
_PARTS: dict[str, type[SoundPart]] = {
    "membrane": Membrane,
    "partials": Partials,
    "plate": Plate,
    "stick": Stick,
    "noise": Noise,
    "wash": Wash,
    "wires": Wires,
}


def _tuples(row: Mapping[str, Any]) -> dict[str, Any]:
    """A row of the table with its lists as tuples."""
    return {key: _tuple(value) for key, value in row.items()}


def _tuple(value: Any) -> Any:
    return tuple(map(_tuple, value)) if isinstance(value, list) else value


def _part(row: Mapping[str, Any]) -> SoundPart:
    fields = _tuples(row)
    return _PARTS[fields.pop("kind")](**fields)


def parse_kit_recipes(table: Mapping[str, Any], *, mirrored: bool = False) -> KitRecipes:
    """A kit from a table shaped like `kit.toml`.

    Args:
        table: the table.
        mirrored: whether it is set up for a left-handed player.
    """
    articulations = {name: Articulation(**row) for name, row in table.get("articulations", {}).items()}
    recipes = {}
    for row in map(_tuples, table["sound"]):
        name, parts = row["name"], tuple(map(_part, row["parts"]))
        x, y = row.get("place") or _place(articulations[name].of if name in articulations else name)
        recipes[name] = SoundRecipe(**{**row, "parts": parts, "place": (-x if mirrored else x, y)})
    room = Room(**_tuples(table["room"]))
    return KitRecipes(**table["kit"], room=room, recipes=recipes, articulations=articulations)


def _place(surface: str) -> tuple[float, float]:
    """Where the plan of the kit has a surface; what is not on it, as a click, sounds from the front."""
    plan = find_kit(_PLAN)
    if not plan.has(surface):
        return _IN_FRONT
    return plan.spot(surface).x / 100, plan.spot(surface).y / 100


@cache
def load_kit_recipes(*, mirrored: bool = False) -> KitRecipes:
    """The modelled kit, standing as the plans of `craft.kits` have it.

    >>> kit().recipe("hi-hat").place
    (-0.44, 0.48)
    """
    table, *more = (
        tomllib.loads(files(__package__).joinpath(name).read_text("utf-8"))
        for name in ("kit.toml", "drums.toml", "cymbals.toml")
    )
    sounds = [row for each in (table, *more) for row in each["sound"]]
    return parse_kit_recipes({**table, "sound": sounds}, mirrored=mirrored)
