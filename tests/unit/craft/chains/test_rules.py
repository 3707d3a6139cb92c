"""Rules of a chain: which can't be, and what a filling says of itself."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest

from fillwright.craft.chains.chain import Chain
from fillwright.craft.chains.readings import Reading
from fillwright.craft.chains.rules import FREE, HAND_TO_HAND, Filling, Rules, Tail, TailKind, alternate_hands
from fillwright.errors import FitError
from fillwright.music.rudiments import find_figure
from fillwright.music.stroke import Limb


def turn(name: str, lead: Limb = Limb.RIGHT, *, rhythm: int = 0) -> Reading:
    figure = find_figure(name)
    chosen = figure.rhythms[rhythm]
    return Reading(figure=figure, lead=lead, lengths=chosen.lengths, rebarred=chosen.rebarred)


KICK = Tail(kind=TailKind.KICK, length=Fraction(1, 16))
PARADIDDLES = Filling(chain=Chain(readings=(turn("paradiddle"), turn("paradiddle", Limb.LEFT))))


def test_hand_to_hand_only_asks_for_alternating_hands() -> None:
    assert replace(HAND_TO_HAND, alternate=False) == FREE


@pytest.mark.parametrize(
    ("asked", "why"),
    [
        ({"hands": False, "lead": Limb.RIGHT}, "need hands; drop those rules or keep the hands"),
        ({"hands": False, "land": Limb.RIGHT}, "need hands; drop those rules or keep the hands"),
        ({"hands": False, "repeat_gap": Fraction(0)}, "need hands; drop those rules or keep the hands"),
        ({"repeat_gap": Fraction(-1, 8)}, "-1/8 whole notes is not a valid gap; use 0 or more"),
        ({"alternate": False, "repeat_gap": Fraction(1, 8)}, "needs hands that alternate; drop one of the two"),
        ({"most": 0}, "A chain can't have at most 0 different figures"),
        ({"must": tuple("abcdefg")}, "7 figures are too many to require; name at most 6"),
        ({"lead": Limb.RIGHT_FOOT}, "A foot can't lead or land"),
        ({"land": Limb.LEFT_FOOT}, "A foot can't lead or land"),
    ],
)
def test_rules_that_contradict_each_other_are_refused(asked: dict[str, object], why: str) -> None:
    with pytest.raises(FitError, match=why):
        Rules(**asked)  # type: ignore[arg-type]


@pytest.mark.parametrize("length", [Fraction(0), Fraction(-1, 4)])
def test_a_tail_without_length_is_refused(length: Fraction) -> None:
    with pytest.raises(FitError, match="fills nothing"):
        Tail(kind=TailKind.REST, length=length)


def test_a_filling_has_a_length_and_hands() -> None:
    assert (PARADIDDLES.starts, PARADIDDLES.lands) == (Limb.RIGHT, Limb.RIGHT)
    assert PARADIDDLES.length == Fraction(1, 2)
    tailed = replace(PARADIDDLES, tail=KICK)
    assert tailed.length == Fraction(9, 16)
    assert tailed.lands is Limb.RIGHT
    assert KICK.words == "kick 16"


def test_a_filling_has_a_cost() -> None:
    """Two turns and a repeat; a tail; a re-barred figure after another."""
    assert PARADIDDLES.cost == 2 + 2 + 1
    assert replace(PARADIDDLES, tail=KICK).cost == 2 + 2 + 1 + 4
    mixed = Chain(readings=(turn("paradiddle"), turn("flam accent", rhythm=1)))
    assert Filling(chain=mixed).cost == 2 + 2 + 3


def test_alternate_hands_leads_with_the_hand_that_did_not_strike_last() -> None:
    turns = (turn("paradiddle", Limb.LEFT), turn("single stroke roll", Limb.LEFT), turn("flam tap", Limb.LEFT))
    led = alternate_hands(Filling(chain=Chain(readings=turns), tail=KICK))
    assert [one.lead for one in led.chain.readings] == [Limb.RIGHT, Limb.LEFT, Limb.LEFT]
    assert [one.figure for one in led.chain.readings] == [one.figure for one in turns]
    assert led.tail is KICK
    assert alternate_hands(led, Limb.LEFT).starts is Limb.LEFT
