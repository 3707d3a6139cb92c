"""Sticking text: what is read, what is refused, and the sentence that says why."""

from __future__ import annotations

import re

import pytest

from fillwright.errors import StickingError
from fillwright.music.sticking import format_slot, format_sticking, parse_sticking
from fillwright.music.stroke import Kind, Level, Limb, Slot, Stroke

ALLOWED = (
    "write R or L; lR for a flam, llR for a drag, > after it for an accent, "
    "( ) round it for a ghost note, z after it for a buzz, - for a rest."
)


def stroke(hand: str, kind: str = "single", level: str = "tap") -> Stroke:
    return Stroke(hand=Limb(hand), kind=Kind(kind), level=Level(level))


@pytest.mark.parametrize(
    ("word", "slot"),
    [
        ("R", stroke("R")),
        ("L", stroke("L")),
        ("lR", stroke("R", "flam")),
        ("rL>", stroke("L", "flam", "accent")),
        ("llR", stroke("R", "drag")),
        ("rrL>", stroke("L", "drag", "accent")),
        ("(R)", stroke("R", "single", "ghost")),
        ("(rL)", stroke("L", "flam", "ghost")),
        ("Lz", stroke("L", "buzz")),
        ("Rz>", stroke("R", "buzz", "accent")),
        ("(Rz)", stroke("R", "buzz", "ghost")),
    ],
)
def test_each_way_of_writing_a_stroke(word: str, slot: Stroke) -> None:
    assert parse_sticking(word) == (slot,)
    assert format_slot(slot) == word


def test_marks_may_stand_in_either_order_and_are_written_in_one() -> None:
    assert format_sticking(parse_sticking("R>z")) == "Rz>"


def test_a_rest_is_a_place_without_a_stroke() -> None:
    assert parse_sticking("R - L") == (stroke("R"), None, stroke("L"))
    assert format_slot(None) == "-"


def test_bars_and_commas_only_separate() -> None:
    assert parse_sticking("R L R R | L R L L") == parse_sticking("R,L,R,R,L,R,L,L")


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("", f"The sticking is empty; {ALLOWED}"),
        (" | , ", f"The sticking is empty; {ALLOWED}"),
        ("- -", 'The sticking "- -" has rests only; write at least one stroke.'),
        ("R x L", f'Stroke 2 of "R x L" is "x": it is not a stroke; {ALLOWED}'),
        ("RL", 'Stroke 1 of "RL" is "RL": put a space between strokes, as in R L R R.'),
        (
            "R l",
            'Stroke 2 of "R l" is "l": write a stroke with a capital, R or L; small letters are grace notes, '
            "as in lR.",
        ),
        ("R (L", 'Stroke 2 of "R (L" is "(L": write both brackets of a ghost note, as in (L).'),
        ("L) R", 'Stroke 1 of "L) R" is "L)": write both brackets of a ghost note, as in (L).'),
        ("(R>)", 'Stroke 1 of "(R>)" is "(R>)": it can\'t be both an accent and a ghost note; write > or ( ).'),
        ("R>>", 'Stroke 1 of "R>>" is "R>>": write each mark once.'),
        ("R L rR", 'Stroke 3 of "R L rR" is "rR": the other hand plays the grace notes; write lR.'),
        ("lL", 'Stroke 1 of "lL" is "lL": the other hand plays the grace notes; write rL.'),
        ("rlR", 'Stroke 1 of "rlR" is "rlR": the other hand plays the grace notes; write lR.'),
        ("lllR", 'Stroke 1 of "lllR" is "lllR": write one grace note for a flam or two for a drag.'),
        (
            "lRz",
            'Stroke 1 of "lRz" is "lRz": a buzz can\'t have grace notes; leave out the z or the small letters.',
        ),
    ],
)
def test_a_mistake_is_named(text: str, sentence: str) -> None:
    with pytest.raises(StickingError, match=f"^{re.escape(sentence)}$"):
        parse_sticking(text)


def test_512_strokes_are_read_and_513_are_not() -> None:
    assert len(parse_sticking("R " * 512)) == 512
    with pytest.raises(StickingError, match=r"^The sticking has 513 strokes; at most 512 can be read\.$"):
        parse_sticking("R " * 513)


@pytest.mark.parametrize("text", ["R " * 100 + "?", "R\n\n" * 100 + "?", "?" * 90_000])
def test_a_long_text_is_quoted_in_short_on_one_line(text: str) -> None:
    with pytest.raises(
        StickingError, match=r"^Stroke \d+ of \".{57}\.\.\.\" is \"\?{1,20}\": it is not"
    ) as caught:
        parse_sticking(text)
    assert len(str(caught.value)) < 300


def test_a_long_rest_is_quoted_in_short() -> None:
    with pytest.raises(
        StickingError, match=r'^The sticking "(- ){28}-\.\.\." has rests only; write at least one stroke'
    ):
        parse_sticking("- " * 300)


def test_slots_are_a_tuple() -> None:
    slots: tuple[Slot, ...] = parse_sticking("R L")
    assert isinstance(slots, tuple)
