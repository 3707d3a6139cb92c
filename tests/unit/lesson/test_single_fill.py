"""One fill from a few options: what is chosen, what it is called, what is refused."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import pytest

from fillwright.craft.brief import StepKind
from fillwright.craft.rudiment_sheet import build_sheet_phrase
from fillwright.errors import FitError, OutputError, SpanError, StickingError, UnknownNameError
from fillwright.lesson.single_fill import FillChoice, draw_picture, get_suffix, make_single_fill, render_sheet
from fillwright.music.phrase import Part
from fillwright.music.rudiments import find_figure
from fillwright.music.stroke import Limb
from fillwright.score.engraving.paper import make_pdf, make_png
from fillwright.score.sheet import Sheet

PARADIDDLE = FillChoice(figure="single paradiddle")


def hands(choice: FillChoice) -> str:
    return "".join(
        hit.stroke.hand.value
        for hit in make_single_fill(choice).phrase.hits()
        if make_single_fill(choice).phrase.is_in_fill(hit.at) and not hit.stroke.hand.is_foot
    )


def test_the_whole_bar_on_the_snare_is_the_default() -> None:
    one = make_single_fill(PARADIDDLE)
    assert one.title == "Single paradiddle: Whole bar, all on the snare"
    assert one.step.kind is StepKind.WHOLE_BAR
    assert [bar.part for bar in one.phrase.bars] == [Part.GROOVE] * 3 + [Part.FILL, Part.LANDING]


def test_a_number_of_beats_is_a_span_on_the_snare_whatever_the_step() -> None:
    one = make_single_fill(replace(PARADIDDLE, beats=Fraction(2), step="mixed"))
    assert one.title == "Single paradiddle: Last two beats, all on the snare"
    assert one.step.kind is StepKind.OWN_SPAN
    assert one.phrase.span == one.step.fill.span


@pytest.mark.parametrize("kind", [kind for kind in StepKind if kind is not StepKind.OWN_SPAN])
def test_every_step_of_the_teaching_order(kind: StepKind) -> None:
    assert make_single_fill(FillChoice(figure="flam accent", step=kind.value)).step.kind is kind


def test_a_figure_without_flams_has_none_to_split() -> None:
    with pytest.raises(
        FitError, match=r"^single paradiddle, flams split: there is no such fill for this figure"
    ):
        make_single_fill(replace(PARADIDDLE, step="flams split"))


def test_it_is_shown_however_fast_it_is_for_most() -> None:
    """Thirty-seconds down the kit are above what a steady player can do at 60, and shown all the same."""
    one = make_single_fill(replace(PARADIDDLE, rhythm="32", step="round the kit"))
    assert {hit.length for hit in one.step.fill.hits} == {Fraction(1, 32)}


def test_of_two_fills_of_a_step_the_longer_is_taken() -> None:
    assert make_single_fill(replace(PARADIDDLE, step="round the kit")).step.caption.startswith("Whole bar")


def test_a_mix_is_with_singles_and_singles_have_nothing_to_be_mixed_with() -> None:
    mixed = make_single_fill(replace(PARADIDDLE, step="mixed")).step.mixed_with
    assert mixed
    assert mixed.name == "single stroke roll"
    with pytest.raises(FitError, match=r"^single stroke roll, mixed: there is no earlier figure"):
        make_single_fill(FillChoice(figure="singles", step="mixed"))


def test_aliases_and_capitals_are_found() -> None:
    assert make_single_fill(FillChoice(figure="Flamadiddle")).step.figure.name == "flam paradiddle"
    assert make_single_fill(FillChoice(figure="swiss TRIPLET")).title.startswith("Swiss Army triplet: ")


def test_a_rhythm_of_note_values() -> None:
    assert make_single_fill(replace(PARADIDDLE, rhythm="8t")).step.rhythm.name == "triplets"
    assert (
        make_single_fill(FillChoice(figure="flam accent", rhythm="8t", groove="six-eight")).step.rhythm.name
        == "eighths"
    )


def test_groove_meter_bars_and_lead() -> None:
    one = make_single_fill(replace(PARADIDDLE, groove="waltz", bars=2, lead=Limb.LEFT, beats=Fraction(1)))
    assert one.phrase.meter.name == "3/4"
    assert len(one.phrase.bars) == 3
    assert hands(replace(PARADIDDLE, lead=Limb.LEFT, beats=Fraction(1))) == "LRLL"


def test_a_left_handed_player_has_every_limb_exchanged_and_the_same_drums() -> None:
    right, left = (
        make_single_fill(PARADIDDLE).phrase,
        make_single_fill(replace(PARADIDDLE, mirrored=True)).phrase,
    )
    for one, other in zip(right.hits(), left.hits(), strict=True):
        assert other.stroke.hand is one.stroke.hand.other
        assert (other.at, other.surface) == (one.at, one.surface)


def test_the_free_hand_lands() -> None:
    landing = make_single_fill(replace(PARADIDDLE, beats=Fraction(1))).phrase.bars[-1]
    assert {hit.surface.name: hit.stroke.hand for hit in landing.hits} == {
        "crash": Limb.LEFT,
        "kick": Limb.RIGHT_FOOT,
    }


@pytest.mark.parametrize(
    ("choice", "error", "sentence"),
    [
        (
            FillChoice(figure="paradidle"),
            UnknownNameError,
            'no figure called "paradidle"; did you mean "paradiddle"',
        ),
        (replace(PARADIDDLE, groove="walz"), UnknownNameError, 'no groove called "walz"; did you mean "waltz"'),
        (
            replace(PARADIDDLE, step="whole"),
            UnknownNameError,
            'no step called "whole"; did you mean "whole bar"',
        ),
        (replace(PARADIDDLE, step="own span"), UnknownNameError, 'no step called "own span"'),
        (replace(PARADIDDLE, rhythm="16 16"), StickingError, "has 2 note values for 4 strokes"),
        (replace(PARADIDDLE, bars=0), SpanError, "A phrase of 0 bars can't be written"),
        (replace(PARADIDDLE, beats=Fraction(17)), SpanError, "A fill of 17 beats does not fit in 4 bars"),
        (replace(PARADIDDLE, beats=Fraction(1, 3)), FitError, "does not fill the last ⅓ beat of 4/4"),
        (FillChoice(figure="ratamacue", groove="seven-eight"), FitError, "has triplets only"),
    ],
)
def test_impossible_choices_are_refused(choice: FillChoice, error: type[Exception], sentence: str) -> None:
    with pytest.raises(error, match=sentence):
        make_single_fill(choice)


@pytest.mark.parametrize(
    ("suffix", "start"),
    [(".svg", b"<svg "), (".pdf", b"%PDF-"), (".png", b"\x89PNG"), (".musicxml", b"<?xml"), (".mid", b"MThd")],
)
def test_the_content_of_a_file(suffix: str, start: bytes) -> None:
    one = make_single_fill(replace(PARADIDDLE, beats=Fraction(1), bars=1))
    made = render_sheet(one, suffix, tempo=90)
    assert made.startswith(start)
    assert made == render_sheet(one, suffix, tempo=90)


@pytest.mark.parametrize("suffix", [".svg", ".musicxml", ".mid"])
def test_the_tempo_is_in_the_file(suffix: str) -> None:
    one = make_single_fill(replace(PARADIDDLE, beats=Fraction(1), bars=1))
    assert render_sheet(one, suffix, tempo=90) != render_sheet(one, suffix, tempo=91)


@pytest.mark.parametrize("suffix", ["", ".doc", ".SVG"])
def test_another_ending_is_refused(suffix: str) -> None:
    with pytest.raises(
        OutputError, match=rf'^"{suffix}" is not an ending for a sheet; use \.svg, \.pdf, \.png, '
    ):
        render_sheet(make_single_fill(PARADIDDLE), suffix, tempo=90)


def test_an_ending_is_read_in_small_letters() -> None:
    assert get_suffix(Path("A.B/Fill.SVG")) == ".svg"
    assert get_suffix(Path("fill")) == ""


def test_a_picture_is_drawn_at_the_size_of_the_music() -> None:
    sheet = Sheet(phrase=build_sheet_phrase(find_figure("flam")))
    assert draw_picture(sheet, make_png).startswith(b"\x89PNG")
    assert draw_picture(sheet, make_pdf).startswith(b"%PDF-")
