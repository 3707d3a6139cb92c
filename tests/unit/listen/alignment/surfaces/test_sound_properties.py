import numpy as np
import pytest

from fillwright.listen.alignment.moments import Moment
from fillwright.listen.alignment.surfaces.sound_properties import estimate_latencies, get_latency


def moment(name):
    fields = {"in_fill": False, "landing": False, "buzz": False, "velocity": 80}
    return Moment(seconds=0.0, bar=0, mains=(0,), graces=(), surfaces=frozenset({name}), **fields)


def test_the_latency_of_a_sound_that_is_always_late_is_learned():
    chance = np.random.default_rng(2)
    lags = [(moment("snare"), 0.006 + float(chance.normal(0, 0.002))) for _ in range(40)]
    lags += [(moment("kick"), float(chance.normal(0, 0.002))) for _ in range(40)]
    latencies = estimate_latencies(lags, 0.002)
    assert get_latency(latencies, moment("snare")) - get_latency(latencies, moment("kick")) == pytest.approx(
        0.006, abs=0.0015
    )
    assert get_latency(latencies, moment("ride bow")) == 0.0


def test_few_strokes_of_an_uneven_player_change_little():
    latencies = estimate_latencies([(moment("snare"), 0.008)] * 4 + [(moment("kick"), 0.0)] * 40, 0.012)
    assert abs(get_latency(latencies, moment("snare"))) < 0.001
