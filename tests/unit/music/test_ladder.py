"""Tempo ladders."""

from __future__ import annotations

import re

import pytest

from fillwright.errors import TempoError
from fillwright.music.ladder import MAX_RUNGS, parse_ladder


@pytest.mark.parametrize(
    ("text", "rungs"),
    [
        ("60..100 step 10", (60, 70, 80, 90, 100)),
        (" 60 .. 75   step  10 ", (60, 70, 75)),
        ("80..80 step 5", (80,)),
        ("60..100 step 500", (60, 100)),
        ("60, 72,84", (60, 72, 84)),
        ("60 72", (60, 72)),
        ("90", (90,)),
        ("20..400 step 10", (*range(20, 400, 10), 400)),
    ],
)
def test_ladders_that_climb(text: str, rungs: tuple[int, ...]) -> None:
    assert parse_ladder(text) == rungs


def test_the_longest_ladder() -> None:
    assert len(parse_ladder(f"60..{60 + MAX_RUNGS - 1} step 1")) == MAX_RUNGS


WRONG_TEXT = "is not a tempo ladder; write for example 60..100 step 5, or 60, 72, 84."


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("", f'"" {WRONG_TEXT}'),
        ("slow to fast", f'"slow to fast" {WRONG_TEXT}'),
        ("60..100", f'"60..100" {WRONG_TEXT}'),
        ("60.5", f'"60.5" {WRONG_TEXT}'),
        ("-60", f'"-60" {WRONG_TEXT}'),
        ("٦٠", f'"٦٠" {WRONG_TEXT}'),
        ("6" * 5000, f'"{"6" * 40}" {WRONG_TEXT}'),
        (
            "100..60 step 5",
            'The tempo ladder "100..60 step 5" does not rise; write for example 60..100 step 5.',
        ),
        (
            "60..100 step 0",
            'The tempo ladder "60..100 step 0" does not rise; write for example 60..100 step 5.',
        ),
        ("60 60", 'The tempo ladder "60 60" does not rise; write each tempo faster than the one before.'),
        ("72, 60", 'The tempo ladder "72, 60" does not rise; write each tempo faster than the one before.'),
        ("10..60 step 5", "A tempo of 10 bpm can't be played; use 20 to 400 bpm."),
        ("60..401 step 5", "A tempo of 401 bpm can't be played; use 20 to 400 bpm."),
        ("60, 500", "A tempo of 500 bpm can't be played; use 20 to 400 bpm."),
        ("60..100 step 1", "The tempo ladder has 41 tempos; use at most 40."),
        (" ".join(map(str, range(60, 102))), "The tempo ladder has 42 tempos; use at most 40."),
    ],
)
def test_a_text_that_is_not_a_ladder_is_refused(text: str, sentence: str) -> None:
    with pytest.raises(TempoError, match=f"^{re.escape(sentence)}$"):
        parse_ladder(text)
