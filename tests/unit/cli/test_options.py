"""Arguments that commands share."""

from __future__ import annotations

import argparse
from fractions import Fraction

import pytest

from fillwright.cli.options import number, print_json


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("2", "2"),
        ("2.5", "5/2"),
        ("5/2", "5/2"),
        (" 3 ", "3"),
        (".5", "1/2"),
        ("-1", "-1"),
        ("0.667", "667/1000"),
    ],
)
def test_a_number_as_a_player_writes_it(text: str, value: str) -> None:
    assert number(text) == Fraction(value)


@pytest.mark.parametrize(
    "text",
    [
        "abc",
        "",
        "-",
        ".",
        "nan",
        "inf",
        "1/0",
        "1e5",
        "1e999999999",
        "1_000",
        "²",
        "٣",
        "1.2.3",
        "1/2/3",
        "9" * 5000,
    ],
)
def test_anything_else_is_no_number(text: str) -> None:
    with pytest.raises(argparse.ArgumentTypeError, match=r"is not a number such as 2, 2\.5 or 2/3$"):
        number(text)


def test_json_keeps_its_letters(capsys: pytest.CaptureFixture[str]) -> None:
    print_json({"name": "½"})
    assert capsys.readouterr().out == '{\n "name": "½"\n}\n'
