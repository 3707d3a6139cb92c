"""Times of clicks, for every kind of click and several meters."""

from fractions import Fraction

import pytest

from fillwright.music.meter import find_meter
from fillwright.music.phrase import Phrase
from fillwright.music.timing import Feel, make_clock
from fillwright.sound.playalong.clicks import Stretch, place_clicks
from fillwright.sound.playalong.options import Click, Options


def clicked(click, *, name="4/4", bars=1, lands=True, joined=False, feel=None, **wishes):
    """Clicks at 60 as (beat, sound, loudness in dB)."""
    where = find_meter(name)
    stretch = Stretch(
        meter=where,
        bars=bars,
        lands=lands,
        joined=joined,
        start_seconds=10.0,
        clock=make_clock(Phrase(meter=where, bars=()), 60, feel or Feel()),
    )
    found = place_clicks(stretch, Options(**{"count_in_bars": 0, "click": click} | wishes))
    return [(one.onset_seconds - 10, one.name, one.gain) for one in found]


def test_off_leaves_the_count_in():
    assert clicked(Click.OFF) == []
    assert [at for at, _, _ in clicked(Click.OFF, count_in_bars=1)] == [-4, -3, -2, -1]


def test_beats_up_to_the_landing():
    names = ["accented click", "click", "click", "click", "accented click"]
    assert [(at, name) for at, name, _ in clicked(Click.BEATS)] == list(enumerate(names))
    assert len(clicked(Click.BEATS, lands=False)) == 4


def test_eighths_are_softer_between_beats():
    found = clicked(Click.EIGHTHS)
    assert [at for at, _, _ in found] == [n / 2 for n in range(9)]
    assert {name for _, name, _ in found[1::2]} == {"click"}
    assert [gain for _, _, gain in found[1::2]] == [pytest.approx(10 ** (-8 / 20))] * 4
    assert {gain for _, _, gain in found[::2]} == {1.0}


def test_a_grid_has_three_pitches_at_full_level():
    found = clicked(Click.EIGHTHS, click_grid=True, lands=False)
    assert [name for _, name, _ in found] == ["accented click", "low click", *["click", "low click"] * 3]
    assert {gain for _, _, gain in found} == {1.0}


def test_eighths_swing_with_the_feel():
    found = clicked(Click.EIGHTHS, feel=Feel(swing=Fraction(2, 3)), lands=False)
    assert [at for at, _, _ in found][:4] == [0, pytest.approx(2 / 3), 1, pytest.approx(5 / 3)]


@pytest.mark.parametrize(
    ("name", "places"), [("4/4", [1, 3]), ("3/4", [1]), ("5/4", [1, 3]), ("6/8", [1]), ("12/8", [1, 3])]
)
def test_backbeats_are_every_second_beat(name, places):
    assert [at for at, _, _ in clicked(Click.BACKBEATS, name=name)] == [pytest.approx(at) for at in places]


def test_a_count_in_before_backbeats_has_every_beat():
    assert [at for at, _, _ in clicked(Click.BACKBEATS, count_in_bars=1)] == [-4, -3, -2, -1, 1, 3]


def test_a_fading_click_goes_evenly_and_is_silent_the_last_time():
    found = clicked(Click.FADING, repeats=4)
    assert [at for at, _, _ in found] == list(range(12))
    levels = {int(at // 4): gain for at, _, gain in found}
    assert levels == {0: 1.0, 1: pytest.approx(10 ** (-8 / 20)), 2: pytest.approx(10 ** (-16 / 20))}


def test_a_fading_click_of_two_leaves_the_second_alone():
    assert [at for at, _, _ in clicked(Click.FADING, repeats=2)] == [0, 1, 2, 3]


def test_a_joined_stretch_has_no_count_in():
    assert [at for at, _, _ in clicked(Click.BEATS, count_in_bars=2, joined=True)] == [0, 1, 2, 3, 4]


@pytest.mark.parametrize(("name", "counted"), [("2/4", 4), ("6/8", 6), ("3/4", 3), ("7/8", 3), ("9/8", 3)])
def test_only_bars_of_two_beats_are_counted_in_eighths(name, counted):
    assert len(clicked(Click.OFF, name=name, count_in_bars=1)) == counted


def test_who_wants_eighths_is_counted_in_with_them():
    assert len(clicked(Click.EIGHTHS, count_in_bars=1, bars=0, lands=False)) == 8


def test_two_bars_of_phrase_click_bar_by_bar():
    found = clicked(Click.BEATS, bars=2, repeats=2, lands=False)
    assert [at for at, name, _ in found if name == "accented click"] == [0, 4, 8, 12]
    assert len(found) == 16
