from dataclasses import replace

import pytest

from fillwright.listen.alignment.model import Alignment, Outcome
from fillwright.listen.detected_take import DetectedTake
from fillwright.listen.report.build import build_report
from fillwright.listen.report.confidence import Confidence, rate_confidence


@pytest.fixture
def confidence(expected, perform):
    """The confidence in a take, its recording changed in some way."""

    def of(*, calibrated=False, share=None, recording=None, **how):
        detected, alignment = perform(**how)
        detected = replace(detected, **(recording or {}))
        alignment = replace(alignment, share_matched=share) if share is not None else alignment
        return rate_confidence(build_report(expected, detected, alignment), detected, calibrated=calibrated)

    return of


def test_a_good_recording(confidence):
    found = confidence()
    assert found.level is Confidence.HIGH
    assert any("only with a calibration" in sentence for sentence in found.limits)


def test_a_calibrated_take_needs_no_advice_on_calibration(confidence):
    assert not any("calibration" in sentence for sentence in confidence(calibrated=True).limits)


def test_an_electronic_kit_needs_none(confidence):
    found = confidence(recording={"from_midi": True, "noise_db": 0.0})
    assert found.level is Confidence.HIGH
    assert "electronic kit" in found.limits[0]


@pytest.mark.parametrize(
    ("recording", "level", "part"),
    [
        ({"clipped_share": 0.05}, "fair", "overdriven: 5 %"),
        ({"noise_db": -40.0}, "fair", "only 34 dB above it. Some ghost notes"),
        ({"noise_db": -26.0}, "low", "only 20 dB above it. Soft strokes"),
        ({"dropouts": 1}, "low", "lost a piece of the sound"),
        ({"dropouts": 4}, "low", "lost 4 pieces of the sound"),
        ({"cutoff_hz": 7000.0}, "fair", "no sound above 7 kHz"),
    ],
)
def test_a_poor_recording(confidence, recording, level, part):
    found = confidence(recording=recording)
    assert found.level.value == level
    assert part in found.limits[0]


@pytest.mark.parametrize(("share", "level"), [(0.96, "high"), (0.9, "fair"), (0.8, "low")])
def test_a_poor_match(confidence, share, level):
    assert confidence(share=share).level.value == level


def test_strokes_that_are_not_audible(confidence):
    found = confidence(missing=set(range(12)), outcome=Outcome.NOT_AUDIBLE, share=1.0)
    assert found.level is Confidence.FAIR
    assert found.limits[0].startswith("12 of ")


def test_hands_after_one_repetition_and_after_four(confidence):
    assert any("compare your hands" in sentence for sentence in confidence().limits)
    assert not any("compare your hands" in sentence for sentence in confidence(turns=4).limits)


def test_a_refused_take(expected):
    detected = DetectedTake(onsets=(), seconds=3.0, clipped_share=0.3)
    found = rate_confidence(
        build_report(expected, detected, Alignment(repetitions=(), refused="silence")), detected
    )
    assert found.level is Confidence.NONE
    assert "overdriven" in found.limits[0]
