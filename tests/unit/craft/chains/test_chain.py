"""Chains: strokes in time, which spans they fill, and the sentence where they do not."""

from __future__ import annotations

from fractions import Fraction

import pytest

from fillwright.craft.chains.chain import (
    Chain,
    describe_misfit,
    fill_span,
    find_fitting_beats,
    fits_span,
    repeat_figure,
)
from fillwright.errors import FitError
from fillwright.music.meter import find_meter
from fillwright.music.phrase import Span, locate_last_beats
from fillwright.music.rudiments import find_figure, parse_rhythm
from fillwright.music.sticking import parse_sticking
from fillwright.music.stroke import Limb

FOUR = find_meter("4/4")


def chain(name: str, turns: int, lead: Limb = Limb.RIGHT) -> Chain:
    figure = find_figure(name)
    return repeat_figure(figure, figure.rhythms[0], turns, lead)


def hands(made: Chain) -> str:
    return "".join(placed.stroke.hand.value for placed in made.place_strokes())


@pytest.mark.parametrize(
    ("name", "turns", "lead", "wanted"),
    [
        ("single paradiddle", 3, Limb.RIGHT, "RLRRLRLLRLRR"),
        ("single paradiddle", 2, Limb.LEFT, "LRLLRLRR"),
        ("single paradiddle-diddle", 2, Limb.RIGHT, "RLRRLLRLRRLL"),
        ("single paradiddle-diddle", 2, Limb.LEFT, "LRLLRRLRLLRR"),
        ("flam", 4, Limb.RIGHT, "RLRL"),
    ],
)
def test_hands_of_a_figure_repeated(name: str, turns: int, lead: Limb, wanted: str) -> None:
    made = chain(name, turns, lead)
    assert hands(made) == wanted
    assert made.last_hand.value == wanted[-1]


def test_strokes_follow_each_other_with_the_number_of_their_reading() -> None:
    placed = list(chain("single paradiddle", 2).place_strokes())
    assert [p.at for p in placed] == [Fraction(n, 16) for n in range(8)]
    assert [p.statement for p in placed] == [0] * 4 + [1] * 4
    assert [p.last for p in placed] == [False, False, False, True] * 2


def test_a_rest_takes_its_time_and_is_not_played() -> None:
    figure = find_figure("single paradiddle")
    rested = type(figure)(
        name="own", group="own", strokes=parse_sticking("R - L -"), rhythms=(parse_rhythm("16", 4),)
    )
    placed = list(repeat_figure(rested, rested.rhythms[0], 2, Limb.RIGHT).place_strokes())
    assert [p.at for p in placed] == [Fraction(n, 8) for n in range(4)]
    assert [p.last for p in placed] == [False, True, False, True]


def test_two_chains_end_to_end() -> None:
    both = chain("single paradiddle", 1).then(chain("flam", 1, Limb.LEFT))
    assert hands(both) == "RLRRL"
    assert both.length == Fraction(1, 2)
    assert list(both.place_strokes())[-1].at == Fraction(1, 4)


def test_a_chain_led_by_the_other_hand() -> None:
    made = chain("single paradiddle", 2)
    assert made.lead_with(Limb.RIGHT) is made
    assert hands(made.lead_with(Limb.LEFT)) == "LRLLRLRR"
    assert made.lead_with(Limb.LEFT).lead_with(Limb.RIGHT) == made


def test_a_rhythm_is_as_long_as_its_notes() -> None:
    assert parse_rhythm("16t 16t 16t 8", 4).length == Fraction(1, 4)


@pytest.mark.parametrize(
    ("values", "places", "start", "length", "wanted"),
    [
        ("16", 4, "0", "1", True),
        ("16", 3, "0", "1", False),
        ("16", 3, "1/4", "3/4", True),
        ("8t", 3, "0", "1/4", True),
        ("8t", 3, "1/16", "1/4", False),
        ("16t", 3, "1/8", "1/8", True),
        ("8t", 2, "0", "1/2", True),
        ("8t", 2, "1/12", "1/6", True),
        ("8t", 1, "1/16", "1/12", False),
        ("16", 1, "1/12", "1/16", False),
    ],
)
def test_whole_repetitions_fill_a_span_and_triplets_start_on_their_own_grid(
    values: str, places: int, start: str, length: str, wanted: bool
) -> None:
    span = Span(start=Fraction(start), length=Fraction(length))
    assert fits_span(parse_rhythm(values, places), span, FOUR) is wanted


@pytest.mark.parametrize(
    ("values", "places", "name", "bars", "wanted"),
    [
        ("16", 4, "4/4", 1, "1 2 3 4"),
        ("16", 2, "4/4", 1, "1/2 1 3/2 2 5/2 3 7/2 4"),
        ("16", 3, "4/4", 1, "3/2 3"),
        ("16", 3, "4/4", 2, "3/2 3 9/2 6 15/2"),
        ("8t", 3, "3/4", 1, "1 2 3"),
        ("8", 3, "6/8", 1, "1 2"),
        ("16", 4, "7/8", 1, "3/2 5/2"),
        ("16", 5, "2/4", 1, ""),
    ],
)
def test_last_beats_that_a_rhythm_fills(values: str, places: int, name: str, bars: int, wanted: str) -> None:
    assert (
        " ".join(map(str, find_fitting_beats(parse_rhythm(values, places), find_meter(name), bars=bars)))
        == wanted
    )


def test_a_chain_fills_a_span_from_its_lead() -> None:
    figure = find_figure("single paradiddle")
    made = fill_span(figure, figure.rhythms[0], locate_last_beats(FOUR, 4, Fraction(2)), FOUR, lead=Limb.LEFT)
    assert hands(made) == "LRLLRLRR"
    assert made.length == Fraction(1, 2)


@pytest.mark.parametrize(
    ("name", "number", "where", "beats", "sentence"),
    [
        (
            "flam accent",
            1,
            "4/4",
            4,
            "flam accent in sixteenths does not fill the last 4 beats of 4/4: one repetition takes ¾ beat, "
            "so use the last 1½ or 3 beats.",
        ),
        (
            "seventeen stroke roll",
            1,
            "2/4",
            1,
            "seventeen stroke roll in sixteen thirty-seconds and a half does not fill the last 1 beat of 2/4: "
            "one repetition takes 4 beats, so use the last 4 beats.",
        ),
        (
            "single paradiddle",
            0,
            "7/8",
            1,
            "single paradiddle in sixteenths does not fill the last 1 beat of 7/8: "
            "one repetition takes 2 eighths, so use the last 1½ or 2½ beats.",
        ),
    ],
)
def test_a_misfit_names_the_spans_that_fit(
    name: str, number: int, where: str, beats: int, sentence: str
) -> None:
    figure = find_figure(name)
    span = locate_last_beats(find_meter(where), 4, Fraction(beats))
    with pytest.raises(FitError) as caught:
        fill_span(figure, figure.rhythms[number], span, find_meter(where), lead=Limb.RIGHT)
    assert str(caught.value) == sentence


@pytest.mark.parametrize(("values", "takes"), [("16t", "⅓ eighth"), ("8", "1 eighth"), ("16.", "¾ eighth")])
def test_beats_that_differ_are_counted_in_eighths(values: str, takes: str) -> None:
    span = locate_last_beats(find_meter("7/8"), 1, Fraction(1, 7))
    sentence = describe_misfit(find_figure("flam"), parse_rhythm(values, 1), span, find_meter("7/8"))
    assert f"one repetition takes {takes}," in sentence


def test_a_figure_that_fills_no_span_is_described() -> None:
    figure = find_figure("single dragadiddle")
    odd = parse_rhythm("8 8 8 8 32t", 5)
    sentence = describe_misfit(figure, odd, locate_last_beats(FOUR, 4, Fraction(1)), FOUR)
    assert sentence.endswith("it fills no span up to four bars; choose another rhythm.")
    assert find_fitting_beats(odd, FOUR, bars=4) == ()
