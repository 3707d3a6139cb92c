"""Note values: reading, writing, and numbers of beats in words."""

from __future__ import annotations

import re
from fractions import Fraction

import pytest

from fillwright.errors import StickingError
from fillwright.music.notevalue import SUBDIVISIONS, format_beats, format_value, parse_values

VALUES = [f"{base}{mark}" for base in (1, 2, 4, 8, 16, 32) for mark in ("", "t", ".")]


@pytest.mark.parametrize("text", VALUES)
def test_every_value_is_written_as_it_is_read(text: str) -> None:
    (length,) = parse_values(text)
    assert format_value(length) == text


def test_three_of_a_triplet_last_as_long_as_two_plain_ones() -> None:
    for base in ("2", "4", "8", "16", "32"):
        assert sum(parse_values(f"{base}t {base}t {base}t")) == sum(parse_values(f"{base} {base}"))


def test_a_dot_adds_half() -> None:
    assert parse_values("4.") == (Fraction(1, 4) + Fraction(1, 8),)


def test_a_length_that_is_not_a_single_note_is_a_fraction() -> None:
    assert format_value(Fraction(5, 16)) == "5/16 of a whole note"


def test_subdivisions_go_from_slow_to_fast_and_each_is_one_value() -> None:
    lengths = list(SUBDIVISIONS.values())
    assert lengths == sorted(lengths, reverse=True)
    written = [format_value(length) for length in lengths]
    assert written == ["4", "8", "8t", "16", "16t", "32"]


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("", 'There are no note values; write for example "16 16 16 16".'),
        ("8 " * 513, "There are 513 note values; at most 512 can be read."),
        (
            "16 17",
            '"17" (value 2 of "16 17") is not a note value; '
            "write 1, 2, 4, 8, 16 or 32, with t for triplets or a dot.",
        ),
        (
            "8.. 4",
            '"8.." (value 1 of "8.. 4") is not a note value; '
            "write 1, 2, 4, 8, 16 or 32, with t for triplets or a dot.",
        ),
        (
            "9" * 5000,
            f'"{"9" * 20}" (value 1 of "{"9" * 40}") is not a note value; '
            "write 1, 2, 4, 8, 16 or 32, with t for triplets or a dot.",
        ),
    ],
)
def test_a_mistake_is_named(text: str, sentence: str) -> None:
    with pytest.raises(StickingError, match=f"^{re.escape(sentence)}$"):
        parse_values(text)


@pytest.mark.parametrize(
    ("beats", "words"),
    [
        ("0", "0 beats"),
        ("1/2", "½ beat"),
        ("1/6", "1/6 beat"),
        ("1", "1 beat"),
        ("5/4", "1¼ beats"),
        ("8/3", "2⅔ beats"),
        ("7/6", "7/6 beats"),
        ("4", "4 beats"),
    ],
)
def test_beats_are_formatted_as_a_drummer_says_them(beats: str, words: str) -> None:
    assert format_beats(Fraction(beats)) == words
