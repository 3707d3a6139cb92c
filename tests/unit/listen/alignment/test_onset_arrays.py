import pytest

from fillwright.listen.alignment.onset_arrays import build_onset_arrays
from fillwright.listen.detected_take import DetectedTake, Onset


def struck(at, surface, loudness_db=-8.0, **fields):
    return Onset(seconds=at, strength_db=20.0, loudness_db=loudness_db, surface=surface, **fields)


def arrays_of(*onsets, **fields):
    return build_onset_arrays(DetectedTake(onsets=onsets, seconds=5.0, **fields))


@pytest.mark.parametrize(
    ("again", "surface", "loudness_db", "count"),
    [
        (0.015, "snare", -25.0, 1),
        (0.015, "snare", -12.0, 2),
        (0.030, "snare", -25.0, 2),
        (0.015, "high tom", -25.0, 2),
    ],
)
def test_a_pad_triggered_again_is_dropped(again, surface, loudness_db, count):
    found = arrays_of(struck(1.0, "snare"), struck(1.0 + again, surface, loudness_db), from_midi=True)
    assert len(found) == count


def test_possible_crosstalk_of_a_louder_pad_is_doubtful():
    found = arrays_of(struck(1.0, "snare"), struck(1.003, "high tom", -35.0), from_midi=True)
    assert list(found.doubtful) == [False, True]


def test_a_microphones_onsets_are_all_kept():
    found = arrays_of(struck(1.0, ""), struck(1.015, "", -25.0))
    assert len(found) == 2
    assert not found.doubtful.any()


def test_faint_onsets_are_among_the_others():
    faint = (struck(1.5, "", confidence=0.2),)
    found = arrays_of(struck(1.0, ""), struck(2.0, ""), faint=faint)
    assert list(found.index) == [0, -1, 1]
    assert list(found.faint) == [False, True, False]
