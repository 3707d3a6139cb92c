import random
from dataclasses import replace

import pytest

from fillwright.listen.alignment.model import Alignment, Outcome
from fillwright.listen.detected_take import DetectedTake, Onset
from fillwright.listen.report.build import build_report
from fillwright.music.stroke import Level


def rushing(percent):
    """A fill that is faster than the groove; the landing comes as early as it ends."""

    def lag(stroke):
        start = 3.5 * 4 * 60 / 80
        after = max(0.0, stroke.seconds - start) if stroke.in_fill or stroke.landing else 0.0
        return -1000 * after * (1 - 1 / (1 + percent / 100))

    return lag


def test_a_take_that_is_exact(report_on, expected):
    found = report_on()
    assert len(found.strokes) == len(expected.strokes)
    assert found.missing + found.extra + found.wrong_surface + found.not_audible == ()
    assert {stroke.lag_ms for stroke in found.strokes} == {0.0}
    assert [bar.bpm for bar in found.bars] == pytest.approx([80.0] * 4)
    assert [bar.fill for bar in found.bars] == [False, False, False, True]
    assert found.landing_ms.mean == 0
    assert (found.groove_ms.mean, found.groove_ms.deviation) == (0, 0)
    assert found.beat_ms == pytest.approx(750)


def test_places_are_counted_in_bars_and_beats(report_on, expected):
    found = report_on()
    fill = [stroke for stroke in found.strokes if stroke.in_fill and not stroke.grace]
    assert [stroke.beat for stroke in fill] == pytest.approx([3, 3.25, 3.5, 3.75, 4, 4.25, 4.5, 4.75])
    assert {stroke.bar for stroke in fill} == {4}
    graces = [stroke.beat for stroke in found.strokes if stroke.grace]
    assert graces == pytest.approx([3, 4, 4.5])  # a grace note has its main note's place


def test_a_rush_and_its_landing(report_on):
    found = report_on(lag_ms=rushing(4), rush_percent=4.0)
    assert found.rush_percent == 4.0
    assert found.landing_ms.mean == pytest.approx(-1500 * (1 - 1 / 1.04))
    assert found.fill_ms.deviation == pytest.approx(0, abs=1e-6)  # even, for all that it rushes


def test_rushes_of_several_repetitions_are_weighed_by_their_certainty(expected, perform):
    detected, alignment = perform(turns=2, rush_percent=2.0, rush_error_percent=1.0)
    passes = (
        alignment.repetitions[0],
        replace(alignment.repetitions[1], fill_rush_percent=4.0, fill_rush_error_percent=0.5),
    )
    found = build_report(expected, detected, replace(alignment, repetitions=passes))
    assert found.rush_percent == pytest.approx((2 + 4 * 4) / 5)
    assert found.rush_error_percent == pytest.approx(1 / 5**0.5)


def test_missing_strokes_keep_their_place(report_on, expected):
    found = report_on(missing={5, 6}, lag_ms=lambda _stroke: 7.0)
    assert [stroke.index for stroke in found.missing] == [5, 6]
    for stroke in found.missing:
        assert stroke.written_seconds == pytest.approx(1.0 + expected.strokes[stroke.index].seconds)
        assert stroke.played_seconds is None


def test_a_stroke_that_is_not_audible_is_not_missing(report_on):
    found = report_on(missing={5}, outcome=Outcome.NOT_AUDIBLE)
    assert not found.missing
    assert [stroke.index for stroke in found.not_audible] == [5]


def test_extra_strokes_have_their_bar(report_on):
    found = report_on(extra_seconds=(1.2, 1.0 + 3.1 * 3))
    assert [(extra.bar, extra.repetition) for extra in found.extra] == [(1, 1), (4, 1)]


def test_extra_strokes_of_the_second_repetition(report_on):
    found = report_on(turns=2, extra_seconds=(1.0 + 12 + 3.1,))
    assert [(extra.bar, extra.repetition) for extra in found.extra] == [(2, 2)]


def test_a_wrong_drum_is_reported_if_it_is_sure(expected, perform):
    detected, alignment = perform(surface=lambda stroke: "high tom" if stroke.in_fill else stroke.surface)
    found = build_report(expected, detected, alignment)
    assert {stroke.surface_played for stroke in found.wrong_surface} == {"high tom"}
    unsure = tuple(replace(one, surface_confidence=0.5) for one in alignment.repetitions[0].strokes)
    doubtful = replace(alignment, repetitions=(replace(alignment.repetitions[0], strokes=unsure),))
    assert not build_report(expected, detected, doubtful).wrong_surface


def test_flams_are_as_wide_as_they_are_played(report_on):
    found = report_on(lag_ms=lambda stroke: -10.0 if stroke.grace_of is not None else 2.0)
    assert [grace.kind for grace in found.graces] == ["flam"] * 3
    assert [grace.written_gap_ms for grace in found.graces] == pytest.approx([25.0] * 3)
    assert [grace.gap_ms for grace in found.graces] == pytest.approx([37.0] * 3)


def test_accents_are_compared_with_taps_of_the_same_drum(report_on):
    def level(stroke):
        on_snare = 5.0 if stroke.level is Level.ACCENT else -1.0
        return on_snare if stroke.surface == "snare" else 30.0

    assert report_on(loudness_db=level).accent_db == pytest.approx(6.0)


def test_no_loudness_of_an_overdriven_recording(expected, perform):
    detected, alignment = perform()
    found = build_report(expected, replace(detected, clipped_share=0.2), alignment)
    assert found.clipped
    assert found.accent_db is None
    assert {stroke.loudness_db for stroke in found.strokes} == {None}


def test_a_drifting_groove(expected, perform):
    detected, alignment = perform()
    starts = (1.0, 4.0, 6.97, 9.91, 12.85, 15.8)
    found = build_report(
        expected,
        detected,
        replace(alignment, repetitions=(replace(alignment.repetitions[0], bar_starts=starts),)),
    )
    assert found.repetitions[0].drift_percent == pytest.approx(100 * (3 / 2.94 - 1), abs=0.05)
    assert [bar.bpm for bar in found.bars] == pytest.approx([80, 240 / 2.97, 240 / 2.94, 240 / 2.94])


def test_a_roll_with_every_other_stroke_late(report_on):
    found = report_on(lag_ms=lambda stroke: 20.0 if stroke.in_fill and stroke.hand == "L" else 0.0)
    (roll,) = found.rolls
    assert roll.strokes == 8
    assert roll.interval_ms.mean == pytest.approx(187.5 + 20 / 7)
    assert roll.interval_ms.deviation > 20


class TestHands:
    def test_one_fill_does_not_show_a_habit(self, report_on):
        assert not report_on().hands.pooled

    def test_a_late_left_hand_shows_over_six_repetitions(self, report_on):
        source = random.Random(4)

        def lag(stroke):
            own = 14.0 if stroke.in_fill and stroke.hand == "L" else 0.0
            return own + source.gauss(0, 6)

        hands = report_on(lag_ms=lag, turns=6).hands
        assert hands.pooled
        assert hands.lag_ms.value == pytest.approx(-14, abs=3 * hands.lag_ms.error)
        assert 0.5 < hands.lag_ms.error < 4
        assert hands.right.lag_ms.count + hands.left.lag_ms.count == 48

    def test_a_softer_left_hand(self, report_on):
        def level(stroke):
            return (8.0 if stroke.level is Level.ACCENT else 0.0) - (3.0 if stroke.hand == "L" else 0.0)

        hands = report_on(loudness_db=level).hands
        assert hands.loudness_db.value == pytest.approx(3.0)
        assert hands.loudness_db.error == pytest.approx(0.0, abs=1e-9)


class TestRefused:
    def test_nothing_is_scored(self, expected):
        detected = DetectedTake(onsets=(), seconds=9.0)
        found = build_report(expected, detected, Alignment(repetitions=(), refused="silence"))
        assert found.refused == "silence"
        assert (found.strokes, found.bars, found.repetitions, found.rush_percent) == ((), (), (), None)

    def test_a_take_that_is_long_enough_has_too_few_strokes(self, expected):
        alignment = Alignment(repetitions=(), refused="too short")
        assert build_report(expected, DetectedTake(onsets=(), seconds=3.0), alignment).refused == "too short"
        assert build_report(expected, DetectedTake(onsets=(), seconds=30.0), alignment).refused == "silence"
        knocks = tuple(Onset(seconds=float(n), strength_db=9.0, loudness_db=-30.0) for n in range(12))
        assert build_report(expected, DetectedTake(onsets=knocks, seconds=30.0), alignment).refused == "too few"

    def test_overdriven_beyond_recognition(self, expected):
        detected = DetectedTake(onsets=(), seconds=9.0, clipped_share=0.4)
        assert (
            build_report(expected, detected, Alignment(repetitions=(), refused="too noisy")).refused
            == "clipped"
        )
        assert build_report(expected, detected, Alignment(repetitions=(), refused="tempo")).refused == "tempo"


def test_a_landing_far_off_next_to_a_stray_stroke_is_not_reported(report_on, expected):
    late = lambda stroke: 120.0 if stroke.landing else 0.0  # noqa: E731
    beat_1 = 1.0 + expected.bar_starts[4]
    assert report_on(lag_ms=late).landing_ms.mean == pytest.approx(120.0)
    found = report_on(lag_ms=late, extra_seconds=(beat_1 - 0.06,))
    assert found.landing_ms is None
    assert [one.landing_lag_ms for one in found.repetitions] == [None]
    assert report_on(lag_ms=late, extra_seconds=(3.1,)).landing_ms is not None
