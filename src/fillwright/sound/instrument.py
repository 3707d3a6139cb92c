"""One finished one-shot: the parts of a recipe together, in the room, at its level and place."""

from __future__ import annotations

import zlib
from functools import cache

import numpy as np
import numpy.typing as npt
from scipy.signal import fftconvolve

from fillwright.sound.blow import Blow
from fillwright.sound.modal import RATE, Floats, along, decibels
from fillwright.sound.parts import sound
from fillwright.sound.recipe import Kit, Recipe, Room

Samples = npt.NDArray[np.float32]

ACCENT = 112
"""The velocity at which a recipe's levels are given."""

_GRID = 2.0**20
_SILENCE = 10.0 ** (-78 / 20)
_FADE_SECONDS = 0.03
_ATTACK = round(0.002 * RATE)
_EASES_DB = 5.0
_LOUDNESS = round(0.1 * RATE)
_KNEE, _ROOM = 0.7, 0.27


def one_shot(kit: Kit, name: str, velocity: int, variation: int) -> Samples:
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
    recipe = kit.recipe(name)
    seed = zlib.crc32(name.encode())
    halvings = float(np.log2(ACCENT / velocity))
    blow = Blow(
        halvings=halvings,
        tilt_db=recipe.tilt_db * halvings,
        chance=np.random.default_rng([seed, velocity, variation]),
        body=np.random.default_rng(seed),
    )
    dry = _press(
        _together([sound(part, blow) for part in recipe.parts]), recipe.drive_db - _EASES_DB * halvings
    )
    placed = _in_room(_placed(dry, recipe.pan), recipe, kit.room)
    level = decibels(recipe.loud_db + kit.gain_db + blow.chance.uniform(-0.4, 0.4))
    level *= (velocity / ACCENT) ** kit.velocity_power
    shaped = _attack_on_top(placed)
    return _finished(shaped * (level / np.sqrt(np.sum(shaped[:_LOUDNESS] ** 2) / (2 * _LOUDNESS))))


def _attack_on_top(samples: Floats) -> Floats:
    """The attack's peak made 1, and what comes later bent gently under it, so that ear and meter find it."""
    made: Floats = samples / np.max(np.abs(samples[:_ATTACK]))
    later = made[_ATTACK:]
    over = np.abs(later) > _KNEE
    high = later[over]
    later[over] = np.copysign(_KNEE + _ROOM * np.tanh((np.abs(high) - _KNEE) / _ROOM), high)
    return made


def _together(parts: list[Floats]) -> Floats:
    out = np.zeros((max(map(len, parts)), 2))
    for part in parts:
        out[: len(part)] += part
    return out


def _press(samples: Floats, drive_db: float) -> Floats:
    """Round the highest peaks, soft strokes less: full scale is the attack's own peak."""
    peak = np.max(np.abs(samples[:_ATTACK]))
    drive = decibels(drive_db) / peak
    return np.asarray(np.tanh(samples * drive) if drive_db > 0 else samples / peak)


def _placed(samples: Floats, pan: float) -> Floats:
    """Left and right at equal power."""
    angle = (pan + 1) * np.pi / 4
    return np.asarray(samples * np.array([np.cos(angle), np.sin(angle)]) * np.sqrt(2))


def _in_room(samples: Floats, recipe: Recipe, room: Room) -> Floats:
    if recipe.room_db < -60:
        return samples
    wet = fftconvolve(samples, room_response(room), axes=0) * decibels(recipe.room_db)
    wet[: len(samples)] += samples
    return np.asarray(wet)


@cache
def room_response(room: Room) -> Floats:
    """What the room answers to an impulse: noise that dies away, each side its own, of energy 1."""
    wait = round(room.wait_ms * RATE / 1000)
    samples = round(room.t60 * RATE)
    chance = np.random.default_rng(zlib.crc32(b"room"))
    hz = np.asarray(np.fft.rfftfreq(samples, 1 / RATE), np.float64)
    colour = np.asarray(decibels(along(room.spectrum, hz)))
    white = np.fft.rfft(chance.standard_normal((samples, 2)), axis=0)
    noise = np.asarray(np.fft.irfft(white * colour[:, None], samples, axis=0))
    noise *= np.exp(-np.log(1000.0) * np.arange(samples) / samples)[:, None]
    noise /= np.sqrt(np.sum(noise**2, axis=0))
    return np.concatenate([np.zeros((wait, 2)), noise])


def _finished(samples: Floats) -> Samples:
    """Cut where it can no longer be heard, fade the end, round to the grid."""
    heard = np.flatnonzero(np.maximum(*np.abs(samples.T)) > _SILENCE)
    samples = samples[: heard[-1] + 1 if len(heard) else 1]
    fade = min(round(_FADE_SECONDS * RATE), len(samples))
    samples[-fade:] *= np.cos(np.linspace(0, np.pi / 2, fade))[:, None] ** 2
    made = (np.round(samples * _GRID) / _GRID).astype(np.float32)
    made.flags.writeable = False
    return made
