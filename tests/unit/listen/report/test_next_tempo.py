from dataclasses import replace

import pytest

from fillwright.listen.report.faults import Severity
from fillwright.listen.report.next_tempo import choose_next, choose_slow_tempo, choose_target

LADDER = (60, 70, 80, 90, 100)


@pytest.fixture
def at(report_on):
    """A report on a take at a tempo, with a target of 80 bpm unless another is given."""
    return lambda played, target=80.0: replace(report_on(tempo=played), tempo_target=target)


@pytest.mark.parametrize("severity", list(Severity))
@pytest.mark.parametrize("target", [50.0, 60.0, 66.0, 80.0, 97.5, 100.0, 130.0])
@pytest.mark.parametrize("factor", [0.88, 1.0, 1.12])
def test_the_tempo_is_one_of_the_ladder_and_the_words_follow_its_direction(at, severity, target, factor):
    report = at(target * factor, target)
    key, tempo = choose_next(report, severity, LADDER)
    now = target if factor == 1.0 else target * factor
    assert tempo in LADDER
    if key in ("slower", "much_slower", "slow_to_target"):
        assert tempo < now
    if key in ("same", "slowest"):
        assert tempo == pytest.approx(now, abs=0.5)
    if key == "up":
        assert tempo > now
    if key == "faster":
        assert tempo > min(now, target)


@pytest.mark.parametrize(
    ("severity", "chosen"),
    [
        (Severity.NONE, ("faster", 90)),
        (Severity.DETAIL, ("same", 80)),
        (Severity.SOME, ("slower", 70)),
        (Severity.MUCH, ("much_slower", 70)),
    ],
)
def test_after_a_take_at_the_target(at, severity, chosen):
    assert choose_next(at(80.0), severity, LADDER) == chosen


def test_at_the_slowest_tempo_of_the_ladder(at):
    assert choose_next(at(60.0, 60.0), Severity.SOME, LADDER) == ("slowest", 60)


def test_at_the_fastest_tempo_of_the_ladder(at):
    assert choose_next(at(100.0, 100.0), Severity.NONE, LADDER) == ("top", 100)


def test_a_take_that_was_too_fast_slows_down_to_the_target(at):
    assert choose_next(at(90.0), Severity.NONE, LADDER) == ("slow_to_target", 80)
    assert choose_next(at(90.0), Severity.DETAIL, LADDER) == ("slower", 80)


def test_a_take_that_was_too_slow_goes_to_the_target(at):
    assert choose_target(at(70.0), LADDER) == ("target", 80)


def test_without_a_ladder_tempos_are_calculated(at):
    assert choose_next(at(80.0), Severity.NONE, ()) == ("faster", 84)
    assert choose_next(at(80.0), Severity.SOME, ()) == ("slower", 76)
    assert choose_next(at(80.0), Severity.MUCH, ()) == ("much_slower", 72)
    assert choose_slow_tempo(at(80.0), ()) == 72


def test_a_target_between_two_tempos_goes_to_the_nearest(at):
    assert choose_target(at(80.0, 88.0), LADDER) == ("target", 90)
