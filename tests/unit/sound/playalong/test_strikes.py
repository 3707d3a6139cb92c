from itertools import pairwise

import pytest

from fillwright.music.stroke import GRACE_VELOCITY, Kind, Level
from fillwright.music.timing import time_phrase
from fillwright.sound.playalong.strikes import LONGEST_BUZZ_SECONDS, generate_bounces, list_strikes


def test_a_tap_is_one_strike(make_phrase):
    (strike,) = list_strikes(time_phrase(make_phrase("snare"), 60), 1.5)
    assert (strike.name, strike.onset_seconds, strike.velocity) == ("snare", 1.5, Level.TAP.velocity)


def test_graces_are_soft_and_before(make_phrase):
    made = list_strikes(time_phrase(make_phrase("floor tom", kind=Kind.DRAG, level=Level.ACCENT), 60), 1.0)
    assert [strike.velocity for strike in made] == [GRACE_VELOCITY, GRACE_VELOCITY, Level.ACCENT.velocity]
    assert [strike.onset_seconds for strike in made] == pytest.approx([0.94, 0.97, 1.0])
    assert {strike.name for strike in made} == {"floor tom"}


def test_strikes_ascend_where_graces_reach_back(make_phrase):
    made = list_strikes(time_phrase(make_phrase(*["snare"] * 8, kind=Kind.FLAM), 200), 1.0)
    assert [s.onset_seconds for s in made] == sorted(s.onset_seconds for s in made)
    assert len(made) == 16


def test_a_buzz_bounces_to_the_end_of_its_stroke(make_phrase):
    made = list_strikes(time_phrase(make_phrase(*["snare"] * 16, kind=Kind.BUZZ), 100))
    first = [s for s in made if s.onset_seconds < 0.15]
    assert len(first) > 4
    assert first[0].velocity == Level.TAP.velocity
    assert first[-1].onset_seconds > 0.15 - 0.03
    velocities = [s.velocity for s in first]
    assert velocities == sorted(velocities, reverse=True)


def test_bounces_come_closer_and_softer():
    at, parts = zip(*generate_bounces(0.4), strict=True)
    gaps = [b - a for a, b in pairwise(at)]
    assert gaps == sorted(gaps, reverse=True)
    assert min(gaps) > 0.0139
    assert list(parts) == sorted(parts, reverse=True)
    assert max(at) < 0.4


def test_a_long_buzz_fades_and_a_short_one_has_no_bounce():
    assert max(at for at, _ in generate_bounces(4.0)) < LONGEST_BUZZ_SECONDS
    assert not list(generate_bounces(0.02))
