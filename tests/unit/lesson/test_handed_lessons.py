"""Left-handed lessons: words that name the player's own hands, fills as a right-handed player has them."""

from __future__ import annotations

import re

import pytest

from fillwright.errors import TableError
from fillwright.lesson.file import parse_lesson
from fillwright.lesson.fills import build_fills
from fillwright.pack.contents import name_files

HEAD = 'number = 1\ntitle = "Hands"\n'
FIGURE = '[[figure]]\nname = "single paradiddle"\n'


def sides(words: str) -> list[str]:
    return re.findall(r"\b(?:right|left)\b", words)


def test_captions_and_reasons_name_the_other_hand() -> None:
    right, left = (
        build_fills(parse_lesson(f'{HEAD}hand = "{hand}"\n{FIGURE}')).fills for hand in ("right", "left")
    )
    told = 0
    for one, other in zip(right, left, strict=True):
        for mine, theirs in ((one.caption, other.caption), (one.reason, other.reason)):
            exchanged = ["left" if side == "right" else "right" for side in sides(mine)]
            assert sides(theirs) == exchanged
            told += bool(exchanged)
    apart = next(fill for fill in left if fill.step.kind.value == "hands apart")
    assert apart.caption == "Whole bar, left hand on the floor tom, right hand on the snare"
    assert told > len(left)


def test_a_plan_stands_beside_the_fills_that_leave_the_snare() -> None:
    lesson = parse_lesson(f'{HEAD}{FIGURE}steps = ["whole bar", "hands apart"]\n')
    snare, apart = (name_files(lesson, fill) for fill in build_fills(lesson).fills)
    assert "plan.svg" not in snare
    assert apart["plan.svg"] == apart["svg"].replace(".svg", "-plan.svg")


@pytest.mark.parametrize(
    ("figure", "step"),
    [
        ("nine stroke roll", "round the kit"),
        ("seventeen stroke roll", "round the kit"),
        ("Swiss Army triplet", "accents to the toms"),
    ],
)
def test_a_left_handed_kit_named_is_the_one_a_left_handed_player_has_anyway(figure: str, step: str) -> None:
    def fills(kit: str) -> int:
        text = f'{HEAD}tempo = 90\nhand = "left"\n{kit}[[figure]]\nname = "{figure}"\nsteps = ["{step}"]\n'
        try:
            return len(build_fills(parse_lesson(text)).fills)
        except TableError:
            return -1

    assert fills('kit = "left-handed"\n') == fills("")


@pytest.mark.parametrize(
    "key", ["bars = 0", 'hand = "both"', 'kit = "four-pice"', 'level = "beginner"', "tempo = 0"]
)
def test_where_what_fills_stand_on_can_not_be_read_that_is_the_one_mistake(key: str) -> None:
    name, _, _ = key.partition(" ")
    with pytest.raises(TableError, match=rf"^lesson\.toml, line 3, {name}: [^\n]+$"):
        parse_lesson(f"{HEAD}{key}\n{FIGURE}")
