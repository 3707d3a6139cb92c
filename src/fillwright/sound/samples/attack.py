"""Recorded one-shots: where their attack lies, peaks that leave room, and an end that makes no step."""

from __future__ import annotations

import numpy as np

from fillwright.sound.signal import SAMPLE_RATE, Samples

_FIRST = round(0.05 * SAMPLE_RATE)
_MILLISECOND = round(0.001 * SAMPLE_RATE)
_LOUD_DB, _START_DB = -12.0, -20.0
_RISE = 16
_SILENCE = 10.0 ** (-78 / 20)
_FADE = round(0.03 * SAMPLE_RATE)
_CLOSE = round(0.005 * SAMPLE_RATE)
_KNEE, _ROOM = 0.5, 0.35


def find_attack(samples: Samples) -> int:
    """The sample at which the attack of a recorded stroke starts.

    First the millisecond that comes within 12 dB of the strongest in the first 50 ms after the sound has begun:
    the slow rustle of a hi-hat that the foot is about to shut is not its stroke. Then, in this millisecond, the
    first sample within 20 dB of the highest.

    Args:
        samples: shape (samples, 2).

    Returns:
        0 for silence.
    """
    height = np.max(np.abs(samples), axis=1)
    highest = float(height.max(initial=0.0))
    if highest == 0:
        return 0
    begun = int(np.argmax(height > highest * _ratio(_START_DB - 20)))
    height = height[begun : begun + _FIRST]
    total = np.concatenate([np.zeros(_MILLISECOND), np.cumsum(height.astype(np.float64) ** 2)])
    energy = total[_MILLISECOND:] - total[:-_MILLISECOND]
    end = int(np.argmax(energy >= energy.max() * _ratio(_LOUD_DB) ** 2)) + 1
    window = height[max(0, end - _MILLISECOND) : end]
    return begun + max(0, end - _MILLISECOND) + int(np.argmax(window >= height.max() * _ratio(_START_DB)))


def trim_to_attack(samples: Samples) -> tuple[Samples, int]:
    """A recorded stroke from its attack on.

    A third of a millisecond before the attack is kept and rises from nothing; an end off zero with
    silence behind it is closed.

    Args:
        samples: shape (samples, 2).

    Returns:
        The rest of the samples, and how many were taken away.
    """
    start = max(0, find_attack(samples) - _RISE)
    made = samples[start:].astype(np.float32)
    if start:
        rise = min(_RISE, len(made))
        made[:rise] *= (np.sin(np.linspace(0, np.pi / 2, _RISE, dtype=np.float32)) ** 2)[:rise, None]
    return _closed(made), start


def _closed(samples: Samples) -> Samples:
    """A recording that breaks off while it can still be heard, and goes on as silence, closed over 5 ms."""
    height = np.max(np.abs(samples), axis=1)
    end = int(np.flatnonzero(height)[-1]) + 1 if height.any() else 0
    last = min(_CLOSE, end)
    if (
        end == len(samples)
        or not last
        or height[max(0, end - _RISE) : end].max(initial=0.0) <= _SILENCE * height.max()
    ):
        return samples
    made = samples.copy()
    made[end - last : end] *= (np.cos(np.linspace(0, np.pi / 2, last, dtype=np.float32)) ** 2)[:, None]
    return made


def soften_peaks(samples: Samples) -> Samples:
    """Peaks above half of full scale bent gently under 0.85.

    Otherwise the few peaks of a recorded attack would make whole files quieter, each by something else.
    """
    height = np.abs(samples)
    high = height > _KNEE
    if not high.any():
        return samples
    made = samples.copy()
    made[high] = np.copysign(_KNEE + _ROOM * np.tanh((height[high] - _KNEE) / _ROOM), samples[high])
    return made


def trim_end(samples: Samples) -> Samples:
    """A sound cut where it can no longer be heard, its end faded to exactly zero, read-only."""
    heard = np.flatnonzero(np.max(np.abs(samples), axis=1) > _SILENCE)
    made = samples[: min(len(samples), heard[-1] + _FADE) if len(heard) else 1].copy()
    fade = min(_FADE, len(made))
    made[-fade:] *= (np.cos(np.linspace(0, np.pi / 2, fade, dtype=np.float32)) ** 2)[:, None]
    made[-1] = 0
    made.flags.writeable = False
    return made


def _ratio(level_db: float) -> float:
    return float(10.0 ** (level_db / 20))
