"""Meters: bars, beats, and the last beats of a bar."""

from __future__ import annotations

import re
from fractions import Fraction

import pytest

from fillwright.errors import UnknownNameError
from fillwright.music.meter import find_meter, list_meters


@pytest.mark.parametrize("name", list_meters())
def test_a_bar_is_as_long_as_its_signature_says(name: str) -> None:
    found = find_meter(name)
    assert found.bar == Fraction(found.numerator, found.denominator)
    assert f"{found.numerator}/{found.denominator}" == name


@pytest.mark.parametrize("name", list_meters())
def test_beats_follow_each_other_and_fill_the_bar(name: str) -> None:
    found = find_meter(name)
    ends = [start + beat for start, beat in zip(found.beat_starts, found.beats, strict=True)]
    assert (*found.beat_starts, found.bar) == (0, *ends)


@pytest.mark.parametrize(
    ("name", "unit", "in_three", "eighths"),
    [
        ("4/4", "1/4", False, False),
        ("5/4", "1/4", False, False),
        ("6/8", "3/8", True, True),
        ("12/8", "3/8", True, True),
        ("7/8", "1/4", False, True),
    ],
)
def test_a_meter_has_a_tempo_unit_and_counts(name: str, unit: str, in_three: bool, eighths: bool) -> None:
    found = find_meter(name)
    assert found.tempo_unit == Fraction(unit)
    assert found.counts_in_three is in_three
    assert found.counts_eighths is eighths


@pytest.mark.parametrize(
    ("name", "beats", "length"),
    [
        ("4/4", "1", "1/4"),
        ("4/4", "5/2", "5/8"),
        ("4/4", "4", "1"),
        ("4/4", "9/2", "9/8"),
        ("6/8", "1", "3/8"),
        ("6/8", "3/2", "9/16"),
        ("7/8", "1", "3/8"),
        ("7/8", "3/2", "1/2"),
        ("7/8", "4", "10/8"),
    ],
)
def test_last_beats(name: str, beats: str, length: str) -> None:
    found = find_meter(name)
    assert found.measure_beats(Fraction(beats)) == Fraction(length)
    assert found.count_beats(Fraction(length)) == Fraction(beats)


@pytest.mark.parametrize(
    ("name", "sentence"),
    [
        ("4/5", 'There is no meter called "4/5"; did you mean '),
        ("zz", 'There is no meter called "zz"; use one of: 2/4, 3/4, 4/4, 5/4, 7/8, 6/8, 9/8, 12/8.'),
    ],
)
def test_an_unknown_meter_is_refused(name: str, sentence: str) -> None:
    with pytest.raises(UnknownNameError, match=f"^{re.escape(sentence)}"):
        find_meter(name)
