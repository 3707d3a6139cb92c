"""Recorded one-shots: their attack found, their peaks softened, their ends closed."""

from __future__ import annotations

import numpy as np

from fillwright.sound.signal import SAMPLE_RATE, Samples

# All ours, not measured; tests/outside/test_soundfont_fluidsynth.py checks the attacks against another player.
_SEARCHED = round(0.05 * SAMPLE_RATE)  # samples after the start of the sound that hold the attack: 50 ms
_MILLISECOND = round(0.001 * SAMPLE_RATE)  # samples
_LOUD_DB = -12.0  # level of the attack's first millisecond against the strongest one
_START_DB = -20.0  # level of the attack's first sample against the highest one
_RISE = 16  # samples before the attack that are kept and fade in: a third of a millisecond
_SILENCE = 10.0 ** (-78 / 20)  # amplitude, -78 dB, below which an end is inaudible
_FADE = round(0.03 * SAMPLE_RATE)  # samples of the fade at the end: 30 ms
_CLOSE = round(0.005 * SAMPLE_RATE)  # samples of the fade of a recording that breaks off: 5 ms
_KNEE, _BEND = 0.5, 0.35  # peaks above 0.5 of full scale are bent under 0.85


def find_attack(samples: Samples) -> int:
    """Return the sample at which the attack of a recorded stroke starts.

    First we find the millisecond within 12 dB of the strongest one of the first 50 ms of sound: the slow noise
    of a hi-hat before the foot closes it is not its attack. Then we find its first sample within 20 dB of the
    highest.

    Args:
        samples: shape (samples, 2).

    Returns:
        The number of the sample; 0 for silence.
    """
    height = np.max(np.abs(samples), axis=1)
    highest = float(height.max(initial=0.0))
    if highest == 0:
        return 0
    first = int(np.argmax(height > highest * _db_to_ratio(_START_DB - 20)))
    height = height[first : first + _SEARCHED]
    total = np.concatenate([np.zeros(_MILLISECOND), np.cumsum(height.astype(np.float64) ** 2)])
    energy = total[_MILLISECOND:] - total[:-_MILLISECOND]
    end = int(np.argmax(energy >= energy.max() * _db_to_ratio(_LOUD_DB) ** 2)) + 1
    window = height[max(0, end - _MILLISECOND) : end]
    return first + max(0, end - _MILLISECOND) + int(np.argmax(window >= height.max() * _db_to_ratio(_START_DB)))


def trim_to_attack(samples: Samples) -> tuple[Samples, int]:
    """Return a recorded stroke from its attack on.

    A third of a millisecond before the attack is kept and fades in. An end that breaks off is faded out.

    Args:
        samples: shape (samples, 2).

    Returns:
        The rest of the samples, and how many were removed.
    """
    start = max(0, find_attack(samples) - _RISE)
    stroke = samples[start:].astype(np.float32)
    if start:
        rise = min(_RISE, len(stroke))
        stroke[:rise] *= (np.sin(np.linspace(0, np.pi / 2, _RISE, dtype=np.float32)) ** 2)[:rise, None]
    return _close_end(stroke), start


def _close_end(samples: Samples) -> Samples:
    """Fade out, over 5 ms, a recording that breaks off into silence while it is still audible."""
    height = np.max(np.abs(samples), axis=1)
    end = int(np.flatnonzero(height)[-1]) + 1 if height.any() else 0
    last = min(_CLOSE, end)
    if (
        end == len(samples)
        or not last
        or height[max(0, end - _RISE) : end].max(initial=0.0) <= _SILENCE * height.max()
    ):
        return samples
    closed = samples.copy()
    closed[end - last : end] *= (np.cos(np.linspace(0, np.pi / 2, last, dtype=np.float32)) ** 2)[:, None]
    return closed


def soften_peaks(samples: Samples) -> Samples:
    """Bend peaks above half of full scale under 0.85.

    Otherwise the few peaks of a recorded attack would turn whole files down, each by a different amount.
    """
    height = np.abs(samples)
    high = height > _KNEE
    if not high.any():
        return samples
    soft = samples.copy()
    soft[high] = np.copysign(_KNEE + _BEND * np.tanh((height[high] - _KNEE) / _BEND), samples[high])
    return soft


def trim_end(samples: Samples) -> Samples:
    """Cut off the inaudible end of a sound and fade it to exactly zero, read-only."""
    audible = np.flatnonzero(np.max(np.abs(samples), axis=1) > _SILENCE)
    trimmed = samples[: min(len(samples), audible[-1] + _FADE) if len(audible) else 1].copy()
    fade = min(_FADE, len(trimmed))
    trimmed[-fade:] *= (np.cos(np.linspace(0, np.pi / 2, fade, dtype=np.float32)) ** 2)[:, None]
    trimmed[-1] = 0
    trimmed.flags.writeable = False
    return trimmed


def _db_to_ratio(level_db: float) -> float:
    return float(10.0 ** (level_db / 20))
