from dataclasses import replace

import pytest

from fillwright.listen.alignment.model import Match, Outcome
from fillwright.listen.onset_list import Heard
from fillwright.listen.report.build import build_report
from fillwright.listen.report.confidence import rate_confidence


@pytest.fixture
def trusted(expected, perform):
    """How far a take is trusted, its recording changed in some way."""

    def of(*, calibrated=False, share=None, recording=None, **how):
        heard, match = perform(**how)
        heard = replace(heard, **(recording or {}))
        match = replace(match, share_matched=share) if share is not None else match
        return rate_confidence(build_report(expected, heard, match), heard, calibrated=calibrated)

    return of


def test_a_good_recording(trusted):
    found = trusted()
    assert found.level == "high"
    assert any("wrong drum is only told with a calibration" in sentence for sentence in found.limits)


def test_with_a_calibration_nothing_is_said_of_it(trusted):
    assert not any("calibration" in sentence for sentence in trusted(calibrated=True).limits)


def test_an_electronic_kit_needs_none(trusted):
    found = trusted(recording={"from_midi": True, "noise_db": 0.0})
    assert found.level == "high"
    assert "electronic kit" in found.limits[0]


@pytest.mark.parametrize(
    ("recording", "level", "part"),
    [
        ({"clipped_share": 0.05}, "fair", "overdriven (5 %"),
        ({"noise_db": -40.0}, "fair", "only 34 dB above the background, so ghost notes may hide"),
        ({"noise_db": -26.0}, "low", "only 20 dB above the background, so soft strokes"),
        ({"top_hz": 7000.0}, "fair", "Nothing above 7 kHz"),
    ],
)
def test_a_poor_recording(trusted, recording, level, part):
    found = trusted(recording=recording)
    assert found.level == level
    assert part in found.limits[0]


@pytest.mark.parametrize(("share", "level"), [(0.96, "high"), (0.9, "fair"), (0.8, "low")])
def test_a_poor_match(trusted, share, level):
    assert trusted(share=share).level == level


def test_strokes_that_are_unsure(trusted):
    found = trusted(missing=set(range(12)), outcome=Outcome.UNHEARD, share=1.0)
    assert found.level == "fair"
    assert found.limits[0].startswith("12 of ")


def test_hands_after_one_time_through_and_after_four(trusted):
    assert any("hand's own habit" in sentence for sentence in trusted().limits)
    assert not any("hand's own habit" in sentence for sentence in trusted(turns=4).limits)


def test_what_is_refused(expected):
    heard = Heard(onsets=(), seconds=3.0, clipped_share=0.3)
    found = rate_confidence(build_report(expected, heard, Match(passes=(), refused="silence")), heard)
    assert found.level == "none"
    assert "overdriven" in found.limits[0]
