"""Readings: every subdivision that keeps a figure itself, and what a reading says of itself."""

from __future__ import annotations

from fractions import Fraction

import pytest

from fillwright.craft.chains.readings import Reading, fit_rhythms, list_readings, list_rhythms, require_rhythms
from fillwright.errors import FitError
from fillwright.music.figure import Figure
from fillwright.music.meter import find_meter, list_meters
from fillwright.music.rudiments import find_figure, load_rudiments, parse_rhythm
from fillwright.music.sticking import parse_sticking
from fillwright.music.stroke import Limb

FOUR = find_meter("4/4")


def own(sticking: str, *rhythms: str) -> Figure:
    strokes = parse_sticking(sticking)
    return Figure(
        name="own",
        group="own",
        strokes=strokes,
        rhythms=tuple(parse_rhythm(text, len(strokes)) for text in rhythms),
    )


def reading(sticking: str, values: str, lead: Limb = Limb.RIGHT) -> Reading:
    figure = own(sticking, values)
    return Reading(figure=figure, lead=lead, lengths=figure.rhythms[0].lengths)


def names(figure: str, where: str = "4/4", *, rebarred: bool | None = None) -> list[str]:
    found = list_rhythms(find_figure(figure), find_meter(where))
    return [each.name for each in found if rebarred is None or each.rebarred == rebarred]


def test_an_even_figure_is_read_at_all_five_subdivisions() -> None:
    assert names("triple paradiddle") == [
        "sixteenths",
        "thirty-seconds",
        "eighths",
        "triplets",
        "sextuplets",
    ]


def test_threes_are_rebarred_where_a_figure_goes_in_fours_and_the_other_way_round() -> None:
    assert names("triple paradiddle", rebarred=True) == ["triplets", "sextuplets"]
    assert names("double paradiddle", rebarred=True) == ["sixteenths", "eighths", "thirty-seconds"]
    assert names("single stroke roll", rebarred=True) == []


@pytest.mark.parametrize("name", ["flam accent", "flam", "drag", "single drag tap", "multiple bounce roll"])
def test_flams_drags_and_buzzes_get_no_other_even_rhythm_than_those_they_are_known_in(name: str) -> None:
    figure = find_figure(name)
    known = {one.lengths for one in figure.rhythms}
    even = {one.lengths for one in list_rhythms(figure, FOUR) if len(set(one.lengths)) == 1}
    assert even <= known


def test_an_inner_rhythm_is_scaled_to_half_a_beat_one_and_two() -> None:
    figure = own("R L R", "16 16 8")
    turns = [sum(one.lengths) for one in list_rhythms(figure, FOUR)]
    assert turns == [Fraction(1, 4), Fraction(1, 8), Fraction(1, 2)]


def test_a_scaled_note_is_never_shorter_than_a_thirty_second_nor_longer_than_a_quarter_triplet() -> None:
    assert names("five stroke roll") == [
        "four thirty-seconds and an eighth",
        "four sixteenths and a quarter",
        "four sixteenth-triplets and an eighth-triplet",
        "four eighth-triplets and a quarter-triplet",
    ]
    assert "a half-triplet and a quarter-triplet" not in names("single drag tap")
    assert Fraction(1, 3) not in {
        length for one in load_rudiments() for r in list_rhythms(one, FOUR) for length in r.lengths
    }


def test_a_length_that_is_not_a_note_value_is_not_used() -> None:
    """Five sixteenths to a turn, so that a beat would need fifths."""
    assert [one.name for one in list_rhythms(own("R L R L", "16 16 16 8"), FOUR)] == [
        "three sixteenths and an eighth"
    ]


@pytest.mark.parametrize("name", list_meters())
def test_every_reading_can_be_written_in_its_meter(name: str) -> None:
    where = find_meter(name)
    for one in list_readings(load_rudiments(), where):
        thirds = any(length.denominator % 3 == 0 for length in one.lengths)
        assert not (thirds and where.counts_eighths)
        assert len(one.lengths) == len(one.figure.strokes)
        assert one.length > 0


@pytest.mark.parametrize("figure", load_rudiments(), ids=lambda figure: figure.name)
def test_the_rhythms_of_its_own_come_first_and_none_twice(figure: Figure) -> None:
    found = list_rhythms(figure, FOUR)
    assert [one.rebarred for one in found] == sorted(one.rebarred for one in found)
    assert len({one.lengths for one in found}) == len(found)
    assert set(fit_rhythms(figure, FOUR)) <= set(found)


def test_compound_meters_have_eighths_for_triplets() -> None:
    assert "triplets" not in names("flam accent", "12/8")
    assert names("flam accent", "12/8") == ["eighths", "sixteenths"]


def test_seven_eight_has_no_reading_of_figures_in_threes() -> None:
    assert list_readings([find_figure("single stroke four")], find_meter("7/8")) == ()
    with pytest.raises(FitError, match="has triplets only, and they don't fit 7/8"):
        require_rhythms(find_figure("single stroke four"), find_meter("7/8"))


def test_a_figure_without_rhythm_has_no_reading() -> None:
    figure = Figure(name="bare", group="own", strokes=parse_sticking("R"), rhythms=())
    assert list_readings([figure], FOUR) == ()
    with pytest.raises(FitError, match="bare has no rhythm"):
        require_rhythms(figure, FOUR)
    assert require_rhythms(find_figure("flam"), FOUR) == find_figure("flam").rhythms


def test_a_triplet_that_can_not_be_stretched_is_left_out_of_a_compound_meter() -> None:
    assert fit_rhythms(own("R L", "2t 4."), find_meter("6/8")) != own("R L", "2t 4.").rhythms
    assert fit_rhythms(own("R L", "8t 4."), find_meter("6/8")) == ()


def test_each_figure_comes_from_the_right_and_from_the_left() -> None:
    found = list_readings([find_figure("flam tap")], FOUR)
    assert [one.lead for one in found[:2]] == [Limb.RIGHT, Limb.LEFT]
    assert len(found) == 2 * len(list_rhythms(find_figure("flam tap"), FOUR))


def test_a_reading_has_lengths_hands_and_accents() -> None:
    one = reading("R> L R R", "16")
    assert (one.rhythm_name, one.length, one.beats(FOUR)) == ("sixteenths", Fraction(1, 4), 1)
    assert one.beats(find_meter("12/8")) == Fraction(2, 3)
    assert (one.lead, one.last_hand, one.accents) == (Limb.RIGHT, Limb.RIGHT, (Fraction(0),))
    left = reading("R> L R R", "16", Limb.LEFT)
    assert (left.lead, left.last_hand) == (Limb.LEFT, Limb.LEFT)


def test_places_leave_rests_out() -> None:
    one = reading("- R - L> -", "16")
    assert [at for at, _ in one.strokes()] == [Fraction(1, 16), Fraction(3, 16)]
    assert one.accents == (Fraction(3, 16),)
