from itertools import pairwise

import numpy as np
import pytest

from fillwright.sound.samples.variation import VARIATIONS, vary_stroke
from fillwright.sound.signal import SAMPLE_RATE
from tests.soundfonts import stroke

NOISE = np.random.default_rng(3).normal(0, 0.2, (SAMPLE_RATE // 2, 2)).astype(np.float32)
NOISE *= np.exp(-np.arange(len(NOISE)) / 4000, dtype=np.float32)[:, None]


def level_db(samples):
    return 10 * np.log10(np.sum(samples.astype(np.float64) ** 2))


def test_the_first_way_is_the_recording():
    assert np.array_equal(vary_stroke(NOISE, 0), NOISE)


def test_neighbours_differ_also_where_the_ways_start_again():
    made = [vary_stroke(NOISE, way).tobytes() for way in range(VARIATIONS)]
    assert len(set(made)) == VARIATIONS
    assert all(one != other for one, other in pairwise([*made, made[0]]))


@pytest.mark.parametrize("way", range(VARIATIONS))
def test_differences_are_smaller_than_a_drummers(way):
    """Within 1.5 dB, and the pitch of a tone within 5 cents."""
    assert level_db(vary_stroke(NOISE, way)) == pytest.approx(level_db(NOISE), abs=1.5)
    tone = np.repeat(stroke(1000, seconds=1.0)[:, None], 2, axis=1).astype(np.float32)
    phase = np.unwrap(
        np.angle(
            np.fft.ifft(
                np.fft.fft(vary_stroke(tone, way)[:, 0]) * (np.arange(len(vary_stroke(tone, way))) < 4000)
            )
        )
    )
    hz = (phase[20_000] - phase[2000]) * SAMPLE_RATE / (18_000 * 2 * np.pi)
    assert abs(1200 * np.log2(hz / 1000)) < 5


@pytest.mark.parametrize("way", range(VARIATIONS))
def test_the_attack_stays_where_it_is(way):
    tone = np.repeat(stroke(3000)[:, None], 2, axis=1).astype(np.float32)
    made = vary_stroke(tone, way)
    assert np.abs(made[:5]).max() > 0.5 * np.abs(made).max()


def test_ways_differ_in_brightness():
    def bright(samples):
        power = np.abs(np.fft.rfft(samples[:, 0])) ** 2
        hz = np.fft.rfftfreq(len(samples), 1 / SAMPLE_RATE)
        return 10 * np.log10(power[hz > 6000].sum() / power[hz < 1000].sum())

    found = [bright(vary_stroke(NOISE, way)) - bright(NOISE) for way in range(VARIATIONS)]
    assert max(found) > 0.25
    assert min(found) < -0.25
    assert max(map(abs, found)) < 1.2
