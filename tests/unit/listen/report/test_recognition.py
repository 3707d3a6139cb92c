import pytest

from fillwright.listen.report.confidence import Confidence, rate_confidence
from fillwright.listen.report.sentences import write_sentences
from fillwright.listen.report.values.statistics import Swing

BEAT_MS = 750.0


def is_off(stroke):
    return round(stroke.seconds / 0.375) % 2 == 1


def swung(stroke):
    """Straight eighths of the groove played as a shuffle, as the fit halves the difference."""
    if stroke.in_fill or stroke.landing:
        return -35.0
    return 62.5 if is_off(stroke) else -62.5


def apart(stroke):
    """Strokes of another rhythm: no two in a row are off alike."""
    if stroke.landing:
        return -125.0
    return (60.0, -65.0, 0.0, 55.0, -62.0)[round(stroke.seconds / 0.1875) % 5]


def test_a_shuffle_for_straight_eighths_is_reported_without_its_numbers(report_on):
    found = report_on(lag_ms=swung)
    assert found.swing is Swing.SHUFFLE
    assert not found.doubtful
    assert (found.landing_ms, found.groove_ms, found.rush_percent) == (None, None, None)
    said = write_sentences(found)
    assert said[1] == "The music has straight eighths, but you swung them. Play them straight."
    assert "80" in said[2]
    assert "uneven" not in said[0] or "fill" in said[0]


@pytest.mark.parametrize("step_ms", [0.0, 20.0, 60.0, -125.0])
def test_a_swing_is_detected_only_by_about_its_own_step(report_on, step_ms):
    lag = lambda stroke: step_ms if is_off(stroke) and not stroke.in_fill else 0.0  # noqa: E731
    assert report_on(lag_ms=lag).swing is Swing.WRITTEN


def test_another_phrase_on_the_same_beat_is_refused(report_on):
    found = report_on(lag_ms=apart)
    assert found.refused == "wrong phrase"
    assert found.strokes == ()


def test_a_groove_apart_under_a_good_fill_is_doubtful(report_on, perform):
    found = report_on(lag_ms=lambda stroke: 0.0 if stroke.in_fill or stroke.landing else apart(stroke))
    assert found.refused == ""
    assert found.doubtful
    assert found.landing_ms is None
    sure = rate_confidence(found, perform()[0])
    assert sure.level is Confidence.LOW
    assert "You may have played another phrase than the written one." in sure.limits


def test_many_extra_strokes_are_doubtful_and_a_few_are_not(report_on, expected):
    many = tuple(1.1 + 0.375 * n for n in range(6))
    assert report_on(extra_seconds=many).doubtful
    assert not report_on(extra_seconds=many[:3]).doubtful


def test_a_rushed_and_uneven_take_is_the_phrase_all_the_same(report_on):
    lag = lambda stroke: (-20.0, 15.0, 25.0)[round(stroke.seconds / 0.1875) % 3]  # noqa: E731
    found = report_on(lag_ms=lag)
    assert (found.refused, found.doubtful, found.swing) == ("", False, Swing.WRITTEN)
    assert found.landing_ms is not None
