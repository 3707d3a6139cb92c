"""Times of every sound: ladders, climbs, loops, and silent parts."""

import pytest

from fillwright.errors import FillwrightError
from fillwright.lesson.single_fill import FillChoice, make_single_fill
from fillwright.music.stroke import Kind
from fillwright.music.timing import Feel, time_phrase
from fillwright.sound.playalong.options import AudiblePart, Click, Looseness, Options, Shape
from fillwright.sound.playalong.sections import GAP_SECONDS, plan_sections, unroll_repeats


@pytest.fixture(scope="module")
def fill():
    return make_single_fill(FillChoice(figure="single paradiddle", step="round the kit")).phrase


def onsets(section):
    return [one.onset_seconds for one in section.timed]


def test_one_tempo_is_the_timeline(fill):
    (section,) = plan_sections(fill, (80,), Options(repeats=2))
    assert section.timed == time_phrase(unroll_repeats(fill, 2), 80)
    assert set(section.gains) == {1.0}
    assert (section.opens_seconds, section.start_seconds) == (0.0, 3.0)
    assert (section.end_seconds, section.rests_seconds) == (27.0, 30.0)


def test_a_ladder_has_a_count_in_and_a_landing_for_every_tempo(fill):
    sections = plan_sections(fill, (60, 120), Options(click=Click.OFF))
    slow, fast = sections
    assert fast.opens_seconds == slow.rests_seconds + GAP_SECONDS == 25.0
    assert fast.start_seconds == 27.0
    assert [one.timed for one in sections] == [time_phrase(fill, 60), time_phrase(fill, 120)]
    assert [click.onset_seconds for click in fast.clicks] == [25.0, 25.5, 26.0, 26.5]


def test_a_climb_goes_on_without_a_stop_and_lands_once(fill):
    sections = plan_sections(fill, (60, 80, 100), Options(repeats=2, click=Click.OFF), Shape.CLIMBING)
    first, middle, last = sections
    assert [one.start_seconds for one in sections] == [4.0, first.end_seconds, middle.end_seconds]
    assert [len(one.clicks) for one in sections] == [4, 0, 0]
    landing = [hit for bar in fill.bars[-1:] for hit in bar.hits]
    assert len(first.timed) == len(middle.timed) == len(last.timed) - len(landing)
    assert onsets(middle) == pytest.approx([one * 60 / 80 for one in onsets(first)])
    assert middle.rests_seconds == middle.end_seconds


def test_a_loop_is_the_phrase_alone(fill):
    (section,) = plan_sections(fill, (60,), Options(count_in_bars=0, repeats=2), Shape.LOOP)
    assert (section.start_seconds, section.end_seconds, section.rests_seconds) == (0.0, 32.0, 32.0)
    body = [one for one in time_phrase(unroll_repeats(fill, 2), 60) if one.onset_seconds < 32]
    assert onsets(section) == pytest.approx([one.onset_seconds for one in body])
    assert section.clicks == ()


def test_first_grace_notes_of_a_loop_fit_after_its_last_strokes(make_phrase):
    phrase = make_phrase(*["snare"] * 16, kind=Kind.FLAM)
    (alone,) = plan_sections(phrase, (200,), Options(count_in_bars=0, feel=Feel(flam_ms=80)))
    (looped,) = plan_sections(phrase, (200,), Options(count_in_bars=0, feel=Feel(flam_ms=80)), Shape.LOOP)
    assert alone.timed[0].grace_seconds == (-0.08,)
    assert looped.timed[0].grace_seconds == pytest.approx((-0.075 / 3,))
    assert onsets(looped) == pytest.approx(onsets(alone))


def test_the_fill_is_left_to_the_student(fill):
    (section,) = plan_sections(fill, (80,), Options(audible=AudiblePart.GROOVE, repeats=2))
    every = time_phrase(unroll_repeats(fill, 2), 80)
    in_fill = {one for one in every if fill.is_in_fill(one.hit.at % 4) and one.hit.at < 8}
    assert in_fill
    assert set(section.timed) == set(every) - in_fill
    assert max(one.hit.at for one in section.timed) == 8  # the landing


def test_the_fill_alone(fill):
    (section,) = plan_sections(fill, (80,), Options(audible=AudiblePart.FILL, repeats=2))
    assert {one.hit.at // 4 for one in section.timed} == {0, 1, 2}
    assert all(fill.is_in_fill(one.hit.at % 4) for one in section.timed if one.hit.at < 8)
    every, groove = (
        plan_sections(fill, (80,), Options(audible=audible, repeats=2))[0]
        for audible in (AudiblePart.ALL, AudiblePart.GROOVE)
    )
    landing = len(fill.bars[-1].hits)
    assert len(section.timed) + len(groove.timed) == len(every.timed) + landing


def test_silent_strokes_do_not_change_the_others(fill):
    loose = {"looseness": Looseness.SLIGHT, "seed": 7}
    every, groove = (
        plan_sections(fill, (80,), Options(audible=audible, **loose))[0]
        for audible in (AudiblePart.ALL, AudiblePart.GROOVE)
    )
    assert set(groove.timed) < set(every.timed)


def test_a_loose_player_is_off_where_the_section_says(fill):
    exact, loose = (
        plan_sections(fill, (80,), Options(looseness=looseness))[0]
        for looseness in (Looseness.OFF, Looseness.SLIGHT)
    )
    off = [a - b for a, b in zip(onsets(loose), onsets(exact), strict=True)]
    assert max(map(abs, off)) > 0.003
    heard = [strike.onset_seconds for strike in loose.list_strikes() if "click" not in strike.name]
    assert heard == sorted(loose.start_seconds + at for at in onsets(loose))
    assert {strike.gain for strike in loose.list_strikes()} >= set(loose.gains)


def test_a_loose_player_plays_every_tempo_differently(fill):
    one, other = plan_sections(fill, (80, 80.0001), Options(looseness=Looseness.SLIGHT))
    assert one.gains != other.gains


def test_a_loose_first_stroke_has_room_before_it(fill):
    for seed in range(8):
        (section,) = plan_sections(
            fill, (80,), Options(count_in_bars=0, looseness=Looseness.SLIGHT, seed=seed, click=Click.BEATS)
        )
        assert min(strike.onset_seconds for strike in section.list_strikes()) >= 0


def test_a_loop_with_a_count_in_is_refused(fill):
    with pytest.raises(FillwrightError, match="A loop has no count-in, because it would repeat"):
        plan_sections(fill, (80,), Options(count_in_bars=1), Shape.LOOP)


def test_a_loop_of_several_tempos_is_refused(fill):
    with pytest.raises(FillwrightError, match="A loop has one tempo, not 2"):
        plan_sections(fill, (80, 90), Options(count_in_bars=0), Shape.LOOP)


def test_a_fading_click_without_repeats_is_refused():
    with pytest.raises(FillwrightError, match="A fading click needs repeats; have"):
        Options(click=Click.FADING)


def test_a_seed_below_zero_is_refused():
    with pytest.raises(FillwrightError, match="-1 is not a valid seed; use a whole number from 0"):
        Options(seed=-1)
