"""Seconds: tempos, swing, flams and drags."""

from __future__ import annotations

import re
from fractions import Fraction

import pytest

from fillwright.errors import TempoError
from fillwright.music.hit import Hit
from fillwright.music.meter import Meter, find_meter
from fillwright.music.phrase import Bar, Part, Phrase
from fillwright.music.sticking import parse_sticking
from fillwright.music.surfaces import find_surface
from fillwright.music.timing import Feel, check_tempo, make_clock, parse_feel, time_phrase, whole_note_seconds

TRIPLET_SWING = Feel(swing=Fraction(2, 3))


def bar(sticking: str, length: str, name: str = "4/4") -> Phrase:
    """One bar with a sticking at even places from its start."""
    step = Fraction(length)
    hits = tuple(
        Hit(at=place * step, length=step, stroke=stroke, surface=find_surface("snare"))
        for place, stroke in enumerate(parse_sticking(sticking))
        if stroke
    )
    where: Meter = find_meter(name)
    return Phrase(meter=where, bars=(Bar(part=Part.GROOVE, hits=hits),))


def onsets(phrase: Phrase, tempo: float = 60, feel: Feel | None = None) -> list[float]:
    return [timed.onset_seconds for timed in time_phrase(phrase, tempo, feel or Feel())]


@pytest.mark.parametrize(
    ("name", "tempo", "seconds"), [("4/4", 120, 2.0), ("6/8", 60, 8 / 3), ("7/8", 120, 2.0), ("4/4", 400, 0.6)]
)
def test_length_of_a_whole_note(name: str, tempo: float, seconds: float) -> None:
    assert whole_note_seconds(find_meter(name), tempo) == pytest.approx(seconds)


@pytest.mark.parametrize(
    ("tempo", "shown"),
    [(19.9, "19.9"), (401, "401"), (0, "0"), (-60, "-60"), (float("nan"), "nan"), (1e99, "1e+99")],
)
def test_tempos_that_can_not_be_played(tempo: float, shown: str) -> None:
    sentence = f"A tempo of {shown} bpm can't be played; use 20 to 400 bpm."
    with pytest.raises(TempoError, match=f"^{re.escape(sentence)}$"):
        check_tempo(tempo)
    with pytest.raises(TempoError, match=f"^{re.escape(sentence)}$"):
        time_phrase(bar("R", "1/4"), tempo)


def test_the_slowest_and_the_fastest_tempo_can_be_played() -> None:
    assert [check_tempo(20), check_tempo(400)] == [20, 400]


@pytest.mark.parametrize("swing", ["49/100", "76/100", "0"])
def test_a_swing_that_can_not_be_played(swing: str) -> None:
    found = re.escape(str(Fraction(swing)))
    with pytest.raises(TempoError, match=f"^A swing of {found} can't be played; use 1/2 to 3/4\\.$"):
        Feel(swing=Fraction(swing))


@pytest.mark.parametrize(("flam_ms", "shown"), [(4.9, "4.9"), (81.0, "81"), (float("nan"), "nan")])
def test_a_flam_that_can_not_be_played(flam_ms: float, shown: str) -> None:
    with pytest.raises(TempoError, match=f"^A flam of {shown} ms can't be played; use 5 to 80 ms\\.$"):
        Feel(flam_ms=flam_ms)


def test_straight_eighths() -> None:
    assert onsets(bar("R L R L", "1/8")) == [0.0, 0.5, 1.0, 1.5]


def test_swung_eighths_fall_on_the_third_of_the_triplet() -> None:
    assert onsets(bar("R L R L", "1/8"), feel=TRIPLET_SWING) == pytest.approx([0, 2 / 3, 1, 5 / 3])


def test_swung_strokes_last_up_to_the_next_one() -> None:
    lengths = [t.length_seconds for t in time_phrase(bar("R L R L", "1/8"), 60, TRIPLET_SWING)]
    assert lengths == pytest.approx([2 / 3, 1 / 3, 2 / 3, 1 / 3])


def test_a_short_stroke_on_the_swung_eighth_ends_after_its_start() -> None:
    phrase = bar("- L", "1/8")
    (hit,) = phrase.bars[0].hits
    short = Hit(at=hit.at, length=Fraction(1, 32), stroke=hit.stroke, surface=hit.surface)
    (timed,) = time_phrase(
        Phrase(meter=phrase.meter, bars=(Bar(part=Part.GROOVE, hits=(short,)),)), 60, TRIPLET_SWING
    )
    assert timed.onset_seconds == pytest.approx(2 / 3)
    assert timed.length_seconds == pytest.approx(1 / 12)


def test_a_beat_of_sixteenths_or_triplets_is_not_swung() -> None:
    assert onsets(bar("R L R L", "1/16"), feel=TRIPLET_SWING) == [0.0, 0.25, 0.5, 0.75]
    assert onsets(bar("R L R", "1/12"), feel=TRIPLET_SWING) == pytest.approx([0, 1 / 3, 2 / 3])


@pytest.mark.parametrize("name", ["6/8", "7/8"])
def test_meters_over_eight_do_not_swing(name: str) -> None:
    phrase = bar("R L R L R L", "1/8", name)
    assert onsets(phrase, feel=TRIPLET_SWING) == onsets(phrase)


def graces_ms(
    sticking: str, length: str = "1/4", tempo: float = 60, feel: Feel | None = None
) -> list[list[float]]:
    """How far each stroke's grace notes stand ahead of it, in milliseconds."""
    timed = time_phrase(bar(sticking, length), tempo, feel or Feel())
    return [[round((t.onset_seconds - at) * 1000, 3) for at in t.grace_seconds] for t in timed]


def test_a_flam_is_25_ms_ahead_and_a_drag_more() -> None:
    assert graces_ms("R lR llR R") == [[], [25.0], [60.0, 30.0], []]


def test_the_feel_sets_the_width_of_a_flam() -> None:
    assert graces_ms("R lR", feel=Feel(flam_ms=40.0)) == [[], [40.0]]


def test_the_grace_note_on_the_first_stroke_comes_before_the_phrase() -> None:
    (timed,) = time_phrase(bar("lR", "1/4"), 60)
    assert timed.onset_seconds == 0.0
    assert timed.grace_seconds == pytest.approx([-0.025])


def test_a_grace_note_takes_a_third_of_the_gap_at_most() -> None:
    # thirty-seconds at 300: 25 ms from stroke to stroke
    assert graces_ms("L lR", "1/32", 300) == [[], [pytest.approx(25 / 3, abs=0.001)]]
    assert graces_ms("L llR", "1/32", 300) == [
        [],
        [pytest.approx(25 / 3, abs=0.001), pytest.approx(25 / 6, abs=0.001)],
    ]


def test_the_gap_is_that_of_the_hand_that_plays_the_grace_note() -> None:
    # the left hand last played two thirty-seconds before, the right hand one
    assert graces_ms("L R lR", "1/32", 300)[2] == [pytest.approx(50 / 3, abs=0.001)]


def test_the_grace_note_counts_as_a_stroke_of_its_hand() -> None:
    # a left hand that has just played a grace note has no time for a wide one
    assert graces_ms("lR lR", "1/32", 300) == [[25.0], [pytest.approx(25 / 3, abs=0.001)]]


@pytest.mark.parametrize(
    ("swing", "place"), [("1/2", "1/2"), ("0.667", "2/3"), ("2/3", "2/3"), (".6", "3/5"), ("0.5625", "9/16")]
)
def test_a_swing_from_words(swing: str, place: str) -> None:
    assert parse_feel(swing, 25) == Feel(swing=Fraction(place), flam_ms=25)


@pytest.mark.parametrize("swing", ["", "x", "1/0", "1e99999999", "-1/2", "nan", "2/3/4", "9" * 50])
def test_a_text_that_is_not_a_swing_is_refused(swing: str) -> None:
    with pytest.raises(TempoError, match=re.escape(f'"{swing[:20]}" is not a swing; write for example 2/3')):
        parse_feel(swing, 25)


@pytest.mark.parametrize(
    "phrase", [bar("R L R L R L R L", "1/8"), bar("R L R L R L R L R L R L R L R L", "1/16")]
)
def test_the_clock_agrees_with_the_timeline(phrase: Phrase) -> None:
    at = make_clock(phrase, 93, TRIPLET_SWING)
    for one in time_phrase(phrase, 93, TRIPLET_SWING):
        assert at(one.hit.at) == one.onset_seconds


def test_the_clock_swings_with_the_strokes() -> None:
    at = make_clock(bar("R L R L", "1/16"), 60, TRIPLET_SWING)
    assert at(Fraction(1, 8)) == 0.5  # sixteenths are struck in this beat
    assert at(Fraction(3, 8)) == pytest.approx(1 + 2 / 3)  # nothing is struck in this one
    assert at(Fraction(-1, 8)) == pytest.approx(-1 / 3)  # nor before the phrase
    assert at(Fraction(-1)) == -4.0


def test_by_the_clock_meters_of_eighths_do_not_swing() -> None:
    at = make_clock(bar("R L R", "1/4", "6/8"), 60, TRIPLET_SWING)
    assert at(Fraction(1, 8)) == pytest.approx(1 / 3)
