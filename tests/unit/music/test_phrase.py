"""Phrases: spans, the groove round a fill, and the landing."""

from __future__ import annotations

import re
from fractions import Fraction

import pytest

from fillwright.errors import FillwrightError, FitError, SpanError, UnknownNameError
from fillwright.music.grooves import find_groove
from fillwright.music.hit import Hit
from fillwright.music.meter import find_meter
from fillwright.music.phrase import (
    MAX_BARS,
    Fill,
    Part,
    Phrase,
    Span,
    build_landing,
    build_phrase,
    locate_last_beats,
)
from fillwright.music.stroke import Level, Limb, Stroke
from fillwright.music.surfaces import find_surface

FOUR = find_meter("4/4")
EIGHTHS = find_groove("straight eighths")


def fill(start: str, length: str, *places: str) -> Fill:
    hits = tuple(
        Hit(
            at=Fraction(at),
            length=Fraction(1, 16),
            stroke=Stroke(hand=Limb.RIGHT),
            surface=find_surface("high tom"),
        )
        for at in places
    )
    return Fill(span=Span(start=Fraction(start), length=Fraction(length)), hits=hits)


def hands(bar_hits: tuple[Hit, ...]) -> list[tuple[str, str]]:
    return [(str(h.at), h.surface.name) for h in bar_hits if not h.stroke.hand.is_foot]


def test_a_span_ends_where_the_landing_falls() -> None:
    assert locate_last_beats(FOUR, 4, Fraction(4)) == Span(start=Fraction(3), length=Fraction(1))
    assert locate_last_beats(FOUR, 4, Fraction(4)).end == 4


def test_a_span_may_start_off_the_beat_or_a_bar_early() -> None:
    assert locate_last_beats(find_meter("7/8"), 2, Fraction(1, 2)).start == Fraction(14, 8) - Fraction(3, 16)
    assert locate_last_beats(FOUR, 4, Fraction(6)).start == Fraction(5, 2)


@pytest.mark.parametrize(
    ("bars", "beats", "sentence"),
    [
        (0, "1", "A phrase of 0 bars can't be written; use 1 to 64."),
        (65, "1", "A phrase of 65 bars can't be written; use 1 to 64."),
        (
            1,
            "5",
            "A fill of 5 beats does not fit in 1 bar of 4/4; use more than 0 and at most 4 beats.",
        ),
        (
            1,
            "0",
            "A fill of 0 beats does not fit in 1 bar of 4/4; use more than 0 and at most 4 beats.",
        ),
    ],
)
def test_spans_that_can_not_be(bars: int, beats: str, sentence: str) -> None:
    with pytest.raises(SpanError, match=f"^{re.escape(sentence)}$"):
        locate_last_beats(FOUR, bars, Fraction(beats))


def test_groove_alone() -> None:
    made = build_phrase(EIGHTHS, None)
    assert [bar.part for bar in made.bars] == [Part.GROOVE] * 4
    assert all(bar.hits == EIGHTHS.hits for bar in made.bars)
    assert made.length == 4
    assert not made.is_in_fill(Fraction(7, 2))


def test_groove_fill_and_landing() -> None:
    made = build_phrase(EIGHTHS, fill("7/2", "1/2", "0", "1/4"), land=build_landing(FOUR, Limb.LEFT))
    assert [bar.part.value for bar in made.bars] == ["groove", "groove", "groove", "fill", "landing"]
    assert hands(made.bars[3].hits)[-3:] == [("3/8", "hi-hat"), ("1/2", "high tom"), ("3/4", "high tom")]
    assert made.bars[4].hits == build_landing(FOUR, Limb.LEFT)
    assert [made.is_in_fill(Fraction(at)) for at in ("27/8", "7/2", "31/8", "4")] == [False, True, True, False]
    assert made.length == 5


def test_the_groove_goes_on_after_a_fill_that_ends_early() -> None:
    made = build_phrase(EIGHTHS, fill("1/4", "1/4", "0"), bars=1)
    assert [at for at, _ in hands(made.bars[0].hits)] == ["0", "1/8", "1/4", "1/2", "5/8", "3/4", "3/4", "7/8"]
    assert made.bars[0].part is Part.FILL


def test_a_fill_over_the_bar_line_makes_two_bars_of_fill() -> None:
    made = build_phrase(EIGHTHS, fill("1/2", "1", "0", "1/2"), bars=2)
    assert [bar.part for bar in made.bars] == [Part.FILL, Part.FILL]
    assert ("0", "high tom") in hands(made.bars[1].hits)


def test_a_groove_stroke_is_cut_where_the_fill_starts() -> None:
    made = build_phrase(EIGHTHS, fill("7/16", "9/16", "0"), bars=1)
    hats = [h for h in made.bars[0].hits if h.surface.name == "hi-hat"]
    assert [str(h.length) for h in hats] == ["1/8", "1/8", "1/8", "1/16"]


def test_hits_are_placed_from_the_start_of_the_phrase() -> None:
    made = build_phrase(EIGHTHS, None, bars=2)
    hits = list(made.hits())
    assert hits[len(EIGHTHS.hits) :] == [hit.shift(Fraction(1)) for hit in EIGHTHS.hits]


@pytest.mark.parametrize(
    ("made", "bars", "sentence"),
    [
        (
            fill("1/2", "1", "0"),
            1,
            "A fill from 1/2 to 3/2 whole notes does not fit in 1 bar of 4/4; "
            "it must start before it ends, between 0 and 1.",
        ),
        (
            fill("-1", "1", "0"),
            4,
            "A fill from -1 to 0 whole notes does not fit in 4 bars of 4/4; "
            "it must start before it ends, between 0 and 4.",
        ),
        (
            fill("1", "0"),
            4,
            "A fill from 1 to 1 whole notes does not fit in 4 bars of 4/4; "
            "it must start before it ends, between 0 and 4.",
        ),
        (
            fill("3", "1", "0", "1"),
            4,
            "A stroke on the high tom is 1 whole notes into a fill of 1; every stroke must be inside the fill.",
        ),
        (
            fill("3", "1", "-1/4"),
            4,
            "A stroke on the high tom is -1/4 whole notes into a fill of 1; "
            "every stroke must be inside the fill.",
        ),
        (None, 0, "A phrase of 0 bars can't be written; use 1 to 64."),
        (None, MAX_BARS + 1, "A phrase of 65 bars can't be written; use 1 to 64."),
    ],
)
def test_a_fill_outside_its_phrase_is_refused(made: Fill | None, bars: int, sentence: str) -> None:
    with pytest.raises(SpanError, match=f"^{re.escape(sentence)}$"):
        build_phrase(EIGHTHS, made, bars=bars)


def test_a_landing_is_accented_by_the_hand_and_not_by_the_foot() -> None:
    crash, kick = build_landing(find_meter("6/8"), Limb.LEFT)
    assert (crash.surface.name, crash.stroke.hand, crash.stroke.level) == ("crash", Limb.LEFT, Level.ACCENT)
    assert (kick.surface.name, kick.stroke.hand, kick.stroke.level) == ("kick", Limb.RIGHT_FOOT, Level.TAP)
    assert crash.length == kick.length == Fraction(3, 8)


def test_a_second_surface_falls_to_the_other_hand() -> None:
    hits = build_landing(FOUR, Limb.LEFT, ("kick", "crash", "snare"))
    assert [h.stroke.hand for h in hits] == [Limb.RIGHT_FOOT, Limb.LEFT, Limb.RIGHT]


def test_the_landing_bar_is_in_order_from_the_top_of_the_staff() -> None:
    made = build_phrase(EIGHTHS, None, bars=1, land=build_landing(FOUR, Limb.RIGHT, ("kick", "snare", "crash")))
    assert [h.surface.name for h in made.bars[-1].hits] == ["crash", "snare", "kick"]


@pytest.mark.parametrize(
    ("kind", "on", "sentence"),
    [
        (UnknownNameError, ("krash",), 'There is no surface called "krash"; did you mean "crash"?'),
        (
            FitError,
            ("crash", "snare", "kick", "china"),
            "A landing on crash, snare, china needs 3 hands; choose at most two of them.",
        ),
    ],
)
def test_an_unplayable_landing_is_refused(
    kind: type[FillwrightError], on: tuple[str, ...], sentence: str
) -> None:
    with pytest.raises(kind, match=f"^{re.escape(sentence)}$"):
        build_landing(FOUR, Limb.RIGHT, on)


def test_mirrors_keep_the_drums_and_change_the_limbs() -> None:
    made = fill("3", "1", "0")
    assert made.mirror().hits[0].stroke.hand is Limb.LEFT
    assert made.mirror().span == made.span
    whole = build_phrase(EIGHTHS, made)
    turned: Phrase = whole.mirror()
    assert [h.surface for h in turned.hits()] == [h.surface for h in whole.hits()]
    assert [h.stroke.hand for h in turned.hits()] == [h.stroke.hand.other for h in whole.hits()]
