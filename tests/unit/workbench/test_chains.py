"""Chains from options: what is asked, what is refused, and the first in its phrase."""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise

import pytest

from fillwright.craft.chains.rules import Rules, Tail, TailKind
from fillwright.errors import CountError, FitError, SpanError, StickingError, UnknownNameError
from fillwright.music.figure import Figure
from fillwright.music.phrase import Part
from fillwright.music.rudiments import parse_rhythm
from fillwright.music.sticking import parse_sticking
from fillwright.music.stroke import Level, Limb
from fillwright.workbench.chains import (
    MOST_CHAINS,
    ChainRequest,
    build_chain_phrase,
    describe_chain,
    draw_chain,
    find_chains,
    format_chain_sticking,
    parse_gap,
)

PAIR = ("flam accent", "flam tap")


def test_all_forty_rudiments_over_a_bar_where_nothing_is_asked() -> None:
    made = find_chains(ChainRequest())
    assert len(made.figures) == 40
    assert (made.span.start, made.span.length, made.bars) == (3, 1, 4)
    assert made.words == "4 beats of 4/4"
    assert made.space.count > 10**9
    assert made.find_remainders() == ()


def test_a_teachers_own_figure_is_chained_like_a_rudiment() -> None:
    strokes = parse_sticking("R L R R")
    own = Figure(name="knock", group="own", strokes=strokes, rhythms=(parse_rhythm("16", len(strokes)),))
    made = find_chains(ChainRequest(figures=("knock", "flam tap"), own=(own,), must=("knock",)))
    assert made.figures[0] is own
    assert "knock" in [reading.figure.name for reading in made.list_best(1)[0].chain.readings]
    with pytest.raises(UnknownNameError, match="knock"):
        find_chains(ChainRequest(figures=("knock",)))


@pytest.mark.parametrize(
    ("beats", "bars", "where", "start", "length", "phrase_bars"),
    [
        (Fraction(5, 2), 1, "4/4", "27/8", "5/8", 4),
        (None, 2, "4/4", "2", "2", 4),
        (None, 8, "3/4", "0", "6", 8),
        (Fraction(1), 1, "12/8", "45/8", "3/8", 4),
        (Fraction(2), 1, "7/8", "23/8", "5/8", 4),
        (Fraction(17), 1, "4/4", "3/4", "17/4", 5),
    ],
)
def test_the_span_is_the_last_beats_or_bars(
    beats: Fraction | None, bars: int, where: str, start: str, length: str, phrase_bars: int
) -> None:
    made = find_chains(ChainRequest(figures=PAIR, beats=beats, bars=bars, meter=where))
    assert (made.span.start, made.span.length) == (Fraction(start), Fraction(length))
    assert made.bars == phrase_bars


@pytest.mark.parametrize(
    ("asked", "error", "why"),
    [
        (ChainRequest(figures=("flamm",)), UnknownNameError, 'did you mean "flam"'),
        (ChainRequest(meter="5/8"), UnknownNameError, "There is no meter"),
        (ChainRequest(must=("flam",), figures=("drag",)), FitError, "flam is required"),
        (ChainRequest(beats=Fraction(0)), SpanError, "0 beats can't be filled"),
        (ChainRequest(bars=-1), SpanError, "-4 beats can't be filled"),
        (ChainRequest(bars=9), SpanError, "at most 8 bars"),
        (ChainRequest(bars=1000), SpanError, "can't be written"),
        (ChainRequest(beats=Fraction(1, 7)), SpanError, "not on a subdivision"),
        (ChainRequest(accents="9"), CountError, "is not in the bar"),
        (
            ChainRequest(beats=Fraction(1), accents="1"),
            SpanError,
            'An accent of "1" is outside the last 1 beat',
        ),
        (ChainRequest(rests="7"), StickingError, "is not a note value"),
    ],
)
def test_what_can_not_be_asked(asked: ChainRequest, error: type[Exception], why: str) -> None:
    with pytest.raises(error, match=why):
        find_chains(asked)


@pytest.mark.parametrize("number", [-1, MOST_CHAINS + 1])
def test_no_more_chains_are_written_out_than_can_be_read(number: int) -> None:
    made = find_chains(ChainRequest(figures=PAIR))
    for find in (made.list_best, lambda many: made.draw(many, 1)):
        with pytest.raises(FitError, match=f"{number} chains can't be written out at once"):
            find(number)


def test_accents_are_asked_in_every_bar_that_the_fill_reaches() -> None:
    made = find_chains(ChainRequest(figures=PAIR, beats=Fraction(6), accents="1 4"))
    for filling in made.list_best(20):
        accents = {p.at for p in filling.chain.place_strokes() if p.stroke.level is Level.ACCENT}
        assert {Fraction(1, 4), Fraction(1, 2), Fraction(5, 4)} <= accents


def test_without_hands_what_is_shown_is_played_hand_to_hand() -> None:
    made = find_chains(ChainRequest(figures=PAIR, rules=Rules(hands=False)))
    for filling in (*made.list_best(5), *made.draw(5, 3)):
        turns = filling.chain.readings
        assert turns[0].lead is Limb.RIGHT
        assert all(then.lead is first.last_hand.other for first, then in pairwise(turns))


def test_what_a_single_figure_leaves() -> None:
    made = find_chains(ChainRequest(figures=("flam accent",)))
    sixteenths, eighths = made.find_remainders()
    assert sixteenths.sentence.startswith("Flam accent in sixteenths leaves one sixteenth of 4 beats")
    assert eighths.length == Fraction(1, 4)
    assert made.list_completions(sixteenths)[:3] == ("one stroke by the left hand", "a rest", "a kick")
    assert find_chains(ChainRequest(figures=("flam accent",), beats=Fraction(3))).find_remainders() == ()


@pytest.mark.parametrize(
    ("text", "length"), [("8", "1/8"), ("8t", "1/12"), ("4.", "3/8"), ("1/8", "1/8"), (" 3/16 ", "3/16")]
)
def test_a_gap_is_a_note_value_or_a_part_of_a_whole_note(text: str, length: str) -> None:
    assert parse_gap(text) == Fraction(length)


@pytest.mark.parametrize("text", ["", "quick", "1/0", "1/x", "-1/8", "0.1", "²/8"])
def test_a_gap_that_is_neither_is_refused(text: str) -> None:
    with pytest.raises(StickingError):
        parse_gap(text)


def test_a_chain_in_its_phrase() -> None:
    made = find_chains(ChainRequest(figures=PAIR, rules=Rules(lead=Limb.LEFT, land=Limb.LEFT), kicks="16"))
    filling = next(one for one in made.list_best(200) if one.tail)
    played = build_chain_phrase(made, filling)
    assert [bar.part for bar in played.bars] == [Part.GROOVE] * 3 + [Part.FILL, Part.LANDING]
    fill = [hit for hit in played.hits() if played.is_in_fill(hit.at)]
    assert [hit.surface.name for hit in fill[:-1]] == ["snare"] * (len(fill) - 1)
    assert (fill[-1].surface.name, fill[-1].at, fill[-1].stroke.hand) == (
        "kick",
        Fraction(63, 16),
        Limb.RIGHT_FOOT,
    )
    assert fill[0].stroke.hand is Limb.LEFT
    crash = next(hit for hit in played.bars[-1].hits if hit.surface.name == "crash")
    assert crash.stroke.hand is Limb.LEFT


def test_a_rest_leaves_the_end_of_the_fill_empty() -> None:
    made = find_chains(ChainRequest(figures=("flam accent",), rests="16"))
    filling = next(one for one in made.list_best(200) if one.tail)
    assert filling.tail == Tail(kind=TailKind.REST, length=Fraction(1, 16))
    last = max(hit.at for hit in build_chain_phrase(made, filling).hits() if hit.at < 4)
    assert last < Fraction(63, 16)
    assert format_chain_sticking(filling).endswith(" | -")


def test_the_groove_is_of_the_meter() -> None:
    made = find_chains(ChainRequest(figures=("flam tap",), meter="12/8"))
    filling = made.list_best(1)[0]
    assert build_chain_phrase(made, filling).meter.name == "12/8"
    assert build_chain_phrase(made, filling, "slow twelve-eight").meter.name == "12/8"
    with pytest.raises(FitError, match="shuffle is in 4/4 and the chains are in 12/8"):
        build_chain_phrase(made, filling, "shuffle")


def test_pictures() -> None:
    made = find_chains(ChainRequest(figures=PAIR))
    played = build_chain_phrase(made, made.list_best(1)[0])
    assert b"<svg" in draw_chain(played, ".svg", tempo=80)
    assert draw_chain(played, ".pdf", tempo=80).startswith(b"%PDF")


def test_a_chain_as_json() -> None:
    made = find_chains(ChainRequest(figures=PAIR, kicks="16", rules=Rules(lead=Limb.RIGHT)))
    for filling in made.list_best(100):
        row = describe_chain(filling)
        turns = filling.chain.readings
        assert row["figures"] == [turn.figure.name for turn in turns]
        assert len(row["rhythms"]) == len(row["leads"]) == len(row["rebarred"]) == len(turns)
        assert row["starts"] == "R"
        hands = [slot.hand.value for slot in parse_sticking(row["sticking"]) if slot]
        assert (hands[0], {"R": "L", "L": "R"}[hands[-1]]) == (row["starts"], row["lands"])
        assert ("tail" in row) == (filling.tail is not None)
    tailed = next(describe_chain(one) for one in made.list_best(200) if one.tail)
    assert tailed["tail"] == {"kind": "kick", "value": "16"}
