from dataclasses import replace

import numpy as np
import pytest

from fillwright.listen.alignment.align import align_take
from fillwright.listen.alignment.model import Outcome
from fillwright.listen.alignment.moments import group_moments
from fillwright.listen.alignment.onset_arrays import build_onset_arrays
from fillwright.listen.alignment.repetitions import build_problem
from fillwright.listen.alignment.stroke_results import _correct_landing
from fillwright.listen.alignment.tempo_map import build_tempo_map
from fillwright.listen.detected_take import DetectedTake, Onset
from fillwright.listen.written import write_phrase
from fillwright.music.grooves import find_groove
from fillwright.music.phrase import build_phrase
from tests.unit.listen.conftest import written, written_phrase

EXPECTED = write_phrase(written_phrase(), 80.0)
BAR = EXPECTED.bar_starts[1]


def struck(at, velocity=80, surface=""):
    level = float(40 * np.log10(velocity / 127))
    return Onset(seconds=at, strength_db=20.0 + level, loudness_db=level, surface=surface)


def once(start=1.0, scale=1.0, leave_out=(), expected=EXPECTED):
    """Return the onsets of the phrase played once; strokes at one moment are one onset."""
    at = {}
    for index, one in enumerate(expected.strokes):
        if index not in leave_out:
            key = round(start + one.seconds * scale, 6)
            at[key] = max(at.get(key, 0), one.velocity)
    return [struck(seconds, velocity) for seconds, velocity in at.items()]


def take(onsets, seconds=None, **fields):
    ordered = tuple(sorted(onsets, key=lambda one: one.seconds))
    return DetectedTake(onsets=ordered, seconds=seconds or ordered[-1].seconds + 2.0, **fields)


def index_of(place):
    """Return the index of the fill's stroke number `place`."""
    filled = [n for n, one in enumerate(EXPECTED.strokes) if one.in_fill and one.grace_of is None]
    return filled[place]


def test_the_written_phrase_is_that_of_the_report_tests():
    assert [round(one.seconds, 6) for one in EXPECTED.strokes] == [
        round(one.seconds, 6) for one in written().strokes
    ]
    assert [one.surface for one in EXPECTED.strokes] == [one.surface for one in written().strokes]


def test_only_a_stroke_left_out_is_missing():
    index = index_of(1)
    found = align_take(EXPECTED, take(once(leave_out={index})))
    gone = [one.written for one in found.repetitions[0].strokes if one.outcome is not Outcome.PLAYED]
    assert gone == [index]
    assert found.repetitions[0].strokes[index].outcome is Outcome.MISSING
    assert found.repetitions[0].strokes[index].lag_ms is None


def test_a_stroke_added_is_extra():
    heard = take([*once(), struck(1.0 + 0.3 * BAR / 8)])
    found = align_take(EXPECTED, heard)
    assert [heard.onsets[index].seconds for index in found.extra] == [pytest.approx(1.0 + 0.3 * BAR / 8)]


def test_every_repetition_is_found_and_a_count_in_is_not_one():
    count_in = [struck(1.0 + n * BAR / 4) for n in range(4)]
    first = 1.0 + BAR
    second = first + EXPECTED.bar_starts[-1] + 1.3
    found = align_take(EXPECTED, take([*count_in, *once(first), *once(second)]))
    assert [one.start_seconds for one in found.repetitions] == pytest.approx([first, second], abs=0.001)
    assert found.extra == ()


def test_a_false_start_is_not_a_repetition():
    begun = [one for one in once(0.5) if one.seconds < 0.5 + 1.4 * BAR]
    found = align_take(EXPECTED, take([*begun, *once(0.5 + 2.5 * BAR)]))
    assert [one.start_seconds for one in found.repetitions] == pytest.approx([0.5 + 2.5 * BAR], abs=0.001)


def test_the_landing_may_be_the_first_beat_of_the_next_repetition():
    second = 1.0 + EXPECTED.bar_starts[-2]
    onsets = {round(one.seconds, 6): one for one in (*once(1.0), *once(second))}
    found = align_take(EXPECTED, take(onsets.values()))
    assert [one.start_seconds for one in found.repetitions] == pytest.approx([1.0, second], abs=0.001)
    assert found.share_matched == 1.0


def test_the_phrase_is_not_found_a_beat_off():
    lost = {n for n, one in enumerate(EXPECTED.strokes) if one.seconds < 0.01}
    found = align_take(EXPECTED, take(once(leave_out=lost)))
    assert found.repetitions[0].start_seconds == pytest.approx(1.0, abs=0.002)
    assert {n for n in lost if found.repetitions[0].strokes[n].outcome is Outcome.MISSING} == lost


def rushed(percent):
    start = min(one.seconds for one in EXPECTED.strokes if one.in_fill and one.grace_of is None)
    end = EXPECTED.bar_starts[-2]

    def at(seconds):
        inside = min(max(seconds - start, 0.0), end - start)
        return seconds - inside * (1 - 1 / (1 + percent / 100))

    strokes = tuple(replace(one, seconds=at(one.seconds)) for one in EXPECTED.strokes)
    return take(once(expected=replace(EXPECTED, strokes=strokes)))


@pytest.mark.parametrize("percent", [-6.0, -3.0, 0.0, 4.0, 8.0])
def test_the_rush_of_the_fill_is_measured(percent):
    found = align_take(EXPECTED, rushed(percent)).repetitions[0]
    assert found.fill_rush_percent == pytest.approx(percent, abs=0.35)
    assert 0 < found.fill_rush_error_percent < 1.5
    assert found.groove_tempo == pytest.approx(80.0, rel=0.003)


def test_a_rushed_landing_is_early_by_the_grooves_tempo():
    landing = align_take(EXPECTED, rushed(8.0)).repetitions[0].strokes[-1]
    assert landing.lag_ms == pytest.approx(-1500 * (1 - 1 / 1.08), rel=0.1)


def test_a_phrase_without_a_fill_has_no_rush():
    expected = write_phrase(build_phrase(find_groove("straight eighths"), None), 100.0)
    found = align_take(expected, take(once(expected=expected))).repetitions[0]
    assert found.fill_rush_percent is None
    assert found.fill_rush_error_percent is None


def test_accents_are_measured_against_taps():
    found = align_take(EXPECTED, take(once())).repetitions[0]
    levels = {
        EXPECTED.strokes[one.written].level.value: one.loudness_db
        for one in found.strokes
        if EXPECTED.strokes[one.written].in_fill and EXPECTED.strokes[one.written].grace_of is None
    }
    assert levels["accent"] == pytest.approx(40 * np.log10(112 / 80), abs=0.5)
    assert levels["tap"] == pytest.approx(0.0, abs=0.5)


def noise_take(count=120):
    chance = np.random.default_rng(3)
    return take([struck(float(at)) for at in np.sort(chance.uniform(0, 15, count))])


@pytest.mark.parametrize(
    ("heard", "reason"),
    [
        (DetectedTake(onsets=(), seconds=20.0, noise_db=-90.0, loudest_db=-88.0), "silence"),
        (take(once()[:40], seconds=20.0, noise_db=-80.0, loudest_db=-79.0), "silence"),
        (take(once()[:5]), "too short"),
        (take(once()[:30], seconds=4.0), "too short"),
        (noise_take(), "wrong phrase"),
        (take([struck(0.5 + 0.31 * n) for n in range(60)]), "wrong phrase"),
        (replace(noise_take(), noise_db=-30.0, loudest_db=-22.0), "too noisy"),
    ],
)
def test_a_take_that_cannot_be_scored_is_refused(heard, reason):
    found = align_take(EXPECTED, heard)
    assert found.refused == reason
    assert found.repetitions == ()


@pytest.mark.parametrize("scale", [0.65, 1.45])
def test_another_tempo_is_refused_and_reported(scale):
    found = align_take(EXPECTED, take(once(scale=scale)))
    assert found.refused == "tempo"
    assert found.tempo_found == pytest.approx(80.0 / scale, rel=0.01)


def by_kit(surfaces=None, extra=()):
    onsets = [
        struck(1.0 + one.seconds, one.velocity, (surfaces or {}).get(n, one.surface))
        for n, one in enumerate(EXPECTED.strokes)
    ]
    return take([*onsets, *extra], from_midi=True)


def test_an_electronic_kit_reports_the_surface():
    index = index_of(2)
    found = align_take(EXPECTED, by_kit({index: "high tom"}))
    one = found.repetitions[0].strokes[index]
    assert (one.outcome, one.surface_played, one.surface_confidence) == (Outcome.PLAYED, "high tom", 1.0)
    assert all(other.outcome is Outcome.PLAYED for other in found.repetitions[0].strokes)


def test_an_electronic_kits_hi_hat_is_missing_next_to_the_kick():
    kicks = [n for n, one in enumerate(EXPECTED.strokes) if one.surface == "kick" and not one.landing]
    hat = next(
        n
        for n, one in enumerate(EXPECTED.strokes)
        if one.surface == "hi-hat" and one.seconds == EXPECTED.strokes[kicks[1]].seconds
    )
    heard = by_kit()
    gone = 1.0 + EXPECTED.strokes[hat].seconds
    kept = [one for one in heard.onsets if not (one.surface == "hi-hat" and abs(one.seconds - gone) < 1e-6)]
    found = align_take(EXPECTED, replace(heard, onsets=tuple(kept)))
    lost = [one.written for one in found.repetitions[0].strokes if one.outcome is not Outcome.PLAYED]
    assert lost == [hat]


def test_a_pad_triggered_twice_is_one_stroke():
    again = struck(1.0 + EXPECTED.strokes[index_of(3)].seconds + 0.015, 30, "snare")
    assert align_take(EXPECTED, by_kit(extra=[again])).extra == ()


def test_a_faint_onset_where_a_stroke_is_expected_has_an_uncertain_time():
    index = index_of(1)
    at = 1.0 + EXPECTED.strokes[index].seconds + 0.004
    faint = Onset(seconds=at, strength_db=2.0, loudness_db=-40.0, confidence=0.3)
    found = align_take(EXPECTED, replace(take(once(leave_out={index})), faint=(faint,)))
    one = found.repetitions[0].strokes[index]
    assert (one.outcome, one.onset, one.lag_ms) == (Outcome.TIMING_UNCERTAIN, None, None)
    assert one.played_seconds == pytest.approx(at, abs=0.001)


def test_a_landing_is_the_loud_stroke_on_beat_1_and_not_one_far_off():
    problem = build_problem(group_moments(EXPECTED), build_onset_arrays(take(once())))
    landing = problem.moments.all[-1]
    beat_1 = 1.0 + landing.seconds
    before = [one for one in once() if one.seconds < beat_1 - 0.01]
    with_knock = take([*before, struck(beat_1 - 0.125, 60), struck(beat_1 + 0.01, 120)])
    problem = build_problem(problem.moments, build_onset_arrays(with_knock))
    seconds = list(problem.onsets.seconds)
    mains = [
        min(range(len(seconds)), key=lambda n: abs(seconds[n] - 1.0 - one.seconds))
        for one in problem.moments.all
    ]
    onsets = {index: mains[place] for place, moment in enumerate(problem.moments.all) for index in moment.mains}
    wrong = onsets | dict.fromkeys(landing.mains, len(seconds) - 2)
    segments = problem.segments
    tempo_map = build_tempo_map(segments, 1.0, [1.0] * (len(segments.bounds) - 1), 0.01)
    assert _correct_landing(problem, tempo_map, wrong)[landing.mains[0]] == len(seconds) - 1
    assert _correct_landing(problem, tempo_map, onsets) == onsets


@pytest.mark.parametrize("count_in", [0, 4])
def test_a_take_that_ends_before_the_fill_is_refused(count_in):
    clicks = [struck(1.0 + n * BAR / 4) for n in range(count_in)]
    fill = next(one.seconds for one in EXPECTED.strokes if one.in_fill)
    first = 1.0 + BAR
    groove = [one for one in once(first) if one.seconds < first + fill - 0.1]
    found = align_take(EXPECTED, take([*clicks, *groove], seconds=first + fill + 1.5))
    assert (found.refused, found.repetitions) == ("no fill", ())


def test_a_fill_half_played_is_not_a_missing_fill():
    filled = [n for n, one in enumerate(EXPECTED.strokes) if one.in_fill]
    found = align_take(EXPECTED, take(once(leave_out=set(filled[len(filled) // 2 :]))))
    assert found.refused != "no fill"
