"""Counting, the best, and draws, on spans small enough to reckon by hand."""

from __future__ import annotations

from fractions import Fraction
from math import comb

import pytest

from fillwright.craft.chains import enumeration
from fillwright.craft.chains.readings import Reading, list_readings
from fillwright.craft.chains.rules import FREE, Filling, Rules, Tail, TailKind
from fillwright.craft.chains.space import ChainSpace
from fillwright.errors import FitError
from fillwright.music.figure import Figure
from fillwright.music.meter import find_meter
from fillwright.music.phrase import Span
from fillwright.music.rudiments import find_figure, load_rudiments
from fillwright.music.sticking import parse_sticking
from fillwright.music.stroke import Limb

FOUR = find_meter("4/4")
BAR = Span(start=Fraction(3), length=Fraction(1))
BEAT = Span(start=Fraction(3), length=Fraction(1, 4))
NO_HANDS = Rules(hands=False)


def one_stroke(name: str, length: Fraction = Fraction(1, 16), *, rebarred: bool = False) -> Reading:
    figure = Figure(name=name, group="own", strokes=parse_sticking("R"), rhythms=())
    return Reading(figure=figure, lead=Limb.RIGHT, lengths=(length,), rebarred=rebarred)


def letters(filling: Filling) -> str:
    return "".join(reading.figure.name for reading in filling.chain.readings)


def test_words_of_four_letters_are_counted() -> None:
    """Four places, three letters: every word, those of at most two letters, those with an a."""
    pool = [one_stroke(name) for name in "abc"]
    assert ChainSpace(BEAT, FOUR, pool, NO_HANDS).count == 3**4
    assert ChainSpace(BEAT, FOUR, pool, Rules(hands=False, must=("a",))).count == 3**4 - 2**4
    two = 3 * (2**4 - 2) + 3
    assert ChainSpace(BEAT, FOUR, pool, Rules(hands=False, most=2)).count == two
    assert ChainSpace(BEAT, FOUR, pool, Rules(hands=False, most=1)).count == 3
    assert ChainSpace(BEAT, FOUR, pool, Rules(hands=False, most=2, must=("a", "b"))).count == 2**4 - 2
    assert ChainSpace(BEAT, FOUR, pool, Rules(hands=False, most=1, must=("a", "b"))).count == 0


def test_at_most_two_of_forty_letters() -> None:
    pool = [one_stroke(f"{number}") for number in range(40)]
    space = ChainSpace(BAR, FOUR, pool, Rules(hands=False, most=2))
    assert space.count == comb(40, 2) * (2**16 - 2) + 40
    assert len({letters(space.at(rank)) for rank in range(200)}) == 200


@pytest.mark.parametrize("most", [3, 4, 40])
def test_a_limit_that_no_chain_can_pass_changes_nothing(most: int) -> None:
    pool = [one_stroke(f"{number}", Fraction(1, 12)) for number in range(40)]
    assert ChainSpace(BEAT, FOUR, pool, Rules(hands=False, most=most)).count == 40**3


def test_too_many_sets_of_figures_are_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    pool = list_readings(load_rudiments(), FOUR)
    with pytest.raises(
        FitError, match=r"At most 6 different figures out of 40 are 4,598,478 sets .* can be counted"
    ):
        ChainSpace(BAR, FOUR, pool, Rules(most=6))
    monkeypatch.setattr(enumeration, "MOST_BYTES", 10_000)
    with pytest.raises(FitError, match="take a shorter span"):
        ChainSpace(BAR, FOUR, pool, Rules(most=2))


def test_the_best_come_by_cost_and_then_in_the_order_given() -> None:
    """a and b take a sixteenth, c an eighth, R an eighth out of its own feel."""
    pool = [one_stroke("a"), one_stroke("b"), one_stroke("c", Fraction(1, 8))]
    pool.append(one_stroke("r", Fraction(1, 8), rebarred=True))
    space = ChainSpace(BEAT, FOUR, pool, NO_HANDS)
    found = [(letters(filling), filling.cost) for filling in space.best(15)]
    assert found[0] == ("cc", 5)
    assert [word for word, cost in found if cost == 6] == "abc aca acb bac bca bcb cab cba".split()
    assert [word for word, cost in found if cost == 7] == "aac bbc caa cbb cr rc".split()
    assert len(found) == 1 + 8 + 6


def test_fewer_come_where_there_are_fewer() -> None:
    pool = [one_stroke("a")]
    assert len(ChainSpace(BEAT, FOUR, pool, NO_HANDS).best(5)) == 1
    assert ChainSpace(BEAT, FOUR, pool, NO_HANDS).best(0) == ()
    triplets = ChainSpace(BEAT, FOUR, [one_stroke("t", Fraction(1, 24) * 5)], NO_HANDS)
    assert (triplets.count, triplets.best(3), triplets.draw(3, seed=1)) == (0, (), ())


def test_the_best_are_found_up_to_four_hundred_repetitions() -> None:
    """8 bars of 12/8 in single thirty-seconds are 384 turns; in their triplets they would be 576."""
    eight = Span(start=Fraction(0), length=Fraction(12))
    even = ChainSpace(eight, find_meter("12/8"), [one_stroke("a", Fraction(1, 32))], NO_HANDS)
    assert len(even.best(1)[0].chain.readings) == 384
    thirds = ChainSpace(eight, find_meter("12/8"), [one_stroke("a", Fraction(1, 48))], NO_HANDS)
    assert (thirds.count, len(thirds.draw(1, seed=1)[0].chain.readings)) == (1, 576)
    with pytest.raises(
        FitError, match="Chains of 576 repetitions can't be searched for the best, at most 400 can"
    ):
        thirds.best(1)


def test_no_readings_make_no_chains() -> None:
    assert ChainSpace(BAR, FOUR, [], FREE).count == 0
    assert ChainSpace(BAR, FOUR, [], Rules(most=1)).count == 0


def test_a_remainder_is_filled_once_and_after_a_repetition() -> None:
    kick = Tail(kind=TailKind.KICK, length=Fraction(1, 16))
    rest = Tail(kind=TailKind.REST, length=Fraction(1, 4))
    space = ChainSpace(BEAT, FOUR, [one_stroke("a", Fraction(3, 16))], Rules(hands=False, tails=(kick, rest)))
    assert space.count == 1
    (found,) = space.best(2)
    assert (letters(found), found.tail) == ("a", kick)


def test_a_chain_that_comes_out_even_is_better_than_one_that_does_not() -> None:
    kick = Tail(kind=TailKind.KICK, length=Fraction(1, 16))
    space = ChainSpace(BEAT, FOUR, [one_stroke("a")], Rules(hands=False, tails=(kick,)))
    found = [(letters(filling), filling.tail, filling.cost) for filling in space.best(3)]
    assert found == [("aaaa", None, 8 + 3), ("aaa", kick, 6 + 2 + 4)]


def test_flam_accents_over_a_bar() -> None:
    """In triplets alone do they come out even: four turns from either hand, the re-barred left aside."""
    accents = [one for one in list_readings([find_figure("flam accent")], FOUR) if not one.rebarred]
    assert ChainSpace(BAR, FOUR, accents, Rules()).count == 2
    assert ChainSpace(BAR, FOUR, accents, Rules(lead=Limb.RIGHT)).count == 1
    assert ChainSpace(BAR, FOUR, accents, Rules(lead=Limb.RIGHT, land=Limb.LEFT)).count == 0
    (only,) = ChainSpace(BAR, FOUR, accents, Rules(land=Limb.LEFT)).best(1)
    assert (only.starts, only.lands) == (Limb.LEFT, Limb.LEFT)


def test_the_same_seed_draws_the_same_chains_and_another_seed_others() -> None:
    space = ChainSpace(BAR, FOUR, list_readings(load_rudiments(), FOUR), Rules())
    assert space.draw(5, seed=1) == space.draw(5, seed=1)
    assert space.draw(5, seed=1) != space.draw(5, seed=2)
    assert space.draw(0, seed=1) == ()
    with pytest.raises(FitError, match="-1 chains can't be drawn"):
        space.draw(-1, seed=1)


@pytest.mark.parametrize("rules", [Rules(), Rules(most=2), Rules(must=("flam",))], ids=["free", "most", "must"])
def test_every_rank_is_a_chain_that_fills_the_span(rules: Rules) -> None:
    space = ChainSpace(BAR, FOUR, list_readings(load_rudiments(), FOUR), rules)
    ranks = [0, 1, space.count // 3, space.count // 2, space.count - 2, space.count - 1]
    found = [space.at(rank) for rank in ranks]
    assert len(set(found)) == len(ranks)
    assert all(filling.length == BAR.length for filling in found)


@pytest.mark.parametrize("rank", [-1, 81])
def test_a_rank_that_is_none_is_refused(rank: int) -> None:
    space = ChainSpace(BEAT, FOUR, [one_stroke(name) for name in "abc"], NO_HANDS)
    with pytest.raises(FitError, match=f"There is no chain {rank}; use 0 to 80"):
        space.at(rank)


def test_all_rudiments_over_two_bars_with_every_rule_at_once() -> None:
    rules = Rules(
        repeat_gap=Fraction(1, 8),
        lead=Limb.RIGHT,
        land=Limb.RIGHT,
        most=3,
        must=("flam tap",),
        accents=(Fraction(0), Fraction(1, 2)),
        tails=(Tail(kind=TailKind.KICK, length=Fraction(1, 16)),),
    )
    two = Span(start=Fraction(2), length=Fraction(2))
    space = ChainSpace(two, FOUR, list_readings(load_rudiments(), FOUR), rules)
    assert space.count > 10**9
    for filling in (*space.best(3), *space.draw(3, seed=5)):
        names = {one.figure.name for one in filling.chain.readings}
        assert len(names) <= 3
        assert "flam tap" in names
        assert (filling.starts, filling.lands) == (Limb.RIGHT, Limb.RIGHT)
        accents = {p.at for p in filling.chain.place_strokes() if p.stroke.level.value == "accent"}
        assert {Fraction(0), Fraction(1, 2)} <= accents
