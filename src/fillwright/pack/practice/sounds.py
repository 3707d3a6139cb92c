"""The sounds of a page: a few one-shots of each sound, one behind the other in one MP3 recording.

Decoders keep or cut what the encoder put in front, each in its own way, so the recording starts with a pulse
that the page looks for: every sound lies at a known distance from it. A sound is cut out at its attack, which
leaves what the encoder smeared before it behind.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from fillwright.pack.practice.strokes import PageStroke
from fillwright.sound.files.audio import Audio
from fillwright.sound.files.encode import encode_audio
from fillwright.sound.model.bank import SoundBank
from fillwright.sound.model.instrument import ACCENT_VELOCITY
from fillwright.sound.signal import Samples
from fillwright.sound.signal import SAMPLE_RATE
from fillwright.sound.playalong.strikes import BOUNCE_ENDS, BOUNCE_STARTS

PULSE_AT = 4410
"""Where the pulse's top lies in the recording, in samples."""

CLICKS = ("accented click", "click")

_PULSE_HALF = 6
_PULSE_HEIGHT = 0.9
_SILENCE_BEFORE = round(0.05 * SAMPLE_RATE)
_HEARD = 10.0 ** (-66 / 20)
_FADE = round(0.03 * SAMPLE_RATE)
_LOUDNESS = round(0.1 * SAMPLE_RATE)
_USUAL_POWER = 1.7
_MANY, _SOME = 5.0, 1.0  # strokes a fill from which on a sound has so many variations
_VARIATIONS = (5, 3, 2)


@dataclass(frozen=True, slots=True, kw_only=True)
class Layer:
    """Strokes of one loudness.

    Attributes:
        velocity: 1 to 127.
        shots: where each variation lies behind the pulse, and how long it is, in samples at 44100 a second.
    """

    velocity: int
    shots: tuple[tuple[int, int], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Sound:
    """One sound of the kit.

    Attributes:
        layers: ascending in loudness.
        power: amplitude goes with velocity to this power; for strokes between two layers.
    """

    layers: tuple[Layer, ...]
    power: float


@dataclass(frozen=True, slots=True, kw_only=True)
class PackedSounds:
    """All sounds of a page.

    Attributes:
        recording: an MP3 file.
        sounds: by name.
    """

    recording: bytes
    sounds: Mapping[str, Sound]


def pack_sounds(strokes: Sequence[PageStroke], fills: int, bank: SoundBank) -> PackedSounds:
    """The sounds of some strokes, and of the click.

    Args:
        strokes: of every fill of the page.
        fills: how many those are.
        bank: where the sounds come from.
    """
    return record_sounds(count_variations(strokes, fills), bank)


def record_sounds(sounds_wanted: Mapping[str, Mapping[int, int]], bank: SoundBank) -> PackedSounds:
    """Sounds one behind the other in a recording.

    Args:
        sounds_wanted: how many variations of each velocity of each sound.
        bank: where they come from.
    """
    pieces = [_pulse()]
    length = len(pieces[0])
    sounds = {}
    for name, velocities in sorted(sounds_wanted.items()):
        layers, loudness = [], {}
        for velocity, variations in sorted(velocities.items()):
            shots = _distinct(bank, name, velocity, variations)
            loudness[velocity] = float(np.mean([_level(shot) for shot in shots]))
            places = []
            for shot in shots:
                places.append((length + _SILENCE_BEFORE - PULSE_AT, len(shot)))
                pieces += [np.zeros((_SILENCE_BEFORE, 2), np.float32), shot]
                length += _SILENCE_BEFORE + len(shot)
            layers.append(Layer(velocity=velocity, shots=tuple(places)))
        sounds[name] = Sound(layers=tuple(layers), power=_power(loudness))
    pieces.append(np.zeros((_SILENCE_BEFORE, 2), np.float32))
    audio = Audio(samples=np.concatenate(pieces), start_seconds=0.0)
    return PackedSounds(recording=encode_audio(audio, ".mp3"), sounds=sounds)


def count_variations(strokes: Sequence[PageStroke], fills: int) -> dict[str, dict[int, int]]:
    """How many variations of each velocity of each sound."""
    uses = Counter(use for stroke in strokes for use in _uses(stroke))
    found: dict[str, dict[int, int]] = {name: {ACCENT_VELOCITY: 1} for name in CLICKS}
    for (name, velocity), count in uses.items():
        often = count / max(1, fills)
        many = _VARIATIONS[(often < _MANY) + (often < _SOME)]
        found.setdefault(name, {})[velocity] = many
    return found


def fit_power(bank: SoundBank, name: str, velocities: Collection[int]) -> float:
    """With which power of the velocity a sound's amplitude goes, by its softest stroke and its hardest."""
    ends = {
        velocity: _level(_cut(bank.get_shot(name, velocity, 0))) for velocity in (min(velocities), max(velocities))
    }
    return _power(ends)


def _uses(stroke: PageStroke) -> Iterator[tuple[str, int]]:
    """The sounds that a stroke is made of; a buzz's bounces by two that the others are scaled from."""
    yield stroke.sound, stroke.velocity
    if stroke.grace:
        for _ in range(stroke.graces):
            yield stroke.grace
    if stroke.bounce:
        for part in (BOUNCE_STARTS, BOUNCE_ENDS):
            yield stroke.bounce, max(1, round(stroke.velocity * part))


def _distinct(bank: SoundBank, name: str, velocity: int, most: int) -> list[Samples]:
    """The first variations of a sound, each once: a bank may have fewer than asked for."""
    found: dict[bytes, Samples] = {}
    for index in range(most):
        shot = _cut(bank.get_shot(name, velocity, index))
        found.setdefault(shot.tobytes(), shot)
    return list(found.values())


def _cut(shot: Samples) -> Samples:
    """A sound up to where it can no longer be heard, the end faded."""
    heard = np.flatnonzero(np.abs(shot).max(axis=1) > _HEARD)
    made = shot[: heard[-1] + 1 if len(heard) else 1].copy()
    fade = min(_FADE, len(made))
    made[-fade:] *= (np.cos(np.linspace(0, np.pi / 2, fade, dtype=np.float32)) ** 2)[:, None]
    return made


def _level(shot: Samples) -> float:
    """How loud a sound starts."""
    return float(np.sqrt(np.sum(shot[:_LOUDNESS].astype(np.float64) ** 2) / _LOUDNESS))


def _power(loudness: Mapping[int, float]) -> float:
    """The slope of loudness over velocity, from the softest layer to the loudest."""
    soft, hard = min(loudness), max(loudness)
    if soft == hard or not loudness[soft] or not loudness[hard]:
        return _USUAL_POWER
    return round(float(np.log(loudness[hard] / loudness[soft]) / np.log(hard / soft)), 3)


def _pulse() -> Samples:
    """Silence with one round pulse, whose top a decoder finds to the sample."""
    made = np.zeros((PULSE_AT + _SILENCE_BEFORE, 2), np.float32)
    shape = np.hanning(2 * _PULSE_HALF + 1).astype(np.float32) * _PULSE_HEIGHT
    made[PULSE_AT - _PULSE_HALF : PULSE_AT + _PULSE_HALF + 1] = shape[:, None]
    return made
