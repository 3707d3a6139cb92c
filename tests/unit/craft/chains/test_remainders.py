"""What a figure leaves of a span, and what completes it."""

from __future__ import annotations

from fractions import Fraction

import pytest

from fillwright.craft.chains.remainders import STROKE, Remainder, find_remainder
from fillwright.craft.chains.rules import TailKind
from fillwright.errors import FitError
from fillwright.music.figure import Figure, Rhythm
from fillwright.music.meter import find_meter
from fillwright.music.phrase import Span, locate_last_beats
from fillwright.music.rudiments import find_figure, load_rudiments, parse_rhythm
from fillwright.music.sticking import parse_sticking
from fillwright.music.stroke import Limb


def left(name: str, values: str, beats: str, where: str = "4/4") -> Remainder:
    figure = find_figure(name)
    return of(figure, parse_rhythm(values, len(figure.strokes)), beats, where)


def of(figure: Figure, played: Rhythm, beats: str, where: str = "4/4") -> Remainder:
    found = find_meter(where)
    return find_remainder(figure, played, locate_last_beats(found, 4, Fraction(beats)), found)


def own(sticking: str, values: str) -> tuple[Figure, Rhythm]:
    strokes = parse_sticking(sticking)
    played = parse_rhythm(values, len(strokes))
    return Figure(name="own", group="own", strokes=strokes, rhythms=(played,)), played


def test_flam_accents_in_sixteenths_leave_a_sixteenth_of_a_bar_and_none_of_three_beats() -> None:
    """Common practice, no source."""
    bar = left("flam accent", "16", "4")
    assert (bar.statements, bar.length) == (5, Fraction(1, 16))
    assert bar.remaining_span == Span(start=Fraction(63, 16), length=Fraction(1, 16))
    assert bar.sentence == (
        "Flam accent in sixteenths leaves one sixteenth of 4 beats after 5 repetitions; it fills 1½ or 3 beats."
    )
    three = left("flam accent", "16", "3")
    assert (three.statements, three.length) == (4, 0)
    assert three.sentence == "Flam accent in sixteenths fills 3 beats in 4 repetitions."
    assert three.complete(load_rudiments()) == ()


@pytest.mark.parametrize(
    ("name", "values", "beats", "where", "sentence"),
    [
        ("single paradiddle", "16", "1", "4/4", "fills 1 beat in 1 repetition."),
        ("flam accent", "8", "2", "4/4", "leaves one eighth of 2 beats after 1 repetition; it fills"),
        (
            "five stroke roll",
            "16 16 16 16 4",
            "3",
            "4/4",
            "leaves four sixteenths of 3 beats after 1 repetition; it fills 2",
        ),
        ("double paradiddle", "16", "4", "4/4", "leaves four sixteenths of 4 beats after 2 repetitions"),
        ("flam accent", "8", "3", "7/8", "leaves one eighth of 7 eighths after 2 repetitions; it fills"),
        (
            "nine stroke roll",
            "16 16 16 16 16 16 16 16 2",
            "2",
            "4/4",
            "does not fit into 2 beats: one repetition takes 4",
        ),
        ("seventeen stroke roll", "32 " * 16 + "2", "5", "5/4", "leaves eight thirty-seconds of 5 beats"),
    ],
)
def test_the_remainder_in_words(name: str, values: str, beats: str, where: str, sentence: str) -> None:
    assert sentence in left(name, values, beats, where).sentence


def test_thirteen_and_more_are_written_in_digits() -> None:
    assert "leaves 15 thirty-seconds of 4 beats" in of(*own("R L " * 8 + "R", "32"), "4").sentence


def test_a_figure_that_fills_no_short_span_is_described() -> None:
    """Two notes of a triplet, the first dotted: a turn is half over and starts off the grid the next time."""
    figure, played = own("R L", "4. 8t")
    assert "it fills no span up to four bars" in of(figure, played, "4").sentence


def test_other_lengths_are_one_note_or_a_part_of_a_whole_note() -> None:
    span = Span(start=Fraction(0), length=Fraction(11, 24))
    eighth = find_remainder(*own("R L R", "8t 8t 4t"), span, find_meter("4/4"))
    assert "leaves one eighth of 11/6 beats after 1 repetition" in eighth.sentence
    odd = of(*own("R", "4."), "5/2")
    assert "leaves one quarter" in odd.sentence
    part = find_remainder(
        *own("R L R", "8t"), Span(start=Fraction(0), length=Fraction(9, 16)), find_meter("4/4")
    )
    assert part.length == Fraction(1, 16)
    five = find_remainder(*own("R", "2"), Span(start=Fraction(0), length=Fraction(13, 16)), find_meter("4/4"))
    assert "leaves 5/16 of a whole note" in five.sentence


def test_repetitions_stop_where_they_can_not_be_written() -> None:
    """After a triplet's note the next place is a third of the beat, where no eighth starts."""
    never = of(*own("R L", "8t 8"), "4")
    assert never.statements == 0
    assert "does not fit into 4 beats: it can't be written from there" in never.sentence
    once = of(*own("R L", "8 8t"), "4")
    assert (once.statements, once.length) == (1, Fraction(19, 24))


def test_a_bar_of_flam_accents_is_completed_by_a_stroke_a_rest_a_kick_or_readings() -> None:
    bar = left("flam accent", "16", "4")
    found = bar.complete(load_rudiments(), lead=Limb.RIGHT, number=2)
    assert [bar.describe(done) for done in found[:3]] == ["one stroke by the left hand", "a rest", "a kick"]
    assert len(found) == 5
    assert all(done.length == 1 for done in found)
    assert found[0].chain.readings[-1].figure is STROKE
    assert [done.tail.kind for done in found if done.tail] == [TailKind.REST, TailKind.KICK]
    for done in found[3:]:
        (more,) = done.chain.readings[5:]
        assert more.length == Fraction(1, 16)
        assert more.lead is Limb.LEFT
        assert bar.describe(done) == f"{more.figure.name} in {more.rhythm_name}"


def test_from_the_left_the_right_hand_completes_it() -> None:
    bar = left("flam accent", "16", "4")
    assert bar.describe(bar.complete((), lead=Limb.LEFT)[0]) == "one stroke by the right hand"


def test_a_remainder_that_is_not_a_note_value_is_not_one_stroke() -> None:
    found = find_remainder(*own("R", "2"), Span(start=Fraction(0), length=Fraction(13, 16)), find_meter("4/4"))
    assert [done.tail is not None for done in found.complete(())] == [True, True]


def test_several_readings_are_listed_in_order() -> None:
    accents = left("flam accent", "8", "4")
    taps = (find_figure("flam tap"),)
    words = [accents.describe(done) for done in accents.complete(taps, number=9)[3:]]
    assert words[0] == "flam tap in eighths"
    assert "flam tap in sixteenths, then flam tap in sixteenths" in words


def test_without_a_whole_repetition_only_readings_complete_the_span() -> None:
    roll = left("nine stroke roll", "16 16 16 16 16 16 16 16 2", "2")
    found = roll.complete((find_figure("flam tap"),), number=1)
    assert [done.tail for done in found] == [None]
    assert found[0].starts is Limb.RIGHT
    assert roll.describe(found[0]).startswith("flam tap in")


@pytest.mark.parametrize("length", ["0", "-1"])
def test_a_span_without_length_is_refused(length: str) -> None:
    figure, played = own("R", "8")
    with pytest.raises(FitError, match="can't be repeated in a span of no length"):
        find_remainder(figure, played, Span(start=Fraction(0), length=Fraction(length)), find_meter("4/4"))
