"""Fills of a teacher's own: reckoned like any other, written down and read back."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest

from fillwright.craft.brief import Brief, StepKind
from fillwright.craft.player.kits import find_kit
from fillwright.craft.written_fills import (
    WrittenFill,
    format_surfaces,
    make_step,
    parse_surfaces,
    route_fill,
    write_fill,
)
from fillwright.errors import FitError, SpanError, UnknownNameError
from fillwright.lesson.file import parse_lesson, read_demo_text
from fillwright.lesson.fills import build_fills
from fillwright.music.meter import find_meter
from fillwright.music.rudiments import find_figure, parse_rhythm
from fillwright.music.sticking import parse_sticking
from fillwright.music.stroke import Limb
from fillwright.music.surfaces import load_surfaces

BRIEF = Brief(figure=find_figure("single paradiddle"), meter=find_meter("4/4"))


def own(sticking: str = "R L R L", *on: str, values: str = "16", beats: Fraction = Fraction(1)) -> WrittenFill:
    slots = parse_sticking(sticking)
    strokes = sum(slot is not None for slot in slots)
    return WrittenFill(
        name="mine",
        beats=beats,
        slots=slots,
        rhythm=parse_rhythm(values, len(slots)),
        on=on if len(on) > 1 else (on or ("snare",)) * strokes,
    )


@pytest.mark.parametrize("main", load_surfaces())
@pytest.mark.parametrize("graces", ["", "snare", "second floor tom"])
def test_where_a_stroke_goes_is_read_as_it_is_written(main, graces):
    read, read_graces = parse_surfaces(format_surfaces(main, graces))
    assert read == main
    assert read_graces == ("" if graces == main else graces)


@pytest.mark.parametrize("text", ["", "snar", "snare with", "snare with snar", "with snare"])
def test_an_unknown_surface_is_refused(text):
    with pytest.raises(UnknownNameError, match="no surface called"):
        parse_surfaces(text)


def test_strokes_stand_where_they_are_written():
    made = route_fill(own("R - (L) lR>", "snare", "high tom", "floor tom with snare"), BRIEF)
    assert made.span.start == Fraction(15, 4)
    assert [(str(hit.at), hit.surface.name, hit.stroke.hand) for hit in made.hits] == [
        ("0", "snare", Limb.RIGHT),
        ("1/8", "high tom", Limb.LEFT),
        ("3/16", "floor tom", Limb.RIGHT),
    ]
    assert made.graces_on == ("snare", "high tom", "snare")


def test_a_kick_goes_to_the_foot_and_a_crash_brings_one():
    made = route_fill(own("R L R L", "snare", "kick", "snare", "crash"), BRIEF)
    assert [(hit.surface.name, hit.stroke.hand.is_foot) for hit in made.hits] == [
        ("snare", False),
        ("kick", True),
        ("snare", False),
        ("crash", False),
        ("kick", True),
    ]


@pytest.mark.parametrize(
    ("fill", "why"),
    [
        (own("R L R L", "snare", "snare"), "mine has 4 strokes and 2 surfaces; name one for each stroke"),
        (own("R L R"), "mine takes ¾ beat, but its span is the last 1 beat"),
        (own("R L R L R", values="16"), "mine takes 1¼ beats, but its span is the last 1 beat"),
        (
            own("R L R L", "second floor tom"),
            "mine uses the second floor tom, but the five-piece kit doesn't have one",
        ),
        (
            own("R L R L", "foot hi-hat"),
            "mine uses the foot hi-hat; the only surface for a foot in a fill is the kick",
        ),
        (
            own("R L R lR", "snare with kick"),
            "mine has grace notes on the kick; put them on a surface for hands",
        ),
        (own("R L R lR", "snare with second floor tom"), "uses the second floor tom, but the five-piece kit"),
    ],
)
def test_a_fill_that_does_not_fit_is_refused(fill, why):
    with pytest.raises(FitError, match=why):
        route_fill(fill, BRIEF)


def test_a_fill_longer_than_the_phrase_is_refused():
    with pytest.raises(SpanError, match="at most 4 beats"):
        route_fill(own(values="4", beats=Fraction(5)), replace(BRIEF, bars=1))


def test_beats_are_those_of_the_meter():
    fill = own("R L R L R", values="8", beats=Fraction(2))
    made = route_fill(fill, replace(BRIEF, meter=find_meter("7/8")))
    assert made.span.length == Fraction(5, 8)


QUICK = own("R L R L R R R R", *["floor tom", "crash"] * 4, values="32")


def test_a_fill_that_is_too_fast_has_a_route_but_not_a_step():
    assert route_fill(QUICK, BRIEF).peak_demand > 1
    with pytest.raises(FitError, match="mine is too fast for this player at 60 bpm: right hand travels from"):
        make_step(QUICK, BRIEF)


def test_a_step_has_a_caption_and_lands_with_the_other_hand():
    made = make_step(own("R L R R"), BRIEF)
    assert (made.kind, made.caption, made.lands) == (StepKind.OWN_SPAN, "Last beat, mine", Limb.LEFT)
    assert make_step(own("R L R L"), replace(BRIEF, kit=find_kit("four-piece"))).lands is Limb.RIGHT


def test_a_fill_is_written_down_with_its_rests():
    route = route_fill(own("- R - L", values="16"), BRIEF)
    again = write_fill(route, name="again", beats=Fraction(1))
    assert [slot is None for slot in again.slots] == [True, False, True, False]


DEMO = parse_lesson(read_demo_text())
FILLS = build_fills(DEMO).fills


@pytest.mark.parametrize("fill", FILLS, ids=lambda fill: fill.slug)
def test_every_fill_of_the_demo_is_the_same_written_down(fill):
    brief, route = DEMO.list_briefs()[fill.part], fill.step.route
    beats = brief.meter.count_beats(route.span.length)
    again = route_fill(write_fill(route, name="again", beats=beats), brief)
    assert (again.hits, again.graces_on, again.grade) == (route.hits, route.graces_on, route.grade)
    assert (again.ceiling_bpm, again.span) == (route.ceiling_bpm, route.span)
