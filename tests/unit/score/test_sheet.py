"""What goes on a sheet: which notes have words below them, and which words."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction
from typing import Any

import pytest

from fillwright.craft.chains.chain import fill_span
from fillwright.craft.rudiment_sheet import build_sheet_phrase
from fillwright.music.grooves import find_groove
from fillwright.music.hit import Hit
from fillwright.music.meter import find_meter
from fillwright.music.phrase import Bar, Fill, Part, Phrase, build_landing, build_phrase, locate_last_beats
from fillwright.music.rudiments import find_figure
from fillwright.music.sticking import parse_sticking
from fillwright.music.stroke import Limb, Stroke
from fillwright.music.surfaces import find_surface
from fillwright.score.sheet import Sheet, spell_graces, spell_hands
from fillwright.score.written import Note


def sheet(name: str = "single paradiddle", beats: str = "2", *, bars: int = 2, **words: Any) -> Sheet:
    groove = find_groove("straight eighths")
    figure = find_figure(name)
    span = locate_last_beats(groove.meter, bars, Fraction(beats))
    chain = fill_span(figure, figure.rhythms[0], span, groove.meter, lead=Limb.RIGHT)
    fill = Fill(span=span, hits=chain.hits())
    played = build_phrase(groove, fill, bars=bars, land=build_landing(groove.meter, Limb.RIGHT))
    return replace(Sheet(phrase=played), **words)


def words(pairs: Sequence[tuple[Note, str]]) -> str:
    return " ".join(word for _, word in pairs)


def note(*strokes: str) -> Note:
    hits = tuple(
        Hit(at=Fraction(0), length=Fraction(1, 4), stroke=stroke, surface=find_surface("snare"))
        for stroke in map(read, strokes)
    )
    return Note(id="b1h0-1", at=Fraction(0), length=Fraction(1, 4), value=4, dots=0, hits=hits)


def read(text: str) -> Stroke:
    (stroke,) = parse_sticking(text)
    assert stroke
    return stroke


def test_hands_are_below_the_fill_and_the_landing_and_not_below_the_groove() -> None:
    assert words(list(sheet().stickings())) == "R L R R L R L L R"


def test_counts_are_below_the_fill_and_the_landing() -> None:
    assert words(list(sheet().counts())) == "3 e & a 4 e & a 1"


def test_either_row_may_be_left_out() -> None:
    assert list(sheet(sticking=False).stickings()) == []
    assert list(sheet(counting=False).counts()) == []


def test_a_phrase_without_a_span_is_all_taught() -> None:
    alone = Sheet(phrase=build_sheet_phrase(find_figure("flam accent")))
    assert words(list(alone.stickings())) == "R L R L R L"
    assert words(list(alone.counts())) == "1 trip let 2 trip let"


def test_a_cue_is_written_in_place_of_the_count_and_the_landing_is_counted() -> None:
    cued = sheet(cue=("pa", "ra", "did", "dle"))
    assert words(list(cued.counts())) == "pa ra did dle pa ra did dle 1"


def test_an_empty_word_of_a_cue_is_not_written() -> None:
    assert words(list(sheet(cue=("pa", "", "did", "")).counts())) == "pa did pa did 1"


def test_a_cue_is_written_only_where_there_is_a_span() -> None:
    alone = Sheet(phrase=build_sheet_phrase(find_figure("single paradiddle")), cue=("pa", "ra", "did", "dle"))
    assert words(list(alone.counts())) == "1 e & a 2 e & a"


def test_a_cue_goes_on_over_the_bar_line() -> None:
    long = sheet("nine stroke roll", "6", cue=tuple("abcdefghi"))
    assert words(list(long.counts())) == "a b c d e f g h i " * 3 + "1"


def test_places_without_a_count_have_no_word() -> None:
    assert words(list(sheet("five stroke roll", "1").counts())) == "4 e & 1"


@pytest.mark.parametrize(("first", "repeats"), [(1, [False, True, True]), (2, [False, True]), (3, [False])])
def test_a_bar_is_a_repeat_unless_it_is_the_first_engraved(first: int, repeats: list[bool]) -> None:
    shown = sheet(bars=4, from_bar=first)
    groove = [bar for bar in shown.bars() if bar.bar.part is Part.GROOVE]
    assert [shown.is_repeat(bar) for bar in groove] == repeats


def test_bars_are_written_from_the_first_engraved() -> None:
    assert [bar.number for bar in sheet(bars=4, from_bar=3).bars()] == [3, 4, 5]


def test_the_notes_of_the_fill_are_those_inside_its_span() -> None:
    assert [note.at for note in sheet().select_fill()] == [Fraction(n, 16) for n in range(8, 16)]
    assert [note.id[:3] for note in sheet(beats="8").select_fill()] == ["b1h"] * 16 + ["b2h"] * 16


def test_every_place_of_a_beat_is_given_the_room_of_its_widest_word() -> None:
    sheets = sheet("flam accent", "2")
    fill = sheets.bars()[1]
    room = sheets.roomy_words(fill)
    assert sorted(room) == sorted(sheets.words(fill))
    assert set(room.values()) == {"trip"}


def test_a_sheet_written_twice_is_written_once() -> None:
    sheets = sheet()
    assert sheets.bars()[0] is sheets.bars()[0]
    assert replace(sheets, label="Fill").bars() == sheets.bars()


@pytest.mark.parametrize(
    ("strokes", "letters"), [(("R",), "R"), (("L",), "L"), (("L", "R"), "RL"), (("R", "R"), "R")]
)
def test_hands_of_a_note(strokes: tuple[str, ...], letters: str) -> None:
    assert spell_hands(note(*strokes)) == letters


@pytest.mark.parametrize(
    ("strokes", "letters"),
    [
        (("R",), ()),
        (("lR",), ("l",)),
        (("rL>",), ("r",)),
        (("llR",), ("l", "l")),
        (("R", "rL"), ("r",)),
        (("Rz",), ()),
    ],
)
def test_letters_of_grace_notes(strokes: tuple[str, ...], letters: tuple[str, ...]) -> None:
    assert spell_graces(note(*strokes)) == letters


def test_an_empty_bar_has_no_words() -> None:
    empty = Sheet(phrase=Phrase(meter=find_meter("4/4"), bars=(Bar(part=Part.FILL, hits=()),)))
    assert list(empty.stickings()) == list(empty.counts()) == []
