"""Numbers of chains against sequences that everybody can look up.

A chain of pieces of given lengths is what mathematics calls a composition; with hands dropped and one figure
for each length, their numbers are known.

Source: On-Line Encyclopedia of Integer Sequences (A000045, A000073, A011782; terms from memory)
"""

from __future__ import annotations

from fractions import Fraction

import pytest

from fillwright.craft.chains.readings import Reading
from fillwright.craft.chains.rules import Rules
from fillwright.craft.chains.space import ChainSpace
from fillwright.music.figure import Figure
from fillwright.music.meter import find_meter
from fillwright.music.phrase import Span
from fillwright.music.sticking import parse_sticking
from fillwright.music.stroke import Limb

UNIT = Fraction(1, 32)
FOUR = find_meter("4/4")
NO_HANDS = Rules(hands=False)

FIBONACCI = (1, 2, 3, 5, 8, 13, 21, 34, 55, 89, 144, 233, 377, 610, 987, 1597)
TRIBONACCI = (1, 2, 4, 7, 13, 24, 44, 81, 149, 274, 504, 927, 1705, 3136, 5768, 10609)


def strokes(number: int) -> tuple[Reading, ...]:
    """A figure of so many thirty-seconds, from both leads."""
    figure = Figure(name=f"{number}", group="own", strokes=parse_sticking("R L " * number)[:number], rhythms=())
    lengths = (UNIT,) * number
    return tuple(Reading(figure=figure, lead=lead, lengths=lengths) for lead in (Limb.RIGHT, Limb.LEFT))


def count(numbers: range, length: int, rules: Rules = NO_HANDS, start: Fraction = Fraction(0)) -> int:
    """How many chains of figures of so many thirty-seconds fill so many of them."""
    readings = [reading for number in numbers for reading in strokes(number)]
    return ChainSpace(Span(start=start, length=length * UNIT), FOUR, readings, rules).count


@pytest.mark.parametrize("length", range(1, 17))
def test_pieces_of_one_and_two_make_the_fibonacci_numbers(length: int) -> None:
    assert count(range(1, 3), length) == FIBONACCI[length - 1]


@pytest.mark.parametrize("length", range(1, 17))
def test_pieces_of_one_two_and_three_make_the_tribonacci_numbers(length: int) -> None:
    assert count(range(1, 4), length) == TRIBONACCI[length - 1]


@pytest.mark.parametrize("length", range(1, 17))
def test_pieces_of_every_length_make_the_powers_of_two(length: int) -> None:
    assert count(range(1, length + 1), length) == 2 ** (length - 1)


def test_the_start_of_the_span_changes_nothing_for_straight_pieces() -> None:
    assert {count(range(1, 3), 12, start=place * UNIT) for place in range(40)} == {FIBONACCI[11]}


def test_eight_bars_are_counted_to_the_last_digit() -> None:
    """The recurrence of Fibonacci, 256 places long: 54 digits, far beyond what a float holds."""
    before, number = 1, 1
    for _ in range(255):
        before, number = number, before + number
    assert count(range(1, 3), 256) == number
    assert count(range(1, 257), 256) == 2**255


def test_hands_that_alternate_leave_only_the_first_lead_to_choose() -> None:
    assert count(range(1, 3), 16, Rules()) == 2 * FIBONACCI[15]


def test_hands_without_rules_double_every_piece() -> None:
    """Compositions whose pieces come in two colours: 2 and then 2 times as many plus 2 times the one before."""
    pieces = [1, 2]
    while len(pieces) < 17:
        pieces.append(2 * pieces[-1] + 2 * pieces[-2])
    assert count(range(1, 3), 16, Rules(alternate=False)) == pieces[16]
