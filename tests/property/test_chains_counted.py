"""Chains against a plain listing of every one, under any rules: the count, the best in order, random draws."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import replace
from fractions import Fraction
from itertools import combinations, pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fillwright.craft.chains.chain import Chain, fits_span
from fillwright.craft.chains.graph import Grid
from fillwright.craft.chains.readings import Reading, list_readings, list_rhythms
from fillwright.craft.chains.rules import FREE, Filling, Rules, Tail, TailKind
from fillwright.craft.chains.space import ChainSpace
from fillwright.music.figure import Figure, Rhythm
from fillwright.music.meter import Meter, find_meter, list_meters
from fillwright.music.phrase import Span
from fillwright.music.rudiments import load_rudiments, parse_rhythm
from fillwright.music.sticking import parse_sticking
from fillwright.music.stroke import Level, Limb

UNIT = Fraction(1, 16)
FOUR = find_meter("4/4")
HANDS = (None, Limb.RIGHT, Limb.LEFT)


def figure(name: str, sticking: str, *values: str) -> Figure:
    strokes = parse_sticking(sticking)
    return Figure(
        name=name,
        group="own",
        strokes=strokes,
        rhythms=tuple(parse_rhythm(text, len(strokes)) for text in values),
    )


POOL = (
    figure("one", "R", "16", "8t"),
    figure("tap", "R> R", "16", "32", "8t"),
    figure("roll", "R L R>", "16", "16t", "32 32 16", "8t"),
    figure("flam", "lR>", "16", "8", "8t"),
    figure("late", "- R> -", "16", "32"),
    figure("accent", "lR> L R>", "16", "8t"),
)
EVERY = tuple(
    Reading(figure=each, lead=lead, lengths=one.lengths, rebarred=place > 1)
    for each in POOL
    for place, one in enumerate(each.rhythms)
    for lead in (Limb.RIGHT, Limb.LEFT)
)


def distinct(found: Sequence[Reading], rules: Rules) -> list[Reading]:
    """The readings that differ under the rules."""
    first: dict[object, Reading] = {}
    for one in found:
        if rules.only is None or one.figure.name in rules.only:
            first.setdefault((one.figure.name, one.lengths, one.lead if rules.hands else None), one)
    return list(first.values())


def sequences(
    span: Span, where: Meter, found: Sequence[Reading], length: Fraction
) -> Iterator[tuple[Reading, ...]]:
    """Every sequence of readings that takes exactly that length from the start of a span."""
    if not length:
        yield ()
        return
    for one in found:
        place = Span(start=span.start, length=one.length)
        if one.length <= length and fits_span(rhythm_of(one), place, where):
            after = Span(start=span.start + one.length, length=span.length)
            for rest in sequences(after, where, found, length - one.length):
                yield (one, *rest)


def rhythm_of(one: Reading) -> Rhythm:
    return next(each for each in one.figure.rhythms if each.lengths == one.lengths)


def obeys(filling: Filling, rules: Rules) -> bool:
    """Whether a chain keeps the rules, read off its strokes in time."""
    turns = filling.chain.readings
    strokes: list[tuple[Fraction, int, Limb, Level]] = []
    at = Fraction(0)
    for number, one in enumerate(turns):
        strokes += [(at + place, number, stroke.hand, stroke.level) for place, stroke in one.strokes()]
        at += one.length
    names = {one.figure.name for one in turns}
    if rules.hands:
        for (before, turn, hand, _), (after, next_turn, next_hand, _) in pairwise(strokes):
            repeated = turn != next_turn and hand is next_hand
            allowed = rules.repeat_gap is not None and after - before >= rules.repeat_gap
            if rules.alternate and repeated and not allowed:
                return False
        if rules.lead not in (None, strokes[0][2]) or rules.land not in (None, strokes[-1][2].other):
            return False
    accented = {place for place, _, _, level in strokes if level is Level.ACCENT}
    return (
        (rules.only is None or names <= set(rules.only))
        and (rules.most is None or len(names) <= rules.most)
        and set(rules.must) <= names
        and set(rules.accents) <= accented
    )


def key(filling: Filling, found: Sequence[Reading], rules: Rules) -> tuple[int, list[int], int]:
    """The documented order: cost, then the order of the readings, then that of the tails."""
    turns = filling.chain.readings
    cost = sum(2 + 3 * one.rebarred for one in turns)
    cost += sum(first.figure.name == then.figure.name for first, then in pairwise(turns))
    cost += 4 if filling.tail else 0
    ending = rules.tails.index(filling.tail) if filling.tail else -1
    return cost, [found.index(one) for one in turns], ending


def brute(span: Span, where: Meter, found: Sequence[Reading], rules: Rules) -> list[Filling]:
    """Every chain, listed one by one, in the documented order."""
    usable = distinct(found, rules)
    made = []
    for tail in (None, *rules.tails):
        length = span.length - (tail.length if tail else 0)
        if length <= 0 or (tail and not tail_fits(span, where, tail)):
            continue
        for turns in sequences(span, where, usable, length):
            filling = Filling(chain=Chain(readings=turns), tail=tail)
            if obeys(filling, rules):
                made.append(filling)
    return sorted(made, key=lambda filling: key(filling, usable, rules))


def tail_fits(span: Span, where: Meter, tail: Tail) -> bool:
    place = Span(start=span.end - tail.length, length=tail.length)
    return fits_span(Rhythm(name="", lengths=(tail.length,)), place, where)


starts = st.sampled_from([Fraction(0), Fraction(1, 16), Fraction(1, 12), Fraction(7, 8), Fraction(11, 12)])
spans = st.builds(
    Span,
    start=starts,
    length=st.sampled_from(
        [n * UNIT for n in range(1, 6)] + [Fraction(1, 12), Fraction(1, 6), Fraction(5, 12)]
    ),
)
tails = st.builds(
    Tail, kind=st.sampled_from(TailKind), length=st.sampled_from([UNIT, 2 * UNIT, Fraction(1, 12)])
)
some_readings = st.lists(st.sampled_from(EVERY), min_size=1, max_size=7, unique=True)


@st.composite
def rules_for(draw: st.DrawFn, names: Sequence[str], length: Fraction) -> Rules:
    hands = draw(st.booleans())
    alternate = draw(st.booleans())
    gaps = st.sampled_from([None, Fraction(0), UNIT, 2 * UNIT, 3 * UNIT])
    only = draw(st.none() | st.lists(st.sampled_from(names), min_size=1, unique=True))
    left = [name for name in names if only is None or name in only]
    places = [n * UNIT for n in range(int(length / UNIT) + 1) if n * UNIT < length]
    return Rules(
        hands=hands,
        alternate=alternate,
        repeat_gap=draw(gaps) if hands and alternate else None,
        lead=draw(st.sampled_from(HANDS)) if hands else None,
        land=draw(st.sampled_from(HANDS)) if hands else None,
        only=None if only is None else tuple(only),
        most=draw(st.none() | st.integers(1, 3)),
        must=tuple(draw(st.lists(st.sampled_from(left), max_size=2, unique=True))),
        accents=tuple(draw(st.lists(st.sampled_from(places), max_size=2, unique=True))),
        tails=tuple(draw(st.lists(tails, max_size=2, unique=True))),
    )


@st.composite
def problems(draw: st.DrawFn) -> tuple[Span, Meter, list[Reading], Rules]:
    span = draw(spans)
    where = find_meter(draw(st.sampled_from(["4/4", "3/4", "6/8", "7/8"])))
    found = draw(some_readings)
    names = sorted({one.figure.name for one in found})
    return span, where, found, draw(rules_for(names, span.length))


@settings(max_examples=300, deadline=None)
@given(problems(), st.integers(0, 2**32))
def test_count_best_and_draws_are_those_of_the_listing(
    problem: tuple[Span, Meter, list[Reading], Rules], seed: int
) -> None:
    span, where, found, rules = problem
    space = ChainSpace(span, where, found, rules)
    listed = brute(span, where, found, rules)
    assert space.count == len(listed)
    assert space.best(10) == tuple(listed[:10])
    assert space.best(len(listed) + 1) == tuple(listed)
    every = [space.at(rank) for rank in range(min(space.count, 200))]
    assert len(set(every)) == len(every)
    assert set(every) <= set(listed)
    assert set(space.draw(5, seed=seed)) <= set(listed)
    assert all(filling.cost == key(filling, distinct(found, rules), rules)[0] for filling in listed[:20])


@settings(max_examples=60, deadline=None)
@given(
    st.lists(st.sampled_from(load_rudiments()), min_size=1, max_size=3, unique=True),
    st.sampled_from(["4/4", "3/4", "6/8", "7/8"]),
    st.data(),
)
def test_rudiments_over_a_beat_are_counted_as_listed(
    figures: list[Figure], name: str, data: st.DataObject
) -> None:
    where = find_meter(name)
    found = [
        one for one in list_readings(figures, where) if one.length >= UNIT and one.length <= Fraction(3, 8)
    ]
    if not found:
        return
    span = Span(
        start=data.draw(st.sampled_from([Fraction(0), Fraction(1, 8), Fraction(1, 4)])), length=4 * UNIT
    )
    rules = data.draw(rules_for(sorted({one.figure.name for one in found}), span.length))
    known = {each.name: list_rhythms(each, where) for each in figures}
    made = [
        Reading(
            figure=with_rhythms(one.figure, known[one.figure.name]),
            lead=one.lead,
            lengths=one.lengths,
            rebarred=one.rebarred,
        )
        for one in found
    ]
    listed = brute(span, where, made, rules)
    space = ChainSpace(span, where, made, rules)
    assert space.count == len(listed)
    assert space.best(25) == tuple(listed[:25])


def with_rhythms(each: Figure, rhythms: tuple[Rhythm, ...]) -> Figure:
    """The figure with all its rhythms, so that a reading's can be found among them."""
    return replace(each, rhythms=rhythms)


BAR = Span(start=Fraction(3), length=4 * UNIT)
FAIR = [
    FREE,
    Rules(),
    Rules(most=1),
    Rules(most=2, tails=(Tail(kind=TailKind.KICK, length=UNIT),)),
    Rules(must=("flam",), accents=(Fraction(0),)),
    Rules(hands=False),
]


@pytest.mark.parametrize("rules", FAIR, ids=range(len(FAIR)))
def test_every_chain_is_drawn_as_often_as_any_other(rules: Rules) -> None:
    found = [
        one for one in EVERY if one.figure.name in ("tap", "flam", "late") and one.length in (UNIT, 2 * UNIT)
    ]
    space = ChainSpace(BAR, FOUR, found, rules)
    count = space.count
    assert 4 < count < 500
    each = 40
    drawn = Counter(space.draw(each * count, seed=20))
    assert set(drawn) == set(brute(BAR, FOUR, found, rules))
    chi_square = sum((number - each) ** 2 / each for number in drawn.values())
    freedom = count - 1
    # mean and standard deviation of chi-square are n and the root of 2n; four of them leave 1 in 10,000 or so
    assert abs(chi_square - freedom) < 4 * (2 * freedom) ** 0.5


@pytest.mark.parametrize("name", list_meters())
def test_notes_may_start_where_whole_repetitions_allow(name: str) -> None:
    where = find_meter(name)
    unit = 288
    grid = Grid(where, unit)
    lengths = [Fraction(1, n) for n in (4, 6, 8, 12, 16, 24, 32, 48)] + [Fraction(3, 16), Fraction(1, 18)]
    for place in range(int(where.bar * 96)):
        at = Fraction(place, 96)
        for pair in [(length,) for length in lengths] + list(combinations(lengths, 2)):
            span = Span(start=at, length=sum(pair, Fraction(0)))
            held = grid.holds(int(at * unit), tuple(int(length * unit) for length in pair))
            assert held == fits_span(Rhythm(name="", lengths=pair), span, where)
