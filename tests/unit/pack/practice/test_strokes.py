from fractions import Fraction

import pytest

from fillwright.music.stroke import Kind, Level, Limb
from fillwright.music.timing import Feel, time_phrase, whole_note_seconds
from fillwright.pack.practice.strokes import build_page_score, map_places

SWING = Feel(swing=Fraction(2, 3))


@pytest.mark.parametrize("feel", [Feel(), SWING, Feel(swing=Fraction(3, 5), flam_ms=40)])
@pytest.mark.parametrize("tempo", [20, 61.5, 400])
@pytest.mark.parametrize(
    "groove", ["straight eighths", "shuffle", "funk with ghost notes", "six-eight", "march"]
)
def test_places_times_a_whole_note_are_the_timeline(lesson, groove, tempo, feel):
    _, (fill, *_) = lesson(groove=groove, step="last beat")
    whole = whole_note_seconds(fill.phrase.meter, tempo)
    made = build_page_score(fill.phrase, feel)
    timed = time_phrase(fill.phrase, tempo, feel)
    assert [each.at * whole for each in made.strokes] == pytest.approx([one.onset_seconds for one in timed])
    assert [each.length * whole for each in made.strokes] == pytest.approx(
        [one.length_seconds for one in timed]
    )
    assert [list(Limb)[each.limb] for each in made.strokes] == [one.hit.stroke.hand for one in timed]


def test_what_a_stroke_is_made_of(lesson):
    _, (fill, *_) = lesson("flam accent", "shuffle")
    for stroke, one in zip(
        build_page_score(fill.phrase, Feel()).strokes, time_phrase(fill.phrase, 60), strict=True
    ):
        assert (stroke.sound, stroke.velocity) == (one.hit.surface.name, one.hit.stroke.level.velocity)
        flam = one.hit.stroke.kind is Kind.FLAM
        assert (stroke.graces, stroke.grace) == ((1, ("snare", 45)) if flam else (0, None))
        assert stroke.bounce is None
        assert stroke.in_fill == fill.phrase.is_in_fill(one.hit.at)


def test_a_buzz_bounces_with_a_sound_of_its_own_where_the_kit_has_one(lesson):
    _, (fill, *_) = lesson("multiple bounce roll")
    buzzed = [stroke for stroke in build_page_score(fill.phrase, Feel()).strokes if stroke.bounce]
    assert {stroke.bounce for stroke in buzzed} == {"snare buzz"}
    assert {stroke.sound for stroke in buzzed} == {"snare"}


def test_the_landing_stands_last_and_apart(lesson):
    _, (fill, *_) = lesson()
    made = build_page_score(fill.phrase, Feel())
    assert (made.body, len(made.strokes) - made.landing) == (2, 2)
    assert {each.sound for each in made.strokes[made.landing :]} == {"crash", "kick"}
    assert all(each.at < made.body for each in made.strokes[: made.landing])


def test_a_phrase_without_a_landing_has_none(lesson):
    _, (fill, *_) = lesson(more="landing = []")
    made = build_page_score(fill.phrase, Feel())
    assert made.landing == len(made.strokes)
    assert made.list_repeat() == made.strokes


def test_the_next_repetition_lands_in_place_of_what_the_same_limbs_would_have_played(lesson):
    _, (fill, *_) = lesson()
    made = build_page_score(fill.phrase, Feel())
    first, again = made.strokes[: made.landing], made.list_repeat()
    assert {each.sound for each in first if each.at == 0} == {"hi-hat", "kick"}
    on_one = [each for each in again if each.at == 0]
    assert sorted(each.sound for each in on_one) == ["crash", "kick"]
    assert next(each for each in on_one if each.sound == "crash").velocity == Level.ACCENT.velocity
    assert [each for each in again if each.at] == [each for each in first if each.at]


def test_where_the_fill_starts_on_beat_one_the_landing_waits(lesson):
    _, (fill, *_) = lesson(bars=1)
    made = build_page_score(fill.phrase, Feel())
    assert made.list_repeat() == made.strokes[: made.landing]


def test_a_written_place_sounds_when_its_stroke_does(lesson):
    _, (fill, *_) = lesson("single paradiddle", "straight eighths", "last beat")
    when = map_places(fill.phrase, SWING)
    assert when(Fraction(1, 8)) == pytest.approx(1 / 6)
    assert when(Fraction(2)) == 2
