"""Another drum than the written one, by the ear's evidence and without a calibration."""

import numpy as np
import pytest

from fillwright.listen.alignment.surfaces.drum_evidence import DrumEvidence
from fillwright.listen.onsets.ear.outputs import CLASSES

PRINTS = {"snare": [1.0, 0.0, 0.0], "high tom": [0.0, 1.0, 0.0], "floor tom": [0.0, 0.2, 0.98]}
PITCHES = {"snare": 0.0, "high tom": 0.5, "floor tom": -0.5}
CLASS = {"snare": "snare", "high tom": "tom", "floor tom": "tom"}


def hear(struck, written):
    """Return the evidence of strokes on some drums, written on others."""
    odds = np.full((len(struck), len(CLASSES)), -6.0)
    for row, drum in zip(odds, struck, strict=True):
        row[CLASSES.index(CLASS[drum])] = 4.0
    references = {
        drum: tuple(number for number, name in enumerate(written) if name == drum) for drum in set(written)
    }
    return DrumEvidence(
        class_odds=odds,
        prints=np.array([PRINTS[drum] for drum in struck]),
        pitches=np.array([PITCHES[drum] for drum in struck]),
        references=references,
        surfaces=frozenset(written),
    )


RIGHT = ["snare"] * 4 + ["high tom"] * 4 + ["floor tom"] * 4


@pytest.mark.parametrize("number", range(len(RIGHT)))
def test_a_stroke_on_its_drum_is_not_accused(number):
    surface, probability = hear(RIGHT, RIGHT).find_surface(RIGHT[number], number)
    assert surface == RIGHT[number]
    assert probability > 0.9


@pytest.mark.parametrize(("number", "played"), [(5, "snare"), (1, "floor tom"), (6, "floor tom")])
def test_one_stroke_on_another_drum_is_found(number, played):
    struck = [*RIGHT]
    struck[number] = played
    surface, probability = hear(struck, RIGHT).find_surface(RIGHT[number], number)
    assert surface == played
    assert probability > 0.8


def test_toms_all_played_on_the_snare_are_found_by_their_class():
    struck = ["snare"] * 12
    surface, probability = hear(struck, RIGHT).find_surface("floor tom", 10)
    assert surface == "snare"
    assert probability > 0.8


def test_a_cymbal_is_not_taken_for_another_cymbal():
    evidence = DrumEvidence(
        class_odds=np.full((1, len(CLASSES)), 8.0),
        prints=np.ones((1, 3)),
        pitches=np.zeros(1),
        references={},
        surfaces=frozenset({"hi-hat", "ride bow"}),
    )
    assert evidence.find_surface("hi-hat", 0) == ("hi-hat", 1.0)
