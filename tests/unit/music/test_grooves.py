"""Grooves: reading a row of the table, lengths of strokes, and names."""

from __future__ import annotations

import re
from fractions import Fraction

import pytest

from fillwright.errors import CountError, FillwrightError, FitError, UnknownNameError
from fillwright.music.grooves import Groove, find_groove, load_grooves, read_groove
from fillwright.music.stroke import Level, Limb

Line = dict[str, str]
ALL = pytest.mark.parametrize("groove", load_grooves(), ids=lambda groove: groove.name)


def made(*lines: Line, meter: str = "4/4") -> Groove:
    return read_groove({"name": "mine", "meter": meter, "tempo": [60, 90], "lines": list(lines)})


HATS = {"surface": "hi-hat", "hand": "R", "at": "1 & 3"}


def test_a_row_becomes_a_groove() -> None:
    groove = made(HATS, {"surface": "kick", "at": "1 2a>"}, {"surface": "snare", "hand": "L", "at": "(3)"})
    assert (groove.name, groove.meter.name, groove.tempo) == ("mine", "4/4", (60, 90))
    played = [(str(h.at), h.surface.name, h.stroke.hand, h.stroke.level.value) for h in groove.hits]
    assert played == [
        ("0", "hi-hat", Limb.RIGHT, "tap"),
        ("0", "kick", Limb.RIGHT_FOOT, "tap"),
        ("1/8", "hi-hat", Limb.RIGHT, "tap"),
        ("7/16", "kick", Limb.RIGHT_FOOT, "accent"),
        ("1/2", "hi-hat", Limb.RIGHT, "tap"),
        ("1/2", "snare", Limb.LEFT, "ghost"),
    ]


def test_a_stroke_lasts_to_the_next_one_of_its_sort_or_to_the_end_of_its_beat() -> None:
    groove = made(HATS, {"surface": "snare", "hand": "L", "at": "1e"}, {"surface": "kick", "at": "1 4&"})
    lengths = [(h.surface.name, str(h.at), str(h.length)) for h in groove.hits]
    assert lengths == [
        ("hi-hat", "0", "1/16"),
        ("kick", "0", "1/4"),
        ("snare", "1/16", "1/16"),
        ("hi-hat", "1/8", "1/8"),
        ("hi-hat", "1/2", "1/4"),
        ("kick", "7/8", "1/8"),
    ]


def test_in_seven_eight_the_last_beat_is_the_long_one() -> None:
    groove = made({"surface": "kick", "at": "1 5"}, meter="7/8")
    assert [h.length for h in groove.hits] == [Fraction(1, 4), Fraction(3, 8)]


def test_a_groove_may_have_triplets() -> None:
    assert [h.at for h in made({"surface": "kick", "at": "1 2let"}).hits] == [Fraction(0), Fraction(5, 12)]


@pytest.mark.parametrize(
    ("kind", "line", "sentence"),
    [
        (
            UnknownNameError,
            {**HATS, "surface": "hihat"},
            'There is no surface called "hihat"; did you mean "hi-hat"?',
        ),
        (CountError, {**HATS, "at": "1 5"}, '"5" in "1 5" is not in the bar; a bar of 4/4 has counts 1 to 4.'),
        (
            UnknownNameError,
            {**HATS, "hand": "right foot"},
            'The line for the hi-hat has "right foot" for a hand; write hand = "R" or "L".',
        ),
        (
            FitError,
            {**HATS, "at": "1 e trip"},
            "Count 1 is played in thirds and in halves or quarters at once; "
            "write either trip and let, or e, & and a.",
        ),
        (
            UnknownNameError,
            {"surface": "snare", "at": "2"},
            'The line for the snare has "" for a hand; write hand = "R" or "L".',
        ),
    ],
)
def test_a_mistake_is_named(kind: type[FillwrightError], line: Line, sentence: str) -> None:
    with pytest.raises(kind, match=f"^{re.escape(sentence)}$"):
        made(line)


def test_an_unknown_meter_is_named() -> None:
    with pytest.raises(UnknownNameError, match=r'^There is no meter called "4/16"; use one of: 2/4, 3/4'):
        made(HATS, meter="4/16")


@ALL
def test_hits_ascend_and_lie_in_the_bar(groove: Groove) -> None:
    places = [hit.at for hit in groove.hits]
    assert places == sorted(places)
    assert all(0 <= h.at < h.at + h.length <= groove.meter.bar for h in groove.hits)


@ALL
def test_tempos_can_be_played(groove: Groove) -> None:
    slowest, fastest = groove.tempo
    assert 20 <= slowest < fastest <= 400


@ALL
def test_a_groove_is_found_by_its_name(groove: Groove) -> None:
    assert find_groove(groove.name.upper().replace(" ", "-")) is groove


def test_an_unknown_groove_is_refused() -> None:
    with pytest.raises(
        UnknownNameError, match=r'^There is no groove called "shufle"; did you mean "shuffle"\?$'
    ):
        find_groove("shufle")


def test_ghost_notes_of_the_table_are_read() -> None:
    ghosts = [h.at for h in find_groove("half-time shuffle").hits if h.stroke.level is Level.GHOST]
    assert [at % Fraction(1, 4) for at in ghosts] == [Fraction(1, 12)] * 4


@pytest.mark.parametrize(
    ("line", "sentence"),
    [
        (
            {"surface": "snare", "hand": "R", "at": "2 3"},
            "The right hand strikes hi-hat and snare at once on 3; "
            "give one of them to another hand, or leave it out.",
        ),
        (
            {"surface": "hi-hat", "hand": "L", "at": "2 1&"},
            "The hi-hat is struck twice at once on 1&; write it once.",
        ),
        (
            {"surface": "hi-hat", "hand": "R", "at": "3"},
            "The hi-hat is struck twice at once on 3; write it once.",
        ),
    ],
)
def test_an_impossible_groove_is_refused(line: Line, sentence: str) -> None:
    with pytest.raises(FitError, match=f"^{re.escape(sentence)}$"):
        made(HATS, line)


def test_a_hand_for_a_foot_is_refused() -> None:
    with pytest.raises(FitError, match=r"^The foot plays the kick; leave the hand out\.$"):
        made({"surface": "kick", "hand": "R", "at": "1"})


def test_a_foot_strikes_two_lines_in_turn_and_not_at_once() -> None:
    assert len(made({"surface": "kick", "at": "1"}, {"surface": "kick", "at": "2"}).hits) == 2
    with pytest.raises(FitError, match="The kick is struck twice at once on 2; write it once"):
        made({"surface": "kick", "at": "1 2"}, {"surface": "kick", "at": "2"})


def test_a_written_groove_comes_first() -> None:
    own = made(HATS)
    assert find_groove("Mine", [own]) is own
    assert find_groove("shuffle", [own]) is find_groove("shuffle")
    with pytest.raises(UnknownNameError, match='no groove called "mines"; did you mean "mine"'):
        find_groove("mines", [own])
