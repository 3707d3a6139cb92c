"""Places in the bar: reading them, and the words a player says."""

from __future__ import annotations

import re
from fractions import Fraction

import pytest

from fillwright.errors import CountError
from fillwright.music.counting import name_counts, parse_places
from fillwright.music.meter import find_meter
from fillwright.music.stroke import Level


def places(text: str, name: str = "4/4") -> list[str]:
    return [str(at) for at, _ in parse_places(text, find_meter(name))]


def test_parts_of_a_quarter() -> None:
    assert places("1 e & a") == ["0", "1/16", "1/8", "3/16"]
    assert places("2 trip let") == ["1/4", "1/3", "5/12"]


def test_a_part_belongs_to_the_count_last_named() -> None:
    assert places("3 a 4e &") == places("3 3a 4e 4&")
    assert places("& a") == places("1& 1a")


def test_eighths_are_counted_in_meters_over_eight() -> None:
    assert places("1 & 4 6&", "6/8") == ["0", "1/16", "3/8", "11/16"]


def test_levels() -> None:
    levels = [level for _, level in parse_places("1 2> (2a) &>", find_meter("4/4"))]
    assert levels == [Level.TAP, Level.ACCENT, Level.GHOST, Level.ACCENT]


@pytest.mark.parametrize(
    ("text", "name", "sentence"),
    [
        ("", "4/4", 'There are no places; write for example "1 & 2 & 3 & 4 &".'),
        ("1 x", "4/4", '"x" in "1 x" is not a place in the bar; write for example 2, 2&, 2a, 3trip or (2e).'),
        (">", "4/4", '">" in ">" is not a place in the bar; write for example 2, 2&, 2a, 3trip or (2e).'),
        ("(2", "4/4", '"(2" in "(2" is not a place in the bar; write for example 2, 2&, 2a, 3trip or (2e).'),
        ("2)", "4/4", '"2)" in "2)" is not a place in the bar; write for example 2, 2&, 2a, 3trip or (2e).'),
        ("(2>)", "4/4", '"(2>)" in "(2>)" can\'t be both an accent and a ghost note; write > or ( ).'),
        ("1 5", "4/4", '"5" in "1 5" is not in the bar; a bar of 4/4 has counts 1 to 4.'),
        ("0", "4/4", '"0" in "0" is not in the bar; a bar of 4/4 has counts 1 to 4.'),
        ("8", "7/8", '"8" in "8" is not in the bar; a bar of 7/8 has counts 1 to 7.'),
        ("2e", "6/8", '"2e" in "2e" is not a count of 6/8; write a number alone or with &.'),
        ("2 let", "6/8", '"let" in "2 let" is not a count of 6/8; write a number alone or with &.'),
        ("1 & 1&", "4/4", '"1&" in "1 & 1&" is written twice; write each place once.'),
        (
            "9" * 5000,
            "4/4",
            f'"{"9" * 20}" in "{"9" * 57}..." is not a place in the bar; '
            "write for example 2, 2&, 2a, 3trip or (2e).",
        ),
    ],
)
def test_a_mistake_is_named(text: str, name: str, sentence: str) -> None:
    with pytest.raises(CountError, match=f"^{re.escape(sentence)}$"):
        parse_places(text, find_meter(name))


def words(name: str, *at: str) -> str:
    return " ".join(word or "." for word in name_counts(find_meter(name), tuple(map(Fraction, at))))


def test_sixteenths_are_counted_with_e_and_a() -> None:
    assert words("4/4", "0", "1/16", "1/8", "3/16", "1/4") == "1 e & a 2"


def test_thirty_seconds_have_no_words() -> None:
    assert words("4/4", "0", "1/32", "1/16", "3/32") == "1 . e ."


def test_a_beat_of_six_is_said_as_two_triplets() -> None:
    assert words("4/4", *(f"{n}/24" for n in range(7))) == "1 trip let & trip let 2"


def test_each_beat_is_counted_in_its_own_subdivision() -> None:
    assert words("4/4", "0", "1/8", "1/4", "1/3", "5/12") == "1 & 2 trip let"


def test_sixteenths_in_six_eight_are_the_ands() -> None:
    assert words("6/8", "0", "1/16", "1/8", "3/32", "5/8") == "1 & . 2 6"


def test_no_places_no_words() -> None:
    assert name_counts(find_meter("4/4"), ()) == ()
