import numpy as np
import pytest

from fillwright.listen.alignment.moments import Moment
from fillwright.listen.alignment.surfaces.surface_estimate import estimate_surfaces
from fillwright.listen.alignment.surfaces.templates import learn_timbres
from fillwright.listen.calibration import Calibration
from fillwright.listen.detected_take import Onset

SOUNDS = {
    "snare": np.array([-20.0, -5, -8, -10, -6, -12] * 2),
    "high tom": np.array([-6.0, -2, -12, -18, -20, -30] * 2),
    "hi-hat": np.array([-36.0, -36, -30, -12, -4, -2] * 2),
    "kick": np.array([-1.0, -10, -24, -30, -34, -36] * 2),
}
SNARE, TOM, HAT, KICK = (frozenset({name}) for name in SOUNDS)
BOTH = HAT | KICK


def sound(struck, chance):
    power = sum(10 ** (SOUNDS[name] / 10) for name in struck)
    return 10 * np.log10(power) + chance.normal(0, 1.5, 12)


def moment(struck):
    return Moment(
        seconds=0.0,
        bar=0,
        mains=tuple(range(len(struck))),
        graces=(),
        surfaces=struck,
        in_fill=False,
        landing=False,
        buzz=False,
        velocity=80,
    )


def learn(written, played=None, calibration=None):
    chance = np.random.default_rng(5)
    rows = np.array([sound(struck, chance) for struck in played or written])
    return learn_timbres(rows, list(zip(written, range(len(written)), strict=True)), calibration)


def kit():
    chance = np.random.default_rng(6)
    return Calibration(
        strokes={
            name: tuple(
                Onset(seconds=n, strength_db=20, loudness_db=0, timbre=sound({name}, chance)) for n in range(4)
            )
            for name in SOUNDS
        }
    )


GROOVE = [BOTH, HAT, SNARE, HAT] * 5


def test_strokes_played_as_written_are_confirmed():
    model = learn(GROOVE)
    for onset, struck in enumerate(GROOVE):
        estimate = estimate_surfaces(model, moment(struck), onset)
        assert estimate.played == {name: name for name in struck}
        assert estimate.confidence > 0.8
        assert not estimate.absent


def test_another_drum_is_detected_with_a_calibration():
    model = learn([*GROOVE, SNARE], [*GROOVE, TOM], kit())
    estimate = estimate_surfaces(model, moment(SNARE), len(GROOVE))
    assert estimate.played == {"snare": "high tom"}
    assert estimate.confidence > 0.8


def test_without_a_calibration_another_drum_has_low_confidence():
    written, played = [*GROOVE, *[TOM] * 5, SNARE], [*GROOVE, *[TOM] * 5, TOM]
    estimate = estimate_surfaces(learn(written, played), moment(SNARE), len(written) - 1)
    assert estimate.played == {"snare": "high tom"}
    assert estimate.confidence <= 0.5


def test_a_kick_missing_under_a_hi_hat_is_detected():
    model = learn([*GROOVE, BOTH], [*GROOVE, HAT])
    assert estimate_surfaces(model, moment(BOTH), len(GROOVE)).absent == {"kick"}


def test_a_surface_without_a_template_is_unknown():
    estimate = estimate_surfaces(learn([*GROOVE, TOM]), moment(TOM), len(GROOVE))
    assert (estimate.played, estimate.confidence) == ({}, 0.0)


def test_templates_of_strokes_at_one_moment_are_combined():
    model = learn([HAT, KICK, SNARE] * 4)
    far = model.measure_distances(BOTH)
    assert far is not None
    assert np.all(model.measure_distances(SNARE)[2::3] < far[2::3])


def test_a_calibration_of_another_size_is_ignored():
    other = Calibration(
        strokes={"snare": (Onset(seconds=0, strength_db=0, loudness_db=0, timbre=np.zeros(5)),) * 4}
    )
    assert learn(GROOVE, calibration=other).calibrated == frozenset()


@pytest.mark.parametrize("sizes", [(), (5, 6)])
def test_a_calibration_without_one_size_has_none(sizes):
    strokes = tuple(Onset(seconds=0, strength_db=0, loudness_db=0, timbre=np.zeros(size)) for size in sizes)
    assert Calibration(strokes={"snare": strokes}).timbre_size == 0


def test_an_electronic_kit_has_no_timbres():
    assert learn_timbres(np.zeros((3, 0)), [(SNARE, 0)], None) is None
