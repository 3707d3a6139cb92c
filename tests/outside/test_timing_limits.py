"""The smallest differences that listeners notice, as published: nothing smaller is reported to a student.

Source: Friberg and Sundberg, Time discrimination in a monotonic, isochronous sequence (from memory)
Source: Drake and Botte, Tempo sensitivity in auditory sequences (from memory)
Source: Hirsh, Auditory perception of temporal order (from memory)
Source: Moore, An Introduction to the Psychology of Hearing (from memory)
Source: Common practice
"""

import pytest

from fillwright.listen.alignment.model import Outcome
from fillwright.listen.limits import calculate_noticeable_ms, get_limit
from fillwright.listen.report.faults import find_first_fault, is_rush_noticeable
from fillwright.listen.report.model import RepetitionReport, Report
from fillwright.listen.report.values.statistics import Statistics
from fillwright.listen.report.values.strokes import StrokeReport
from fillwright.music.stroke import Level

BEATS_MS = (250, 300, 400, 500, 750, 1000)


def take(beat_ms=750.0, **how):
    """A report on a take with nothing wrong, but for what is said."""
    strokes = tuple(
        StrokeReport(
            repetition=1,
            index=number,
            bar=4,
            beat=1 + number / 4,
            surface="snare",
            hand="RL"[number % 2],
            level=Level.TAP,
            in_fill=True,
            landing=False,
            grace=False,
            outcome=Outcome.PLAYED,
            written_seconds=number * beat_ms / 4000,
            played_seconds=number * beat_ms / 4000,
            lag_ms=0.0,
        )
        for number in range(16)
    )
    once = RepetitionReport(
        repetition=1,
        start_seconds=0.0,
        groove_bpm=60_000 / beat_ms,
        drift_percent=how.pop("drift", 0.0),
        rush_percent=None,
        rush_error_percent=None,
        landing_lag_ms=None,
    )
    tempo = 60_000 / beat_ms
    return Report(
        refused="",
        tempo_target=tempo,
        tempo_found=tempo,
        beat_ms=beat_ms,
        seconds=20.0,
        strokes=strokes,
        repetitions=(once,),
        share_matched=1.0,
        **how,
    )


class TestFribergAndSundberg:
    """A shift of one tone is noticed from 6 ms or so below 240 ms, and from 2.5 % of the interval above."""

    @pytest.mark.parametrize("interval_ms", [100, 150, 200, 240])
    def test_short_intervals_have_one_limit(self, interval_ms):
        assert calculate_noticeable_ms(interval_ms) == pytest.approx(6.0)

    @pytest.mark.parametrize("interval_ms", BEATS_MS[1:])
    def test_long_intervals_have_a_share(self, interval_ms):
        assert calculate_noticeable_ms(interval_ms) == pytest.approx(0.025 * interval_ms)

    def test_the_two_meet(self):
        assert calculate_noticeable_ms(250.001) - calculate_noticeable_ms(250) < 0.3

    @pytest.mark.parametrize("beat_ms", BEATS_MS)
    def test_no_landing_nearer_is_criticised(self, beat_ms):
        below = Statistics(mean=0.99 * calculate_noticeable_ms(beat_ms), deviation=None, count=1)
        assert find_first_fault(take(beat_ms, landing_ms=below))[0] == "nothing"

    @pytest.mark.parametrize("beat_ms", BEATS_MS)
    def test_no_rush_is_criticised_whose_end_is_nearer(self, beat_ms):
        fill_ms = beat_ms / 4 * 15
        percent = 100 * calculate_noticeable_ms(beat_ms) / fill_ms
        quiet = take(beat_ms, rush_percent=0.99 * percent, rush_error_percent=0.01)
        assert not is_rush_noticeable(quiet)
        loud = max(1.01 * percent, get_limit("time.rush_percent") + 0.01)
        assert is_rush_noticeable(take(beat_ms, rush_percent=loud, rush_error_percent=0.01))

    def test_scatter_is_criticised_far_above_it(self):
        assert get_limit("time.uneven_ms") > 2 * calculate_noticeable_ms(200)
        fine = Statistics(mean=0.0, deviation=calculate_noticeable_ms(200), count=16)
        assert find_first_fault(take(fill_ms=fine, groove_ms=fine))[0] == "nothing"


class TestDrakeAndBotte:
    """A change of tempo of a row of beats is noticed from about 2 %."""

    @pytest.mark.parametrize("drift", [-1.99, 1.99])
    def test_no_smaller_drift_is_criticised(self, drift):
        assert find_first_fault(take(drift=drift))[0] == "nothing"

    def test_another_tempo_is_reported_above_it(self):
        assert get_limit("time.other_tempo_percent") > 2


class TestHirsh:
    """Two clicks are two from about 2 ms on; which came first is heard from about 20 ms."""

    def test_flams_fuse_above_what_an_ear_can_part_and_below_its_order(self):
        assert 2 < get_limit("flam.fused_ms") < 20

    def test_no_flam_is_narrow_that_lies_beyond(self):
        assert get_limit("flam.fused_ms") < get_limit("flam.narrow_ms") < 20


class TestMoore:
    """A difference of level is noticed from about 1 dB."""

    @pytest.mark.parametrize("name", ["flat_accent_db", "clear_accent_db", "uneven_db", "hands_db"])
    def test_no_smaller_difference_of_level_is_asked_for(self, name):
        assert get_limit(f"level.{name}") > get_limit("level.heard_db") == 1.0


class TestCommonPractice:
    """A flam is played some 10 to 60 ms wide, a drag wider; practised hands scatter by 5 to 10 ms."""

    def test_a_flam_of_common_width_is_fine(self):
        assert get_limit("flam.narrow_ms") <= 15
        assert get_limit("flam.wide_ms") >= 45

    def test_practised_hands_are_praised_and_not_criticised(self):
        assert 5 <= get_limit("time.steady_ms") <= 10 < get_limit("time.uneven_ms")
