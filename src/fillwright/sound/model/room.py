"""The room round the kit: a few early reflections, then a short tail.

Each wall shows a mirror image of the drum. Sound from an image is later, softer, duller and from another side.
After some ten of them the ear hears only a tail that decays, high frequencies first.
"""

from __future__ import annotations

import zlib
from functools import cache
from itertools import product

import numpy as np

from fillwright.sound.model.bands import BAND_HZ, LOOP_SAMPLES, cut_band_noise
from fillwright.sound.model.modal import LOG_60_DB, interpolate_curve
from fillwright.sound.model.recipe import Room
from fillwright.sound.signal import SAMPLE_RATE, Floats, db_to_amplitude

_SOUND_METRES = 343.0  # metres a second: speed of sound in air at 20 °C (from memory)
_EAR_METRES, _DRUM_METRES = 1.2, 0.7  # height of the drummer's ears and of a drum; ours
_FIRST_SECONDS = 0.003  # earlier reflections belong to the drum's own sound; ours
_STAGE = 0.55  # width of the stereo picture as a part of the true angle's sine; ours
_LONGEST = 1 << 15  # samples of a sound with its room, 0.74 s: later ones add no audible room; ours

Position = tuple[float, float]
"""Position of a drum, in metres from the drummer: to the right, to the front."""


def compute_pan(position: Position) -> float:
    """Return the direction of a drum, from -1, left, to 1, right: as the drummer sits, narrower than in life.

    >>> round(compute_pan((-0.44, 0.48)), 2), compute_pan((0.0, 1.0))
    (-0.37, 0.0)
    """
    x, y = position
    return float(_STAGE * x / np.hypot(x, y)) if x else 0.0


def compute_side_gains(direction: float) -> Floats:
    """Return amplitudes left and right of constant power, 1 and 1 in the middle, shape (2,)."""
    angle = (direction + 1) * np.pi / 4
    return np.asarray(np.sqrt(2.0) * np.array([np.cos(angle), np.sin(angle)]))


def render_room(samples: Floats, room: Room, position: Position, level_db: float) -> Floats:
    """Return the room's answer to a dry sound.

    Args:
        samples: the dry sound, shape (samples, 2).
        room: the room.
        position: position of the drum.
        level_db: energy of the answer against the drum's own.

    Returns:
        The answer without the sound, longer by the room's tail, shape (samples, 2).
    """
    tail = round(_find_tail_seconds(room) * SAMPLE_RATE)
    dry = samples[: _LONGEST - tail].mean(axis=1)
    if len(dry) < len(samples):
        dry *= _fade_envelope(len(dry))[:, 0]
    size = 1 << (len(dry) + tail - 1).bit_length()
    wet = np.fft.irfft(np.fft.rfft(dry, size) * _transform_response(room, position, size), size)
    return np.asarray(wet.T[: len(dry) + tail] * db_to_amplitude(level_db))


@cache
def compute_response(room: Room, position: Position) -> Floats:
    """Return the room's answer to an impulse, its energy 1 as a mean of both sides, shape (samples, 2)."""
    tail = _render_tail(room)
    early = _render_reflections(room, position, len(tail)) * _fade_envelope(len(tail))
    answer = early + tail * np.sqrt(np.sum(early**2) * db_to_amplitude(2 * room.tail_db) / np.sum(tail**2))
    return np.asarray(answer / np.sqrt(np.mean(np.sum(answer**2, axis=0))))


@cache
def _transform_response(room: Room, position: Position, size: int) -> Floats:
    """Return the spectrum of the room's answer to an impulse, shape (2, frequencies)."""
    return np.asarray(np.fft.rfft(np.ascontiguousarray(compute_response(room, position).T), size))


def _render_reflections(room: Room, position: Position, samples: int) -> Floats:
    """Return up to two reflections by walls and ceiling, shape (samples, 2); a rug absorbs the floor's."""
    size = 1 << (samples - 1).bit_length()
    hz = np.asarray(np.fft.rfftfreq(size, 1 / SAMPLE_RATE), np.float64)
    wall = np.asarray(db_to_amplitude(interpolate_curve(room.wall, hz)))
    spectrum = np.zeros((len(hz), 2), np.complex128)
    straight = float(np.sqrt(position[0] ** 2 + position[1] ** 2 + (_EAR_METRES - _DRUM_METRES) ** 2))
    for order in product(range(-2, 3), range(-2, 3), range(2)):
        times = sum(map(abs, order))
        x, y, z = _find_image(room, position, order)
        far = float(np.sqrt(x * x + y * y + z * z))
        late = (far - straight) / _SOUND_METRES
        if 1 <= times <= 2 and late > _FIRST_SECONDS:
            path = straight / far * wall**times * np.exp(-2j * np.pi * hz * late)
            spectrum += path[:, None] * compute_side_gains(compute_pan((x, y)))
    return np.asarray(np.fft.irfft(spectrum, size, axis=0)[:samples])


def _find_image(room: Room, position: Position, order: tuple[int, int, int]) -> tuple[float, float, float]:
    """Return the position of a mirror image, in metres from the drummer's ears."""
    seats = (*room.seat, 0.0)
    source = (seats[0] + position[0], seats[1] + position[1], _DRUM_METRES)
    images = [
        size * (count + 1) - at if count % 2 else at + size * count
        for at, size, count in zip(source, room.size, order, strict=True)
    ]
    return images[0] - seats[0], images[1] - seats[1], images[2] - _EAR_METRES


def _find_tail_seconds(room: Room) -> float:
    """Return the length of the tail: until it has fallen by 40 dB, below everything that still rings."""
    return max(seconds for _, seconds in room.t60) * 2 / 3


@cache
def _render_tail(room: Room) -> Floats:
    """Return noise that swells and decays, independent on both sides, shape (samples, 2)."""
    samples = round(_find_tail_seconds(room) * SAMPLE_RATE)
    rng = np.random.default_rng(zlib.crc32(b"room"))
    colour, t60 = (
        db_to_amplitude(interpolate_curve(room.spectrum, BAND_HZ)),
        interpolate_curve(room.t60, BAND_HZ),
    )
    times = np.arange(samples) / SAMPLE_RATE
    swell = np.clip(times / (room.wait_ms / 1000), 0, 1) ** 2
    tail = np.zeros((samples, 2))
    for band, (loud, seconds) in enumerate(zip(np.asarray(colour), t60, strict=True)):
        envelope = loud * swell * np.exp(-LOG_60_DB / seconds * times)
        for side in range(2):
            tail[:, side] += envelope * cut_band_noise(band, samples, int(rng.integers(LOOP_SAMPLES)))
    return np.asarray(tail * _fade_envelope(samples))


def _fade_envelope(samples: int) -> Floats:
    """Return an envelope: 1, then down to exactly 0 over the last quarter, shape (samples, 1)."""
    return np.clip(4 * (1 - np.arange(1, samples + 1) / samples), 0, 1)[:, None]
