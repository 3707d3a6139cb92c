"""Recipes: what each sound of the kit is made of, from `kit.toml`, `drums.toml` and `cymbals.toml`."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any

from fillwright.errors import UnknownNameError

Curve = tuple[tuple[float, float], ...]
"""Points of a curve over frequency: (Hz, value), ascending, joined by straight lines over octaves."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
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
class Membrane(Part):
    """The modes of a struck drum head.

    Attributes:
        hz: its lowest mode, once it has settled.
        glide: how much higher it starts, as a part of `hz`: a hard blow tightens the head.
        glide_ms: the time constant of the glide.
        t60: seconds in which the lowest mode falls by 60 dB.
        damping: how much faster higher modes die: t60 goes with the frequency ratio to this power, inverted.
        strike: where the stick lands, 0 the centre, 1 the edge.
        bright_hz: the frequency above which the stick's (or beater's) contact excites less.
    """

    hz: float
    glide: float
    glide_ms: float
    t60: float
    damping: float
    strike: float
    bright_hz: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Partials(Part):
    """A few tones that can be told apart: a bell, a stick's ping, a rim.

    Attributes:
        tones: (Hz, dB, t60 in seconds) of each.
    """

    tones: tuple[tuple[float, float, float], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Plate(Part):
    """The dense modes of a cymbal, after Chladni's law as modified for cymbals: f = base * (m + 2n) ^ power.

    Attributes:
        cymbal: whose modes they are: hi-hats open and closed are the same pair.
        base_hz: as above.
        power: as above.
        spectrum: loudness of each half octave at the start of an accent, dB.
        t60: seconds in which a mode falls by 60 dB, over frequency.
        rise_ms: the time constant with which it swells up after the blow, over frequency.
        width: 0 the same on both sides, 1 two sides that lie a quarter turn apart.
    """

    cymbal: str
    base_hz: float
    power: float
    spectrum: Curve
    t60: Curve
    rise_ms: Curve = ((1000.0, 0.0),)
    width: float = 0.5


@dataclass(frozen=True, slots=True, kw_only=True)
class Noise(Part):
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
class Recipe:
    """One sound of the kit.

    Attributes:
        name: of the surface, or of a click.
        pan: −1 left, 0 centre, 1 right, as the drummer sits.
        loud_db: its mean square over the first 100 ms of an accent, in dB of full scale.
        variations: how many strokes of the same loudness sound different.
        parts: what is sounded together.
        tilt_db: dB per octave above 1 kHz that a stroke half as hard is duller.
        drive_db: how hard it is pressed into a soft ceiling; rounds the highest peaks.
        room_db: loudness of the room against the drum; below −60 none.
    """

    name: str
    pan: float
    loud_db: float
    variations: int
    parts: tuple[Part, ...]
    tilt_db: float = 3.0
    drive_db: float = 0.0
    room_db: float = -99.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Room:
    """The room that the drums stand in.

    Attributes:
        t60: seconds in which it falls by 60 dB.
        wait_ms: the time before its first reflection.
        spectrum: its colour, dB over frequency.
    """

    t60: float
    wait_ms: float
    spectrum: Curve


@dataclass(frozen=True, slots=True, kw_only=True)
class Kit:
    """Every recipe, by name.

    Attributes:
        gain_db: the fixed gain of every file.
        velocity_power: amplitude goes with velocity to this power.
        room: shared by all drums.
        recipes: by surface or click.
    """

    gain_db: float
    velocity_power: float
    room: Room
    recipes: Mapping[str, Recipe]

    def recipe(self, name: str) -> Recipe:
        """The recipe of that name.

        Raises:
            UnknownNameError: for a sound that the kit has not got.
        """
        found = self.recipes.get(name)
        if found is None:
            raise UnknownNameError.of("sound in the kit", name, self.recipes)
        return found


_PARTS: dict[str, type[Part]] = {"membrane": Membrane, "partials": Partials, "plate": Plate, "noise": Noise}
_CURVES = ("spectrum", "t60", "rise_ms", "tones")


def _tuples(row: Mapping[str, Any]) -> dict[str, Any]:
    """A row of the table with its curves as tuples."""
    return {
        key: tuple(map(tuple, value)) if key in _CURVES and isinstance(value, list) else value
        for key, value in row.items()
    }


def _part(row: Mapping[str, Any]) -> Part:
    fields = _tuples(row)
    return _PARTS[fields.pop("kind")](**fields)


def read_kit(table: Mapping[str, Any]) -> Kit:
    """A kit from a table shaped like `kit.toml`."""
    recipes = {
        row["name"]: Recipe(**{**row, "parts": tuple(map(_part, row["parts"]))}) for row in table["sound"]
    }
    return Kit(**table["kit"], room=Room(**_tuples(table["room"])), recipes=recipes)


@cache
def kit() -> Kit:
    """The modelled kit.

    >>> kit().recipe("snare").name
    'snare'
    """
    table, *more = (
        tomllib.loads(files(__package__).joinpath(name).read_text("utf-8"))
        for name in ("kit.toml", "drums.toml", "cymbals.toml")
    )
    sounds = [row for each in (table, *more) for row in each["sound"]]
    return read_kit({**table, "sound": sounds})
