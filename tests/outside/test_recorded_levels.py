"""Loudness of recorded sounds, ours against independent code.

Source: ITU-R BS.1770-4, Algorithms to measure audio programme loudness and true-peak audio level
Source: pyloudnorm (integrated loudness with gating)
"""

import numpy as np
import pyloudnorm
import pytest

from fillwright.sound.files.loudness import QUIETEST_LUFS, measure_loudness
from fillwright.sound.signal import SAMPLE_RATE


def theirs(samples):
    return pyloudnorm.Meter(SAMPLE_RATE).integrated_loudness(samples.astype(np.float64))


@pytest.mark.parametrize("seed", range(4))
def test_loudness_of_bursts_agrees_with_pyloudnorm(seed):
    """Noise of several colours that comes and goes, so that both gates have work to do."""
    chance = np.random.default_rng(seed)
    noise = chance.normal(0, 0.1, (6 * SAMPLE_RATE, 2))
    if seed % 2:
        noise = np.cumsum(noise, axis=0) * 0.02
        noise -= noise.mean(axis=0)
    levels = np.repeat(10 ** (chance.uniform(-60, 0, 12) / 20), SAMPLE_RATE // 2)
    samples = (noise * levels[:, None]).astype(np.float32)
    assert measure_loudness(samples) == pytest.approx(theirs(samples), abs=0.1)


@pytest.mark.parametrize("hz", [40, 100, 1000, 3000, 10_000])
def test_loudness_of_tones_agrees_with_pyloudnorm(hz):
    tone = 0.1 * np.sin(2 * np.pi * hz * np.arange(3 * SAMPLE_RATE) / SAMPLE_RATE)
    samples = np.stack([tone, tone], axis=1).astype(np.float32)
    assert measure_loudness(samples) == pytest.approx(theirs(samples), abs=0.1)


def test_a_full_scale_tone_has_the_loudness_of_the_recommendation():
    """997 Hz at full scale on one channel: −3.01 LUFS."""
    tone = np.sin(2 * np.pi * 997 * np.arange(3 * SAMPLE_RATE) / SAMPLE_RATE)
    samples = np.stack([tone, np.zeros_like(tone)], axis=1).astype(np.float32)
    assert measure_loudness(samples) == pytest.approx(-3.01, abs=0.05)


def test_silence_is_the_quietest():
    assert (
        measure_loudness(np.zeros((SAMPLE_RATE, 2), np.float32))
        == measure_loudness(np.zeros((0, 2), np.float32))
        == QUIETEST_LUFS
    )
