"""The sounds of a page: a few one-shots of each sound, one after the other in one MP3 recording.

Decoders keep or cut what the encoder put in front, each in its own way, so the recording starts with a pulse
that the page looks for: every sound is at a known distance from it. A sound is cut out at its attack, which
leaves out what the encoder smeared before it.
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
from fillwright.sound.playalong.strikes import BOUNCE_ENDS, BOUNCE_STARTS
from fillwright.sound.signal import SAMPLE_RATE, Samples

PULSE_AT = 4410
"""Position of the pulse's top in the recording, in samples: 100 ms; ours."""

CLICKS = ("accented click", "click")

_PULSE_HALF = 6  # samples from its foot to its top; ours, not measured
_PULSE_HEIGHT = 0.9  # of full scale; ours, not measured
_SILENCE_BEFORE = round(0.05 * SAMPLE_RATE)  # samples: 50 ms, more than the encoder smears; ours
_AUDIBLE = 10.0 ** (-66 / 20)  # amplitude 66 dB below full scale; ours, not measured
_FADE = round(0.03 * SAMPLE_RATE)  # samples: 30 ms; ours, not measured
_START = round(0.1 * SAMPLE_RATE)  # samples: the first 100 ms stand for how loud a sound is; ours, not measured
_USUAL_POWER = 1.7  # where one layer shows none; ours, not measured
_MANY, _SOME = 5.0, 1.0  # strokes a fill from which a sound has so many variations; ours, not measured
_VARIATIONS = (5, 3, 2)  # of a sound struck many times a fill, some times, seldom; ours, not measured


@dataclass(frozen=True, slots=True, kw_only=True)
class Layer:
    """Strokes of one loudness.

    Attributes:
        velocity: 1 to 127.
        shots: distance of each variation from the pulse, and its length, in samples at 44100 a second.
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
    """Record the sounds of some strokes, and of the click.

    Args:
        strokes: of every fill of the page.
        fills: how many those are.
        bank: where the sounds come from.
    """
    return record_sounds(count_variations(strokes, fills), bank)


def record_sounds(needed: Mapping[str, Mapping[int, int]], bank: SoundBank) -> PackedSounds:
    """Record sounds one after the other.

    Args:
        needed: how many variations of each velocity of each sound.
        bank: where they come from.
    """
    pieces = [_make_pulse()]
    length = len(pieces[0])
    sounds = {}
    for name, velocities in sorted(needed.items()):
        layers, loudness = [], {}
        for velocity, variations in sorted(velocities.items()):
            shots = _take_variations(bank, name, velocity, variations)
            loudness[velocity] = float(np.mean([_measure_level(shot) for shot in shots]))
            cuts = []
            for shot in shots:
                cuts.append((length + _SILENCE_BEFORE - PULSE_AT, len(shot)))
                pieces += [np.zeros((_SILENCE_BEFORE, 2), np.float32), shot]
                length += _SILENCE_BEFORE + len(shot)
            layers.append(Layer(velocity=velocity, shots=tuple(cuts)))
        sounds[name] = Sound(layers=tuple(layers), power=_fit_slope(loudness))
    pieces.append(np.zeros((_SILENCE_BEFORE, 2), np.float32))
    audio = Audio(samples=np.concatenate(pieces), start_seconds=0.0)
    return PackedSounds(recording=encode_audio(audio, ".mp3"), sounds=sounds)


def count_variations(strokes: Sequence[PageStroke], fills: int) -> dict[str, dict[int, int]]:
    """Return how many variations the recording needs, by sound and velocity."""
    uses = Counter(use for stroke in strokes for use in _list_uses(stroke))
    variations: dict[str, dict[int, int]] = {name: {ACCENT_VELOCITY: 1} for name in CLICKS}
    for (name, velocity), count in uses.items():
        often = count / max(1, fills)
        many = _VARIATIONS[(often < _MANY) + (often < _SOME)]
        variations.setdefault(name, {})[velocity] = many
    return variations


def fit_power(bank: SoundBank, name: str, velocities: Collection[int]) -> float:
    """Return the power of the velocity that a sound's amplitude follows, from softest to hardest stroke."""
    ends = {
        velocity: _measure_level(_cut_silence(bank.get_shot(name, velocity, 0)))
        for velocity in (min(velocities), max(velocities))
    }
    return _fit_slope(ends)


def _list_uses(stroke: PageStroke) -> Iterator[tuple[str, int]]:
    """Yield the sounds of a stroke; of a buzz's bounces the two that the others are scaled from."""
    yield stroke.sound, stroke.velocity
    if stroke.grace:
        for _ in range(stroke.graces):
            yield stroke.grace
    if stroke.bounce:
        for part in (BOUNCE_STARTS, BOUNCE_ENDS):
            yield stroke.bounce, max(1, round(stroke.velocity * part))


def _take_variations(bank: SoundBank, name: str, velocity: int, most: int) -> list[Samples]:
    """Return the first variations of a sound, each once: a bank may have fewer."""
    shots: dict[bytes, Samples] = {}
    for index in range(most):
        shot = _cut_silence(bank.get_shot(name, velocity, index))
        shots.setdefault(shot.tobytes(), shot)
    return list(shots.values())


def _cut_silence(shot: Samples) -> Samples:
    """Return a sound up to the point where it becomes inaudible, the end faded."""
    audible = np.flatnonzero(np.abs(shot).max(axis=1) > _AUDIBLE)
    cut = shot[: audible[-1] + 1 if len(audible) else 1].copy()
    fade = min(_FADE, len(cut))
    cut[-fade:] *= (np.cos(np.linspace(0, np.pi / 2, fade, dtype=np.float32)) ** 2)[:, None]
    return cut


def _measure_level(shot: Samples) -> float:
    """Return the level of a sound's start."""
    return float(np.sqrt(np.sum(shot[:_START].astype(np.float64) ** 2) / _START))


def _fit_slope(loudness: Mapping[int, float]) -> float:
    """Return the slope of log level over log velocity, from the softest layer to the loudest."""
    soft, hard = min(loudness), max(loudness)
    if soft == hard or not loudness[soft] or not loudness[hard]:
        return _USUAL_POWER
    return round(float(np.log(loudness[hard] / loudness[soft]) / np.log(hard / soft)), 3)


def _make_pulse() -> Samples:
    """Return silence with one round pulse, whose top can be found to the sample after decoding."""
    pulse = np.zeros((PULSE_AT + _SILENCE_BEFORE, 2), np.float32)
    shape = np.hanning(2 * _PULSE_HALF + 1).astype(np.float32) * _PULSE_HEIGHT
    pulse[PULSE_AT - _PULSE_HALF : PULSE_AT + _PULSE_HALF + 1] = shape[:, None]
    return pulse
