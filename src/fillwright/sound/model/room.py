"""The room that the kit stands in: a few early reflections, then a short tail.

Each wall shows a mirror image of the drum; what comes from it is later, softer, duller and from another side.
After some ten of them the ear hears only a tail that dies away, highs first.
"""

from __future__ import annotations

import zlib
from functools import cache
from itertools import product

import numpy as np

from fillwright.sound.model.bands import BAND_HZ, LOOP_SAMPLES, cut_band_noise
from fillwright.sound.model.modal import interpolate_curve
from fillwright.sound.model.recipe import Room
from fillwright.sound.signal import SAMPLE_RATE, Floats, db_to_amplitude

_SOUND_METRES = 343.0  # a second
_EAR_METRES, _DRUM_METRES = 1.2, 0.7
_FIRST_SECONDS = 0.003  # what comes earlier is part of the drum's own sound
_FALL = np.log(1000.0)
_STAGE = 0.55
_LONGEST = 1 << 15  # samples of an answer: what rings on after half a second has no need of more room

Position = tuple[float, float]
"""Where a drum stands, in metres from the drummer: to the right, to the front."""


def compute_pan(place: Position) -> float:
    """From -1, left, to 1, right: as the drummer sits, the stage narrower than life.

    >>> round(pan((-0.44, 0.48)), 2), pan((0.0, 1.0))
    (-0.37, 0.0)
    """
    x, y = place
    return float(_STAGE * x / np.hypot(x, y)) if x else 0.0


def compute_side_gains(direction: float) -> Floats:
    """Amplitudes left and right of equal power, 1 and 1 in the middle, shape (2,)."""
    angle = (direction + 1) * np.pi / 4
    return np.asarray(np.sqrt(2.0) * np.array([np.cos(angle), np.sin(angle)]))


def render_room(samples: Floats, room: Room, place: Position, level_db: float) -> Floats:
    """What the room adds to a dry sound.

    Args:
        samples: the dry sound, shape (samples, 2).
        room: its size and walls.
        place: of the drum.
        level_db: energy of the room's answer against the drum's own.

    Returns:
        The answer alone, longer than the sound by the room's tail, shape (samples, 2).
    """
    tail = round(_tail_seconds(room) * SAMPLE_RATE)
    dry = samples[: _LONGEST - tail].mean(axis=1)
    if len(dry) < len(samples):
        dry *= _closing(len(dry))[:, 0]
    size = 1 << (len(dry) + tail - 1).bit_length()
    wet = np.fft.irfft(np.fft.rfft(dry, size) * _spectrum(room, place, size), size)
    return np.asarray(wet.T[: len(dry) + tail] * db_to_amplitude(level_db))


@cache
def compute_response(room: Room, place: Position) -> Floats:
    """What the room answers to an impulse, its energy 1 on both sides together, shape (samples, 2)."""
    made = _tail(room)
    early = _early(room, place, len(made)) * _closing(len(made))
    made = early + made * np.sqrt(np.sum(early**2) * db_to_amplitude(2 * room.tail_db) / np.sum(made**2))
    return np.asarray(made / np.sqrt(np.mean(np.sum(made**2, axis=0))))


@cache
def _spectrum(room: Room, place: Position, size: int) -> Floats:
    return np.asarray(np.fft.rfft(np.ascontiguousarray(compute_response(room, place).T), size))


def _early(room: Room, place: Position, samples: int) -> Floats:
    """Mirror images in walls and ceiling, up to two reflections; the rug swallows what hits the floor."""
    size = 1 << (samples - 1).bit_length()
    hz = np.asarray(np.fft.rfftfreq(size, 1 / SAMPLE_RATE), np.float64)
    wall = np.asarray(db_to_amplitude(interpolate_curve(room.wall, hz)))
    made = np.zeros((len(hz), 2), np.complex128)
    straight = float(np.sqrt(place[0] ** 2 + place[1] ** 2 + (_EAR_METRES - _DRUM_METRES) ** 2))
    for order in product(range(-2, 3), range(-2, 3), range(2)):
        times = sum(map(abs, order))
        x, y, z = _image(room, place, order)
        far = float(np.sqrt(x * x + y * y + z * z))
        late = (far - straight) / _SOUND_METRES
        if 1 <= times <= 2 and late > _FIRST_SECONDS:
            path = straight / far * wall**times * np.exp(-2j * np.pi * hz * late)
            made += path[:, None] * compute_side_gains(compute_pan((x, y)))
    return np.asarray(np.fft.irfft(made, size, axis=0)[:samples])


def _image(room: Room, place: Position, order: tuple[int, int, int]) -> tuple[float, float, float]:
    """Where a mirror image stands, in metres from the drummer's ears."""
    seats = (*room.seat, 0.0)
    source = (seats[0] + place[0], seats[1] + place[1], _DRUM_METRES)
    images = [
        size * (count + 1) - at if count % 2 else at + size * count
        for at, size, count in zip(source, room.size, order, strict=True)
    ]
    return images[0] - seats[0], images[1] - seats[1], images[2] - _EAR_METRES


def _tail_seconds(room: Room) -> float:
    """The tail is left when it has fallen by 40 dB and is covered by all that still rings."""
    return max(seconds for _, seconds in room.t60) * 2 / 3


@cache
def _tail(room: Room) -> Floats:
    """Noise that swells in while the reflections thin out and dies away, each side its own."""
    samples = round(_tail_seconds(room) * SAMPLE_RATE)
    chance = np.random.default_rng(zlib.crc32(b"room"))
    colour, t60 = (
        db_to_amplitude(interpolate_curve(room.spectrum, BAND_HZ)),
        interpolate_curve(room.t60, BAND_HZ),
    )
    at = np.arange(samples) / SAMPLE_RATE
    swell = np.clip(at / (room.wait_ms / 1000), 0, 1) ** 2
    made = np.zeros((samples, 2))
    for band, (loud, seconds) in enumerate(zip(np.asarray(colour), t60, strict=True)):
        envelope = loud * swell * np.exp(-_FALL / seconds * at)
        for side in range(2):
            made[:, side] += envelope * cut_band_noise(band, samples, int(chance.integers(LOOP_SAMPLES)))
    return np.asarray(made * _closing(samples))


def _closing(samples: int) -> Floats:
    """1, then down to exactly 0 over the last quarter, shape (samples, 1)."""
    return np.clip(4 * (1 - np.arange(1, samples + 1) / samples), 0, 1)[:, None]
