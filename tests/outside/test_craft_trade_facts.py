"""What every drummer and teacher knows of fills made from rudiments.

Source: Common practice
"""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest

from fillwright.craft.brief import TEACHING_ORDER, Brief, StepKind
from fillwright.craft.chains.chain import fill_span
from fillwright.craft.chains.readings import fit_rhythms
from fillwright.craft.player.players import find_player
from fillwright.craft.routes.route import DOUBLED
from fillwright.craft.rudiment_sheet import build_sheet_phrase
from fillwright.craft.steps import Step, plan_steps
from fillwright.errors import FitError
from fillwright.music.figure import Figure
from fillwright.music.meter import find_meter
from fillwright.music.phrase import locate_last_beats
from fillwright.music.rudiments import find_figure, load_rudiments, parse_rhythm
from fillwright.music.sticking import format_slot
from fillwright.music.stroke import Limb
from fillwright.music.timing import SLOWEST

FOUR = find_meter("4/4")


def played(figure: str, beats: int, values: str = "", *, where: str = "4/4", lead: Limb = Limb.RIGHT) -> Step:
    """A figure over the last beats."""
    found = find_figure(figure)
    read = parse_rhythm(values, len(found.strokes)) if values else None
    brief = Brief(
        figure=found, meter=find_meter(where), kinds=(), beats=(Fraction(beats),), rhythm=read, lead=lead
    )
    (step,) = plan_steps(brief).steps
    return step


def sticking(step: Step) -> str:
    return " ".join(format_slot(hit.stroke) for hit in step.fill.hits)


def hands(step: Step) -> str:
    return " ".join(hit.stroke.hand.value for hit in step.fill.hits if not hit.stroke.hand.is_foot)


def test_single_stroke_four_over_one_beat_is_three_sixteenth_triplets_and_an_eighth() -> None:
    step = played("single stroke four", 1)
    assert hands(step) == "R L R L"
    assert [hit.length for hit in step.fill.hits] == [Fraction(1, 24)] * 3 + [Fraction(1, 8)]


@pytest.mark.parametrize(
    ("figure", "beats", "values", "wanted"),
    [
        ("single paradiddle", 2, "16", "R L R R L R L L"),
        ("double paradiddle", 2, "16t", "R L R L R R L R L R L L"),
        ("triple paradiddle", 4, "16", "R L R L R L R R L R L R L R L L"),
        ("single paradiddle-diddle", 2, "16t", "R L R R L L R L R R L L"),
        ("double stroke open roll", 2, "16", "R R L L R R L L"),
        ("five stroke roll", 2, "", "R R L L R L L R R L"),
        ("six stroke roll", 2, "16t", "R L L R R L R L L R R L"),
        ("nine stroke roll", 4, "", "R R L L R R L L R L L R R L L R R L"),
        ("flam tap", 2, "16", "R R L L R R L L"),
        ("flam accent", 2, "8t", "R L R L R L"),
        ("Swiss Army triplet", 2, "8t", "R R L R R L"),
        ("single ratamacue", 2, "", "R L R L L R L R"),
    ],
)
def test_hands_of_a_rudiment_in_a_fill(figure: str, beats: int, values: str, wanted: str) -> None:
    assert hands(played(figure, beats, values)) == wanted


def test_a_left_handed_lesson_is_mirrored() -> None:
    assert hands(played("single paradiddle", 2, "16", lead=Limb.LEFT)) == "L R L L R L R R"


def test_flams_and_accents_go_along_with_the_hands() -> None:
    assert sticking(played("flam accent", 2, "8t")) == "lR> L R rL> R L"
    assert sticking(played("single paradiddle", 2, "16")) == "R> L R R L> R L L"


@pytest.mark.parametrize(
    ("figure", "values", "fitting", "not_fitting"),
    [
        ("flam accent", "16", [3], [1, 2, 4]),
        ("flam accent", "8t", [1, 2, 3, 4], []),
        ("double paradiddle", "16", [3], [1, 2, 4]),
        ("single paradiddle-diddle", "16", [3], [1, 2, 4]),
        ("single paradiddle", "16", [1, 2, 3, 4], []),
        ("single paradiddle", "8t", [4], [1, 2, 3]),
        ("triple stroke roll", "16", [3], [1, 2, 4]),
        ("triple paradiddle", "16", [2, 4], [1, 3]),
    ],
)
def test_a_figure_out_of_its_own_feel_comes_round_after_some_beats(
    figure: str, values: str, fitting: list[int], not_fitting: list[int]
) -> None:
    """Six strokes in sixteenths come round after three beats, three after three quarters of a beat."""
    found = find_figure(figure)
    read = parse_rhythm(values, len(found.strokes))
    for beats in fitting:
        span = locate_last_beats(FOUR, 4, Fraction(beats))
        assert fill_span(found, read, span, FOUR, lead=Limb.RIGHT).length == Fraction(beats, 4)
    for beats in not_fitting:
        with pytest.raises(FitError, match=rf"does not fill the last {beats} beat"):
            fill_span(found, read, locate_last_beats(FOUR, 4, Fraction(beats)), FOUR, lead=Limb.RIGHT)


def test_the_teaching_order_goes_from_the_snare_to_the_kit_and_on_to_other_figures() -> None:
    assert [kind.value for kind in TEACHING_ORDER] == [
        "last beat",
        "last two beats",
        "whole bar",
        "round the kit",
        "accents to the toms",
        "hands apart",
        "by figure position",
        "ends on cymbals",
        "kick inside the figure",
        "flams split",
        "up the kit",
        "mixed",
    ]


def test_first_fills_stay_on_the_snare() -> None:
    steps = plan_steps(Brief(figure=find_figure("single paradiddle"), meter=FOUR)).steps
    for step in steps[:3]:
        assert {hit.surface.name for hit in step.fill.hits} == {"snare"}
    assert len({hit.surface.name for hit in steps[-1].fill.hits}) > 1


def test_round_the_kit_goes_down_the_toms_a_beat_each() -> None:
    (step,) = plan_steps(
        Brief(figure=find_figure("single stroke roll"), meter=FOUR, kinds=(StepKind.ROUND,), bars=1)
    ).steps[1:]
    drums = ["snare", "high tom", "mid tom", "floor tom"]
    assert [hit.surface.name for hit in step.fill.hits] == [drum for drum in drums for _ in range(4)]


def every_ending() -> list[tuple[Figure, Step]]:
    made = []
    for figure in load_rudiments():
        for read in fit_rhythms(figure, FOUR):
            brief = Brief(
                figure=figure,
                meter=FOUR,
                rhythm=read,
                kinds=(StepKind.CYMBALS,),
                player=find_player("professional"),
                tempo=SLOWEST,
            )
            made += [(figure, step) for step in plan_steps(brief).steps]
    return made


def test_a_crash_in_a_fill_is_doubled_by_the_kick_and_accented() -> None:
    endings = every_ending()
    assert len(endings) > 50
    for _, step in endings:
        crashes = [hit for hit in step.fill.hits if hit.surface.name in DOUBLED]
        kicks = [hit for hit in step.fill.hits if hit.surface.name == "kick"]
        assert crashes
        assert [hit.at for hit in crashes] == [hit.at for hit in kicks]
        assert {hit.stroke.level.value for hit in crashes} == {"accent"}


def test_no_flam_drag_or_buzz_is_on_the_crash() -> None:
    kinds = {
        hit.stroke.kind.value
        for _, step in every_ending()
        for hit in step.fill.hits
        if hit.surface.name in DOUBLED
    }
    assert kinds == {"single"}


@pytest.mark.parametrize(
    ("figure", "beats", "lands"),
    [
        ("single stroke roll", 4, "R"),
        ("double stroke open roll", 4, "R"),
        ("single paradiddle", 4, "R"),
        ("single paradiddle", 1, "L"),
        ("five stroke roll", 1, "L"),
        ("single stroke four", 1, "R"),
        ("six stroke roll", 4, "R"),
        ("seven stroke roll", 1, "R"),
    ],
)
def test_a_fill_lands_with_the_hand_that_did_not_play_last(figure: str, beats: int, lands: str) -> None:
    assert played(figure, beats).lands.value == lands


def test_a_compound_beat_holds_a_triplet_figure_as_three_eighths() -> None:
    for where in ("6/8", "9/8", "12/8"):
        step = played("flam accent", 1, where=where)
        assert [hit.length for hit in step.fill.hits] == [Fraction(1, 8)] * 3


def test_the_last_beat_of_seven_eight_is_the_long_one() -> None:
    step = played("single stroke roll", 1, "16", where="7/8")
    assert hands(step) == "R L R L R L"
    assert step.fill.span.length == Fraction(3, 8)


def test_off_beat_fills_start_on_the_and() -> None:
    found = find_figure("single stroke roll")
    brief = Brief(figure=found, meter=FOUR, kinds=(), beats=(Fraction(5, 2),), rhythm=found.rhythms[0])
    (step,) = plan_steps(brief).steps
    assert step.fill.span.start % 1 == Fraction(3, 8)
    assert len(step.fill.hits) == 10


def test_a_rudiment_sheet_shows_both_leads() -> None:
    for name in ("single paradiddle", "flam tap", "six stroke roll", "pataflafla"):
        made = list(build_sheet_phrase(find_figure(name)).hits())
        half = len(made) // 2
        other = [replace(hit.stroke, hand=hit.stroke.hand.other) for hit in made[:half]]
        assert [hit.stroke for hit in made[half:]] == other
