"""Modelled kits with random recipes: the project's own kit, every drum and cymbal of it changed."""

from __future__ import annotations

import copy
import tomllib
from collections.abc import Iterable
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, field, replace
from importlib.resources import files
from typing import Any

import numpy as np

from fillwright.sound.model.instrument import make_one_shot
from fillwright.sound.model.recipe import KitRecipes, Membrane, parse_kit_recipes
from fillwright.sound.signal import SAMPLE_RATE
from training.ear.shots import Shot, build_shot

Row = dict[str, Any]
Chance = np.random.Generator

# Sounds that a kit is rendered from: recipe, velocities, name for the ear. Ours, not measured.
_RENDERED: tuple[tuple[str, tuple[int, ...], str], ...] = (
    ("kick", (112, 72), "kick"),
    ("snare", (118, 90, 60), "snare"),
    ("snare rimshot", (125,), "snare"),
    ("snare ghost", (36,), "snare"),
    ("rim", (100,), "rim"),
    ("high tom", (112, 70), "high tom"),
    ("mid tom", (112, 70), "mid tom"),
    ("floor tom", (112, 70), "floor tom"),
    ("second floor tom", (112,), "second floor tom"),
    ("foot hi-hat", (85,), "foot hi-hat"),
    ("hi-hat", (112, 64), "hi-hat"),
    ("hi-hat half-open", (100,), "open hi-hat"),
    ("open hi-hat", (105,), "open hi-hat"),
    ("ride bow", (105, 65), "ride bow"),
    ("ride bell", (110,), "ride bell"),
    ("crash", (116, 80), "crash"),
    ("second crash", (110,), "second crash"),
    ("splash", (100,), "second crash"),
    ("china", (112,), "second crash"),
)
_CLICKS = ("click", "accented click", "low click")
# Sounds of one instrument, which change together.
_INSTRUMENTS = {
    "snare rimshot": "snare",
    "snare ghost": "snare",
    "snare buzz": "snare",
    "foot hi-hat": "hi-hat",
    "hi-hat half-open": "hi-hat",
    "open hi-hat": "hi-hat",
    "foot hi-hat splash": "hi-hat",
    "ride bell": "ride bow",
}
_OTHERS = ("kick", "snare", "rim", "hi-hat", "ride bow", "crash", "second crash", "splash", "china")
_TOM_HZ = {"high tom": 142.0, "mid tom": 112.0, "floor tom": 86.0, "second floor tom": 68.0}  # as in drums.toml
_HIGH_TOM_HZ, _TOM_STEPS = (110.0, 210.0), (1.15, 1.5)  # range of the highest tom, and of the steps down
_HIGHEST_HZ = 21_000.0  # of a curve's points
_SHORTEST_T60 = 0.008  # seconds
_PART_DB = 2.5  # deviation of the level of one part
_NUMBERS = {"splash": 1, "china": 2}  # of drums, where a kit has more than one of a sound


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """How one instrument is changed. Spreads are ours, wide enough for kits that nobody has modelled.

    Attributes:
        pitch: factor on a drum's pitches.
        colour: factor on the frequencies of noise, sticks and cymbals.
        plate: factor on the lowest mode of a cymbal.
        decay: factor on the ringing of heads and tones.
        noise_decay: factor on the ringing of the rest.
        contact: factor on contact times.
        tilt_db: per octave above 1 kHz.
        softness: factor on how much duller soft strokes are.
        part_db: by kind of part.
    """

    pitch: float
    colour: float
    plate: float
    decay: float
    noise_decay: float
    contact: float
    tilt_db: float
    softness: float
    part_db: dict[str, float] = field(default_factory=dict)


def _draw_factor(chance: Chance, spread: float, middle: float = 0.0) -> float:
    return float(np.exp(chance.normal(middle, spread)))


def draw_change(chance: Chance, pitch: float) -> Change:
    """Return a random change of an instrument whose pitch is already chosen."""
    levels = {"wash": 4.0, "wires": 4.0, "membrane": 3.0, "stick": 4.0, "plate": 4.0, "partials": 4.0}
    return Change(
        pitch=pitch,
        colour=_draw_factor(chance, 0.22),
        plate=_draw_factor(chance, 0.2),
        decay=_draw_factor(chance, 0.5, -0.35),
        noise_decay=_draw_factor(chance, 0.4, -0.1),
        contact=_draw_factor(chance, 0.45),
        tilt_db=float(chance.normal(0, 1.5)),
        softness=float(chance.uniform(0.5, 1.5)),
        part_db={kind: float(chance.normal(0, spread)) for kind, spread in levels.items()},
    )


def draw_changes(chance: Chance) -> dict[str, Change]:
    """Return a random change of every instrument; toms are alike, their pitches steps apart."""
    changes = {
        name: draw_change(chance, _draw_factor(chance, 0.2) if name in ("kick", "snare") else 1.0)
        for name in _OTHERS
    }
    tom, hertz = draw_change(chance, 1.0), float(chance.uniform(*_HIGH_TOM_HZ))
    for name, usual in _TOM_HZ.items():
        changes[name] = Change(
            pitch=hertz / usual,
            colour=_draw_factor(chance, 0.12),
            plate=1.0,
            decay=tom.decay * _draw_factor(chance, 0.15),
            noise_decay=tom.noise_decay,
            contact=tom.contact,
            tilt_db=tom.tilt_db,
            softness=tom.softness,
            part_db=tom.part_db,
        )
        hertz /= float(chance.uniform(*_TOM_STEPS))
    return changes


def build_recipes(seed: int) -> KitRecipes:
    """Return the recipes of the random kit of a seed."""
    chance = np.random.default_rng(seed)
    kit, *tables = (
        tomllib.loads(files("fillwright.sound.model").joinpath(name).read_text("utf-8"))
        for name in ("kit.toml", "drums.toml", "cymbals.toml")
    )
    rows = [row for table in (kit, *tables) for row in table["sound"]]
    changes = draw_changes(chance)
    changed = [
        row
        if row["name"] in _CLICKS
        else change_row(row, changes[_INSTRUMENTS.get(row["name"], row["name"])], f" {seed}", chance)
        for row in rows
    ]
    return _rename_sounds(parse_kit_recipes({**kit, "sound": changed}), f" {seed}")


def _rename_sounds(kit: KitRecipes, suffix: str) -> KitRecipes:
    """Return a kit with a suffix on all names: a drum's own modes and noise depend on its name."""
    return replace(
        kit,
        recipes={name + suffix: recipe for name, recipe in kit.recipes.items()},
        articulations={
            name + suffix: replace(articulation, of=articulation.of + suffix)
            for name, articulation in kit.articulations.items()
        },
    )


def change_row(row: Row, change: Change, suffix: str, chance: Chance) -> Row:
    """Return a sound's row of the table, changed, without a room, on a cymbal of its own."""
    changed = copy.deepcopy(row)
    changed["room_db"] = -99.0
    changed["drive_db"] = max(0.0, row.get("drive_db", 0.0) + float(chance.uniform(-2, 4)))
    if "tilt_db" in row:
        changed["tilt_db"] = row["tilt_db"] * change.softness
    for part in changed["parts"]:
        part["db"] = (
            part.get("db", 0.0) + float(chance.normal(0, _PART_DB)) + change.part_db.get(part["kind"], 0.0)
        )
        if "cymbal" in part:
            part["cymbal"] += suffix
        if "attack_ms" in part:
            part["attack_ms"] *= _draw_factor(chance, 0.4)
        if "contact_ms" in part:
            part["contact_ms"] *= change.contact
        _CHANGES[part["kind"]](part, change, chance)
    return changed


def _change_membrane(part: Row, change: Change, chance: Chance) -> None:
    part["hz"] *= change.pitch
    part["t60"] = _scale_curve(part["t60"], change.pitch, change.decay, chance)
    part["colour"] = _shift_curve(part["colour"], change.pitch, change.tilt_db, 2.5, chance)
    part["strike"] = float(chance.uniform(0.05, 0.75))
    part["glide"] *= _draw_factor(chance, 0.7)
    part["glide_ms"] *= _draw_factor(chance, 0.3)
    part["air"] *= _draw_factor(chance, 0.25)
    ratio, level = part["second"]
    part["second"] = [ratio * _draw_factor(chance, 0.06), level + float(chance.normal(0, 5))]


def _change_partials(part: Row, change: Change, chance: Chance) -> None:
    part["tones"] = [
        [
            hertz * change.colour * _draw_factor(chance, 0.05),
            level + float(chance.normal(0, 4)),
            t60 * change.decay * _draw_factor(chance, 0.2),
        ]
        for hertz, level, t60 in part["tones"]
    ]


def _change_wash(part: Row, change: Change, chance: Chance) -> None:
    part["spectrum"] = _shift_curve(part["spectrum"], change.colour, change.tilt_db, 2.0, chance)
    part["t60"] = _scale_curve(part["t60"], 1.0, change.noise_decay, chance)
    if "hz" in part:
        part["hz"] *= change.pitch


def _change_plate(part: Row, change: Change, chance: Chance) -> None:
    _change_wash(part, change, chance)
    part["base_hz"] *= change.plate
    part["uneven_db"] = part.get("uneven_db", 2.0) * _draw_factor(chance, 0.3)
    part["power"] *= _draw_factor(chance, 0.015)


def _change_stick(part: Row, change: Change, chance: Chance) -> None:
    part["spectrum"] = _shift_curve(part["spectrum"], change.colour, change.tilt_db, 2.0, chance)


def _change_noise(part: Row, change: Change, chance: Chance) -> None:
    _change_stick(part, change, chance)
    part["t60"] *= change.noise_decay


_CHANGES = {
    "membrane": _change_membrane,
    "partials": _change_partials,
    "wash": _change_wash,
    "wires": _change_wash,
    "plate": _change_plate,
    "stick": _change_stick,
    "noise": _change_noise,
}


def _shift_curve(
    curve: list[list[float]], factor: float, tilt_db: float, spread_db: float, chance: Chance
) -> list[list[float]]:
    return [
        [
            min(hertz * factor, _HIGHEST_HZ),
            level + float(chance.normal(0, spread_db)) + tilt_db * float(np.log2(hertz / 1000)),
        ]
        for hertz, level in curve
    ]


def _scale_curve(
    curve: list[list[float]], factor: float, scale: float, chance: Chance, spread: float = 0.15
) -> list[list[float]]:
    return [
        [min(hertz * factor, _HIGHEST_HZ), max(_SHORTEST_T60, value * scale * _draw_factor(chance, spread))]
        for hertz, value in curve
    ]


def render_modelled_shots(seed: int) -> list[Shot]:
    """Render the random kit of a seed; a sound that its recipe makes silent is left out."""
    recipes, chance = build_recipes(seed), np.random.default_rng([seed, 1])
    shots: list[Shot] = []
    for recipe, velocities, sound in (*_RENDERED, *((click, (100,), "not a drum") for click in _CLICKS)):
        for velocity in velocities:
            name = f"{recipe} {seed}"
            samples = make_one_shot(recipes, name, velocity, int(chance.integers(3)))
            shot = build_shot(
                samples, SAMPLE_RATE, f"modelled {seed}", sound, _NUMBERS.get(recipe, 0), velocity
            )
            heads = [part.hz for part in recipes.find_recipe(name).parts if isinstance(part, Membrane)]
            if shot:
                shots.append(replace(shot, pitch_hz=heads[0]) if shot.pitch_hz else shot)
    return shots


def render_many(seeds: Iterable[int], workers: int) -> list[Shot]:
    """Render several modelled kits in parallel processes."""
    with ProcessPoolExecutor(workers) as pool:
        return [shot for shots in pool.map(render_modelled_shots, seeds) for shot in shots]
