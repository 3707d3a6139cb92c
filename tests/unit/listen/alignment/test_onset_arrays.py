import numpy as np
import pytest

from fillwright.listen.alignment.attacks import attack_lags, late
from fillwright.listen.alignment.moments import Moment
from fillwright.listen.alignment.onset_arrays import hearing
from fillwright.listen.detected_take import DetectedTake, Onset


def struck(at, surface, level_db=-8.0, **about):
    return Onset(seconds=at, strength_db=20.0, loudness_db=level_db, surface=surface, **about)


def kept(*onsets, **about):
    return hearing(DetectedTake(onsets=onsets, seconds=5.0, **about))


@pytest.mark.parametrize(
    ("again", "surface", "level_db", "count"),
    [
        (0.015, "snare", -25.0, 1),
        (0.015, "snare", -12.0, 2),
        (0.030, "snare", -25.0, 2),
        (0.015, "high tom", -25.0, 2),
    ],
)
def test_a_pad_triggered_again_is_dropped(again, surface, level_db, count):
    found = kept(struck(1.0, "snare"), struck(1.0 + again, surface, level_db), from_midi=True)
    assert len(found) == count


def test_a_pad_shaken_by_a_louder_one_is_doubtful():
    found = kept(struck(1.0, "snare"), struck(1.003, "high tom", -35.0), from_midi=True)
    assert list(found.doubtful) == [False, True]


def test_a_microphones_onsets_are_all_kept():
    found = kept(struck(1.0, ""), struck(1.015, "", -25.0))
    assert len(found) == 2
    assert not found.doubtful.any()


def test_faint_moments_stand_among_the_others():
    faint = (struck(1.5, "", confidence=0.2),)
    found = kept(struck(1.0, ""), struck(2.0, ""), faint=faint)
    assert list(found.index) == [0, -1, 1]
    assert list(found.faint) == [False, True, False]


def moment(name):
    about = {"in_fill": False, "landing": False, "buzz": False, "velocity": 80}
    return Moment(seconds=0.0, bar=0, mains=(0,), graces=(), surfaces=frozenset({name}), **about)


def test_a_sound_that_is_always_late_is_learned():
    chance = np.random.default_rng(2)
    met = [(moment("snare"), 0.006 + float(chance.normal(0, 0.002))) for _ in range(40)]
    met += [(moment("kick"), float(chance.normal(0, 0.002))) for _ in range(40)]
    lags = attack_lags(met, 0.002)
    assert late(lags, moment("snare")) - late(lags, moment("kick")) == pytest.approx(0.006, abs=0.0015)
    assert late(lags, moment("ride bow")) == 0.0


def test_few_strokes_of_a_shaky_hand_teach_little():
    lags = attack_lags([(moment("snare"), 0.008)] * 4 + [(moment("kick"), 0.0)] * 40, 0.012)
    assert abs(late(lags, moment("snare"))) < 0.001
