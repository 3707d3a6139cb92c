"""The table of rudiments, their names, and rhythms in words."""

from __future__ import annotations

import re
from fractions import Fraction

import pytest

from fillwright.errors import StickingError, UnknownNameError
from fillwright.music.figure import Figure
from fillwright.music.rudiments import (
    GROUPS,
    find_figure,
    load_rudiments,
    name_rhythm,
    normalize_name,
    parse_rhythm,
)
from fillwright.music.sticking import parse_sticking

ALL = pytest.mark.parametrize("figure", load_rudiments(), ids=lambda figure: figure.name)


@ALL
def test_a_rudiment_is_complete(figure: Figure) -> None:
    assert figure.group in GROUPS
    assert figure.rhythms
    assert all(len(way.lengths) == len(figure.strokes) for way in figure.rhythms)


@ALL
def test_its_own_feel_comes_first(figure: Figure) -> None:
    order = [way.rebarred for way in figure.rhythms]
    assert order == sorted(order)
    assert not order[0]


@ALL
def test_no_rhythm_is_listed_twice(figure: Figure) -> None:
    assert len({way.lengths for way in figure.rhythms}) == len(figure.rhythms)


def test_every_name_and_alias_leads_to_one_rudiment() -> None:
    names = [normalize_name(name) for figure in load_rudiments() for name in (figure.name, *figure.aliases)]
    assert len(set(names)) == len(names)
    for figure in load_rudiments():
        assert all(find_figure(name) is figure for name in (figure.name, *figure.aliases))


@pytest.mark.parametrize("written", ["Flam-Accent", " flam  accent ", "FLAM_ACCENT"])
def test_spelling_of_a_name_does_not_matter(written: str) -> None:
    assert find_figure(written).name == "flam accent"


def test_a_teachers_own_figure_comes_before_the_rudiment_of_that_name() -> None:
    own = Figure(name="Flam", group="own", strokes=parse_sticking("R"), rhythms=(parse_rhythm("4", 1),))
    assert find_figure("flam", (own,)) is own
    assert find_figure("drag", (own,)).sheet == 31


@pytest.mark.parametrize(
    ("name", "written", "sentence"),
    [
        ("paradidle", (), 'There is no figure called "paradidle"; did you mean "paradiddle"?'),
        ("my ow", ("my own",), 'There is no figure called "my ow"; did you mean "my own"?'),
        ("%%%", (), 'There is no figure called "%%%"; use one of: single stroke roll, singles, '),
    ],
)
def test_an_unknown_figure_is_refused(name: str, written: tuple[str, ...], sentence: str) -> None:
    figures = [
        Figure(name=n, group="own", strokes=parse_sticking("R"), rhythms=(parse_rhythm("4", 1),))
        for n in written
    ]
    with pytest.raises(UnknownNameError, match=f"^{re.escape(sentence)}"):
        find_figure(name, figures)


@pytest.mark.parametrize(
    ("text", "places", "name"),
    [
        ("16", 4, "sixteenths"),
        ("16t", 6, "sextuplets"),
        ("4 4", 2, "quarters"),
        ("32 32 32 32 8", 5, "four thirty-seconds and an eighth"),
        ("16 32 32 16", 4, "a sixteenth, two thirty-seconds and a sixteenth"),
        ("8.", 3, "three dotted eighths"),
        ("32t", 1, "a thirty-second-triplet"),
        ("4 2. 2.", 3, "a quarter and two dotted halves"),
        ("2 2 1", 3, "two halves and a whole"),
        ("32 " * 17 + "4", 18, "seventeen thirty-seconds and a quarter"),
    ],
)
def test_a_rhythm_is_named_as_a_drummer_says_it(text: str, places: int, name: str) -> None:
    made = parse_rhythm(text, places)
    assert made.name == name
    assert len(made.lengths) == places
    assert not made.rebarred


def test_a_length_that_is_not_a_single_note_has_a_name() -> None:
    odd = Fraction(9, 32)
    assert name_rhythm((odd, Fraction(1, 8))).name == "9/32 of a whole note and an eighth"
    assert name_rhythm((odd, odd)).name == "2 times 9/32 of a whole note"


def test_a_rebarred_rhythm_is_marked() -> None:
    assert parse_rhythm("16", 3, rebarred=True).rebarred
    assert name_rhythm((Fraction(1, 12),) * 3, rebarred=True).name == "triplets"


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        (
            "16 16 8",
            'The rhythm "16 16 8" has 3 note values for 4 strokes; write one for all of them, or one for each.',
        ),
        ("16 x", '"x" (value 2 of "16 x") is not a note value; '),
        (
            "16 " * 500,
            f'The rhythm "{("16 " * 500)[:40]}" has 500 note values for 4 strokes; '
            "write one for all of them, or one for each.",
        ),
    ],
)
def test_a_rhythm_that_does_not_fit_is_refused(text: str, sentence: str) -> None:
    with pytest.raises(StickingError, match=f"^{re.escape(sentence)}"):
        parse_rhythm(text, 4)
