"""Dropouts of a recording: found where sound stops dead, never in silence or in a drum's decay."""

import numpy as np
import pytest

from fillwright.listen.dropouts import count_dropouts

RATE = 44_100


def record(seconds=4.0):
    """Return strokes that ring, every half second, in a little noise."""
    chance = np.random.default_rng(5)
    time = np.arange(round(0.4 * RATE)) / RATE
    stroke = chance.normal(size=len(time)) * np.exp(-time / 0.08)
    samples = 1e-4 * chance.normal(size=round(seconds * RATE))
    for start in np.arange(0.3, seconds - 0.5, 0.5):
        first = round(start * RATE)
        samples[first : first + len(stroke)] += stroke
    return (samples / np.abs(samples).max()).astype(np.float32)


def drop(samples, *places, seconds=0.02):
    dropped = samples.copy()
    for place in places:
        dropped[round(place * RATE) : round((place + seconds) * RATE)] = 0
    return dropped


def test_lost_buffers_are_counted():
    assert count_dropouts(drop(record(), 0.33, 0.85, 1.36, 2.32), RATE) == 4


@pytest.mark.parametrize("shape", [(-1,), (-1, 1)])
def test_a_whole_recording_has_none(shape):
    assert count_dropouts(record().reshape(shape), RATE) == 0


def test_silence_between_strokes_is_not_a_dropout():
    samples = record()
    samples[np.abs(samples) < 1e-3] = 0
    assert count_dropouts(samples, RATE) == 0


def test_silence_and_nothing_at_all():
    assert count_dropouts(np.zeros(RATE, np.float32), RATE) == 0
    assert count_dropouts(np.zeros(0, np.float32), RATE) == 0
