"""One finished one-shot: the parts of a recipe summed, in the room, at its level and place."""

from __future__ import annotations

import zlib

import numpy as np

from fillwright.sound.model.blow import Blow
from fillwright.sound.model.parts import render_part
from fillwright.sound.model.recipe import KitRecipes, Room, SoundRecipe
from fillwright.sound.model.room import compute_pan, compute_side_gains, render_room
from fillwright.sound.signal import SAMPLE_RATE, Floats, Samples, db_to_amplitude

ACCENT_VELOCITY = 112
"""Velocity at which a recipe's levels apply: that of an accent in `music.stroke`."""

# All ours, not measured.
_GRID = 2.0**20  # steps of a sample, from 0 to full scale
_SILENCE = 10.0 ** (-76 / 20)  # amplitude, -76 dB, below which the end is cut off
_FADE_SECONDS = 0.03  # fade at the end
_ATTACK = round(0.002 * SAMPLE_RATE)  # samples in which the attack has its peak: 2 ms
_EASES_DB = 5.0  # dB less into the soft ceiling for a stroke half as hard
_LOUDNESS = round(0.1 * SAMPLE_RATE)  # samples over which a recipe's level is measured: 0.1 s
_KNEE, _BEND = 0.7, 0.27  # later peaks above 0.7 of the attack's are bent under 0.97 of it
_ROUNDED = 0.02  # part of full scale; softer samples pass the soft ceiling unchanged


def make_one_shot(kit: KitRecipes, name: str, velocity: int, variation: int) -> Samples:
    """Return one stroke on one surface, its attack at sample 0, its end faded to exactly zero.

    Args:
        kit: recipes of the kit.
        name: name of the surface, articulation or click.
        velocity: 1 to 127.
        variation: number of the variation, from 0.

    Returns:
        Stereo samples, shape (samples, 2), read-only. They are rounded to a grid of 2^-20: this removes
        differences in the last place between machines, and makes sums exact.

    Raises:
        UnknownNameError: for a sound that the kit doesn't have.
    """
    recipe = kit.find_recipe(name)
    articulation = kit.articulations.get(name)
    seed, drum = (zlib.crc32(text.encode()) for text in (name, articulation.of if articulation else name))
    halvings = float(np.log2(ACCENT_VELOCITY / velocity))
    blow = Blow(
        velocity_halvings=halvings,
        tilt_db=recipe.tilt_db * halvings,
        stroke_rng=np.random.default_rng([seed, velocity, variation]),
        drum_rng=np.random.default_rng(drum),
    )
    dry = _press(
        _sum_parts([render_part(part, blow) for part in recipe.parts]), recipe.drive_db - _EASES_DB * halvings
    )
    placed = _place_in_room(dry, recipe, kit.room)
    level = db_to_amplitude(recipe.loud_db + kit.gain_db + blow.stroke_rng.uniform(-0.4, 0.4))
    level *= (velocity / ACCENT_VELOCITY) ** kit.velocity_power
    shaped = placed if recipe.swells else _bend_under_attack(placed)
    return _finish(shaped * (level / np.sqrt(np.sum(shaped[:_LOUDNESS] ** 2) / (2 * _LOUDNESS))))


def _bend_under_attack(samples: Floats) -> Floats:
    """Scale the attack's peak to 1 and bend later peaks under it, so that ear and meter find the attack."""
    scaled: Floats = samples / np.max(np.abs(samples[:_ATTACK]))
    later = np.flatnonzero(_measure_heights(scaled) > _KNEE)
    later = later[later >= _ATTACK]
    size = np.abs(scaled[later])
    bent = _KNEE + _BEND * np.tanh((size - _KNEE) / _BEND)
    scaled[later] = np.copysign(np.where(size > _KNEE, bent, size), scaled[later])
    return scaled


def _sum_parts(parts: list[Floats]) -> Floats:
    """Return the sum of parts, as long as the longest, shape (samples, 2)."""
    out = np.zeros((max(map(len, parts)), 2))
    for part in parts:
        out[: len(part)] += part
    return out


def _press(samples: Floats, drive_db: float) -> Floats:
    """Round the highest peaks, those of soft strokes less; full scale is the attack's peak."""
    peak = np.max(np.abs(samples[:_ATTACK]))
    if drive_db <= 0:
        return np.asarray(samples / peak)
    driven = np.asarray(samples * (db_to_amplitude(drive_db) / peak))
    end = np.flatnonzero(_measure_heights(driven) > _ROUNDED)[-1]
    driven[:end] = np.tanh(driven[:end])
    return driven


def _measure_heights(samples: Floats) -> Floats:
    """Return the amplitude of each sample on its louder side."""
    return np.asarray(np.maximum(np.abs(samples[:, 0]), np.abs(samples[:, 1])))


def _place_in_room(samples: Floats, recipe: SoundRecipe, room: Room) -> Floats:
    """Place a sound in the stereo picture and add the room."""
    placed = samples * compute_side_gains(compute_pan(recipe.position))
    if recipe.room_db < -60:
        return np.asarray(placed)
    wet = render_room(samples, room, recipe.position, recipe.room_db)
    return _sum_parts([placed, wet])


def _finish(samples: Floats) -> Samples:
    """Cut off the inaudible end, fade it out and round to the grid."""
    audible = np.flatnonzero(_measure_heights(samples) > _SILENCE)
    samples = samples[: audible[-1] + 1 if len(audible) else 1]
    fade = min(round(_FADE_SECONDS * SAMPLE_RATE), len(samples))
    samples[-fade:] *= np.cos(np.linspace(0, np.pi / 2, fade))[:, None] ** 2
    rounded = (np.round(samples * _GRID) / _GRID).astype(np.float32)
    rounded.flags.writeable = False
    return rounded
