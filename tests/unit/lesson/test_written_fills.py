"""[[fill]] tables: what a teacher writes, in its place among the fills that are worked out."""

from __future__ import annotations

import tomllib
from fractions import Fraction

import pytest

from fillwright.craft.written_fills import WrittenFill, write_fill
from fillwright.errors import StickingError, TableError, UnknownNameError
from fillwright.lesson.file import parse_lesson, read_demo_text
from fillwright.lesson.fills import build_fills
from fillwright.lesson.written_fills import MOST_FILLS, format_fill, format_fill_values, read_fill
from fillwright.music.rudiments import parse_rhythm
from fillwright.music.sticking import parse_sticking
from fillwright.music.stroke import Limb

HEAD = 'number = 1\ntitle = "Mine"\n'
FIGURES = """
[[figure]]
name = "single paradiddle"
steps = ["last beat", "whole bar"]

[[figure]]
name = "flam tap"
steps = ["last two beats"]
"""


def fill(name: str = "knock", **changed: str) -> str:
    keys = {"beats": "1", "sticking": '"R L R L"', "rhythm": '"16"', "on": '"snare"'} | changed
    return f'\n[[fill]]\nname = "{name}"\n' + "".join(f"{key} = {value}\n" for key, value in keys.items())


def names(text: str) -> list[str]:
    return [one.name for one in build_fills(parse_lesson(text)).fills]


WORKED_OUT = ["single-paradiddle-last-beat", "single-paradiddle-whole-bar", "flam-tap-last-2-beats"]


def test_a_fill_follows_those_of_the_last_figure_or_of_the_one_it_names():
    assert names(HEAD + FIGURES + fill()) == [*WORKED_OUT, "knock"]
    for name in ("Single Paradiddle", "paradiddle"):
        named = HEAD + FIGURES + fill(figure=f'"{name}"')
        assert names(named) == [*WORKED_OUT[:2], "knock", WORKED_OUT[2]]


def test_fills_are_left_out_and_put_in_order_within_their_figure():
    keys = 'leave_out = ["single-paradiddle-last-beat"]\norder = ["knock", "flam-tap-last-2-beats"]\n'
    text = HEAD + keys + FIGURES + fill()
    assert names(text) == ["single-paradiddle-whole-bar", "knock", "flam-tap-last-2-beats"]
    assert [one.number for one in build_fills(parse_lesson(text)).fills] == [1, 2, 3]
    assert build_fills(parse_lesson(text)).left_out == ()


def test_an_unknown_fill_name_is_reported():
    text = HEAD + 'leave_out = ["gone"]\norder = ["lost"]\n' + FIGURES
    assert [sentence.partition(":")[0] for sentence in build_fills(parse_lesson(text)).left_out] == [
        "gone",
        "lost",
    ]


def test_short_names_are_unlike_each_other_and_those_worked_out_keep_theirs():
    taken = "Single paradiddle, last beat"
    mine = "".join(fill(name, figure='"single paradiddle"') for name in ("A", "a", "a 2", taken, "?"))
    ours = fill("Flam tap: last 2 beats", figure='"single paradiddle"')
    made = build_fills(parse_lesson(HEAD + FIGURES + mine + ours)).fills
    found = [one.name for one in made]
    assert len({*found}) == len(found) == 9
    assert [one.name for one in made if one.own is None] == WORKED_OUT
    assert [one.own for one in made if one.own is not None] == [0, 1, 2, 3, 4, 5]


def test_one_surface_serves_for_all_strokes():
    (one,) = parse_lesson(HEAD + FIGURES + fill(on='"high tom"')).own_fills
    assert (one.part, one.fill.on) == (1, ("high tom",) * 4)


def test_a_left_handed_lesson_mirrors_a_fill_as_it_does_the_others():
    text = HEAD + 'hand = "left"\n' + FIGURES + fill(on='"snare, snare, high tom, floor tom"')
    made = build_fills(parse_lesson(text)).fills[-1]
    right = build_fills(parse_lesson(text.replace('"left"', '"right"'))).fills[-1]
    hands = [hit.stroke.hand for hit in made.phrase.mirror().hits()]
    assert hands == [hit.stroke.hand for hit in right.phrase.hits()]
    assert made.step.route.hits == right.step.route.hits
    assert made.mirrored
    assert made.step.route.hits[0].stroke.hand is Limb.RIGHT


def test_a_fill_is_played_to_its_own_ceiling():
    text = HEAD + 'tempo = "60..200 step 20"\n' + FIGURES
    quick = fill(sticking='"R R R R"', on='"snare, floor tom, snare, floor tom"')
    made = build_fills(parse_lesson(text + quick)).fills[-1]
    assert made.ceiling is not None
    assert max(made.ladder) <= made.ceiling < 200


def test_more_fills_than_a_lesson_has_are_refused():
    with pytest.raises(
        TableError, match=f"There are {MOST_FILLS + 1} fills; a lesson has at most {MOST_FILLS}"
    ):
        parse_lesson(HEAD + FIGURES + "".join(fill(f"f{number}") for number in range(MOST_FILLS + 1)))


DEMO = parse_lesson(read_demo_text())


@pytest.mark.parametrize("one", build_fills(DEMO).fills, ids=lambda one: one.slug)
def test_every_fill_of_the_demo_is_read_back_from_its_texts(one):
    beats = one.phrase.meter.count_beats(one.step.route.span.length)
    written = write_fill(one.step.route, name='my "own" \\ ü', beats=beats)
    texts = format_fill_values(written)
    read = read_fill(
        written.name,
        beats=Fraction(texts["beats"]),
        sticking=texts["sticking"],
        values=texts["rhythm"],
        on=texts["on"],
    )
    assert read == written
    figure = one.step.figure.name
    table = tomllib.loads(format_fill(written, figure))["fill"][0]
    assert (table["name"], table["figure"]) == (written.name, figure)
    text = read_demo_text() + "\n" + format_fill(written, figure)
    assert parse_lesson(text).own_fills[0].fill == written


def test_texts_that_can_not_be_read_are_reported():
    good = {"beats": Fraction(1), "sticking": "R L R L", "values": "16", "on": "snare"}
    with pytest.raises(StickingError, match="note values"):
        read_fill("x", **good | {"values": "16 16 16 16 16"})
    with pytest.raises(StickingError, match="X"):
        read_fill("x", **good | {"sticking": "R X R L"})
    with pytest.raises(UnknownNameError, match="snar"):
        read_fill("x", **good | {"on": "snar"})


def test_values_and_surfaces_that_are_all_alike_are_written_once():
    made = WrittenFill(
        name="x",
        beats=Fraction(1),
        slots=parse_sticking("R L R L"),
        rhythm=parse_rhythm("16", 4),
        on=("snare",) * 4,
    )
    assert format_fill_values(made) == {"beats": "1", "rhythm": "16", "sticking": "R L R L", "on": "snare"}
