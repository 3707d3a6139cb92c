"""One finished one-shot: the parts of a recipe together, in the room, at its level and place."""

from __future__ import annotations

import zlib

import numpy as np
import numpy.typing as npt

from fillwright.sound.model.blow import Blow
from fillwright.sound.model.parts import render_part
from fillwright.sound.model.recipe import KitRecipes, Room, SoundRecipe
from fillwright.sound.model.room import compute_pan, compute_side_gains, render_room
from fillwright.sound.signal import SAMPLE_RATE, Floats, db_to_amplitude

Samples = npt.NDArray[np.float32]

ACCENT_VELOCITY = 112
"""The velocity at which a recipe's levels are given."""

_GRID = 2.0**20
_SILENCE = 10.0 ** (-76 / 20)
_FADE_SECONDS = 0.03
_ATTACK = round(0.002 * SAMPLE_RATE)
_EASES_DB = 5.0
_LOUDNESS = round(0.1 * SAMPLE_RATE)
_KNEE, _ROOM = 0.7, 0.27
_ROUNDED = 0.02  # of full scale; what is softer passes the ceiling unchanged


def make_one_shot(kit: KitRecipes, name: str, velocity: int, variation: int) -> Samples:
    """One stroke on one surface, its attack at sample 0, its end faded to exactly zero.

    Args:
        kit: the recipes.
        name: of the surface or click.
        velocity: 1 to 127.
        variation: which of the strokes that sound a little different.

    Returns:
        Stereo samples, shape (samples, 2). They are rounded to a grid of 2^-20: what another machine's
        arithmetic makes different in the last place is rounded away, and sums of them are exact.

    Raises:
        UnknownNameError: for a sound that the kit has not got.
    """
    recipe = kit.find_recipe(name)
    articulation = kit.articulations.get(name)
    seed, drum = (zlib.crc32(each.encode()) for each in (name, articulation.of if articulation else name))
    halvings = float(np.log2(ACCENT_VELOCITY / velocity))
    blow = Blow(
        velocity_halvings=halvings,
        tilt_db=recipe.tilt_db * halvings,
        stroke_rng=np.random.default_rng([seed, velocity, variation]),
        drum_rng=np.random.default_rng(drum),
    )
    dry = _press(
        _together([render_part(part, blow) for part in recipe.parts]), recipe.drive_db - _EASES_DB * halvings
    )
    placed = _placed(dry, recipe, kit.room)
    level = db_to_amplitude(recipe.loud_db + kit.gain_db + blow.stroke_rng.uniform(-0.4, 0.4))
    level *= (velocity / ACCENT_VELOCITY) ** kit.velocity_power
    shaped = placed if recipe.swells else _attack_on_top(placed)
    return _finished(shaped * (level / np.sqrt(np.sum(shaped[:_LOUDNESS] ** 2) / (2 * _LOUDNESS))))


def _attack_on_top(samples: Floats) -> Floats:
    """The attack's peak made 1, and what comes later bent gently under it, so that ear and meter find it."""
    made: Floats = samples / np.max(np.abs(samples[:_ATTACK]))
    later = np.flatnonzero(_heights(made) > _KNEE)
    later = later[later >= _ATTACK]
    size = np.abs(made[later])
    bent = _KNEE + _ROOM * np.tanh((size - _KNEE) / _ROOM)
    made[later] = np.copysign(np.where(size > _KNEE, bent, size), made[later])
    return made


def _together(parts: list[Floats]) -> Floats:
    """Their sum, as long as the longest, shape (samples, 2)."""
    out = np.zeros((max(map(len, parts)), 2))
    for part in parts:
        out[: len(part)] += part
    return out


def _press(samples: Floats, drive_db: float) -> Floats:
    """Round the highest peaks, soft strokes less: full scale is the attack's own peak."""
    peak = np.max(np.abs(samples[:_ATTACK]))
    if drive_db <= 0:
        return np.asarray(samples / peak)
    made = np.asarray(samples * (db_to_amplitude(drive_db) / peak))
    end = np.flatnonzero(_heights(made) > _ROUNDED)[-1]
    made[:end] = np.tanh(made[:end])
    return made


def _heights(samples: Floats) -> Floats:
    """The louder side of each sample."""
    return np.asarray(np.maximum(np.abs(samples[:, 0]), np.abs(samples[:, 1])))


def _placed(samples: Floats, recipe: SoundRecipe, room: Room) -> Floats:
    """Where it stands in the stereo picture, with what the room adds."""
    placed = samples * compute_side_gains(compute_pan(recipe.place))
    if recipe.room_db < -60:
        return np.asarray(placed)
    wet = render_room(samples, room, recipe.place, recipe.room_db)
    return _together([placed, wet])


def _finished(samples: Floats) -> Samples:
    """Cut where it can no longer be heard, fade the end, round to the grid."""
    heard = np.flatnonzero(_heights(samples) > _SILENCE)
    samples = samples[: heard[-1] + 1 if len(heard) else 1]
    fade = min(round(_FADE_SECONDS * SAMPLE_RATE), len(samples))
    samples[-fade:] *= np.cos(np.linspace(0, np.pi / 2, fade))[:, None] ** 2
    made = (np.round(samples * _GRID) / _GRID).astype(np.float32)
    made.flags.writeable = False
    return made
