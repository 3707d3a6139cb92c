from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from math import inf, isclose

import pytest

from fillwright.craft.chains.chain import Chain, PlacedStroke, fill_span
from fillwright.craft.chains.readings import Reading
from fillwright.craft.player.kits import find_kit
from fillwright.craft.player.players import find_player
from fillwright.craft.routes.route import (
    Family,
    Orchestration,
    RouteBuilder,
    RoutedStroke,
    Setting,
    list_hits,
    name_step,
)
from fillwright.errors import TempoError
from fillwright.music.figure import Figure
from fillwright.music.meter import find_meter
from fillwright.music.phrase import locate_last_beats
from fillwright.music.rudiments import find_figure, parse_rhythm
from fillwright.music.sticking import parse_sticking
from fillwright.music.stroke import Kind, Limb, Stroke

FOUR = find_meter("4/4")


def setting(beats: str = "1", **changes: object) -> Setting:
    made = Setting(
        span=locate_last_beats(FOUR, 4, Fraction(beats)),
        meter=FOUR,
        kit=find_kit("five-piece"),
        player=find_player("gigging"),
        tempo=60,
    )
    return replace(made, **changes)


def placed(text: str, values: str = "16") -> tuple[PlacedStroke, ...]:
    strokes = parse_sticking(text)
    figure = Figure(name="own", group="own", strokes=strokes, rhythms=(parse_rhythm(values, len(strokes)),))
    reading = Reading(figure=figure, lead=figure.lead, lengths=figure.rhythms[0].lengths)
    return tuple(Chain(readings=(reading,)).place_strokes())


def layout(text: str, surfaces: str, family: Family = Family.SEARCH, values: str = "16") -> Orchestration:
    names = [name.strip() for name in surfaces.split(",")]
    laid = tuple(RoutedStroke(placed=p, surface=s) for p, s in zip(placed(text, values), names, strict=True))
    return Orchestration(family=family, words="as laid", strokes=laid)


def test_a_route_has_hits_and_demands() -> None:
    route = RouteBuilder(setting()).build(layout("R L R L", "snare, snare, floor tom, snare"))
    assert route is not None
    assert route.surfaces == ("snare", "snare", "floor tom", "snare")
    assert route.fill.span == setting().span
    kit = find_kit("five-piece")
    assert isclose(route.right_cm, kit.spot("snare").distance_cm(kit.spot("floor tom")))
    assert route.left_cm == 0
    assert route.crossings == 0
    assert route.reason == "right hand travels from snare to floor tom in 500 ms in beat 4"
    assert isclose(route.peak_demand, max(d.at(setting().whole_seconds) for d in route.demands))


def test_the_ceiling_is_where_the_same_route_stops_being_playable() -> None:
    laid = layout("R L R L", "snare, snare, floor tom, snare")
    slow = RouteBuilder(setting()).build(laid)
    assert slow is not None
    assert RouteBuilder(setting(tempo=slow.ceiling_bpm * 0.999)).build(laid) is not None
    assert RouteBuilder(setting(tempo=slow.ceiling_bpm * 1.001)).build(laid) is None


def test_a_single_stroke_has_no_ceiling() -> None:
    route = RouteBuilder(setting()).build(layout("R", "snare", values="4"))
    assert route is not None
    assert (route.ceiling_bpm, route.peak_demand) == (inf, 0.0)
    assert route.reason == "no hand or foot strikes twice"


def test_a_surface_the_kit_has_not_makes_no_route() -> None:
    pad = setting(kit=find_kit("practice pad"))
    assert RouteBuilder(pad).build(layout("R L", "snare, floor tom")) is None
    assert RouteBuilder(pad).build(layout("R L", "snare, crash")) is None
    assert RouteBuilder(pad).build(layout("R L", "snare, snare")) is not None


def test_a_crash_is_doubled_by_the_kick_and_a_ride_is_not() -> None:
    hits, _ = list_hits(layout("R L R L", "crash, ride bow, hi-hat, china").strokes, setting())
    assert [hit.surface.name for hit in hits] == ["crash", "kick", "ride bow", "hi-hat", "china", "kick"]
    assert hits[1].at == hits[0].at
    assert hits[1].stroke.hand is Limb.RIGHT_FOOT
    bare, _ = list_hits(layout("R L", "crash, china").strokes, setting(doubled=frozenset()))
    assert [hit.surface.name for hit in bare] == ["crash", "china"]


def test_the_strokes_of_a_route_leave_out_the_kicks_that_double() -> None:
    route = RouteBuilder(setting(tempo=40)).build(layout("R L R L", "crash, snare, kick, snare"))
    assert route is not None
    assert route.surfaces == ("crash", "snare", "kick", "snare")
    assert len(route.hits) == 5


def test_a_stroke_handed_to_the_foot_loses_its_grace_note() -> None:
    hits, graces = list_hits(layout("R rL", "snare, kick").strokes, setting())
    assert hits[1].stroke.hand is Limb.RIGHT_FOOT
    assert hits[1].stroke.kind is Kind.SINGLE
    assert graces == ("snare", "kick")


def test_the_left_handed_kit_kicks_with_the_left_foot() -> None:
    left = setting(kit=find_kit("left-handed"))
    hits, _ = list_hits(layout("R L", "crash, kick").strokes, left)
    assert {hit.stroke.hand for hit in hits if hit.surface.name == "kick"} == {Limb.LEFT_FOOT}
    assert left.low_hand is Limb.LEFT
    assert setting().low_hand is Limb.RIGHT


def test_a_split_flam_names_the_surface_of_its_grace_note() -> None:
    (flam,) = placed("lR", "4")
    laid = RoutedStroke(placed=flam, surface="floor tom", graces_on="snare")
    route = RouteBuilder(setting()).build(
        Orchestration(family=Family.SPLIT_FLAMS, words="split", strokes=(laid,))
    )
    assert route is not None
    assert route.surfaces == ("floor tom",)
    assert route.graces_on == ("snare",)
    whole = RouteBuilder(setting()).build(
        Orchestration(family=Family.SPLIT_FLAMS, words="", strokes=(replace(laid, graces_on=""),))
    )
    assert whole is not None
    assert whole.graces_on == whole.surfaces == ("floor tom",)


def test_two_strokes_of_one_hand_at_once_make_no_route() -> None:
    one = PlacedStroke(
        at=Fraction(0), length=Fraction(1, 4), stroke=Stroke(hand=Limb.RIGHT), statement=0, last=True
    )
    strokes = (RoutedStroke(placed=one, surface="snare"), RoutedStroke(placed=one, surface="floor tom"))
    assert (
        RouteBuilder(setting(tempo=20)).build(Orchestration(family=Family.SEARCH, words="", strokes=strokes))
        is None
    )


def test_the_reason_names_the_beat_in_the_bar() -> None:
    on_the_beat = RouteBuilder(setting("2")).build(layout("R R", "snare, floor tom", values="4"))
    assert on_the_beat is not None
    assert on_the_beat.reason == "right hand travels from snare to floor tom in 1000 ms on beat 4"


@pytest.mark.parametrize(
    ("family", "beats", "step"),
    [
        (Family.ONE_SURFACE, "1", "last beat"),
        (Family.ONE_SURFACE, "1/2", "last beat"),
        (Family.ONE_SURFACE, "2", "last two beats"),
        (Family.ONE_SURFACE, "4", "whole bar"),
        (Family.ROUND, "4", "round the kit"),
        (Family.ACCENTS, "4", "accents to the toms"),
        (Family.UP, "4", "up the kit"),
        (Family.SEARCH, "4", "free"),
    ],
)
def test_each_family_has_its_step(family: Family, beats: str, step: str) -> None:
    assert name_step(family, setting(beats)) == step


@pytest.mark.parametrize(
    ("surfaces", "step"),
    [
        ("snare, snare, snare, snare", "last two beats"),
        ("snare, snare, floor tom, floor tom", "round the kit"),
        ("snare, floor tom, snare, snare", "free"),
    ],
)
def test_a_route_of_the_search_takes_the_step_it_resembles(surfaces: str, step: str) -> None:
    route = RouteBuilder(setting("2")).build(layout("R L R L", surfaces, values="8"))
    assert route is not None
    assert route.step == step


def test_beats_of_a_span_off_the_beat_and_over_bars() -> None:
    off = setting("5/2")
    assert off.beats() == (Fraction(0), Fraction(1, 8), Fraction(3, 8))
    assert [off.beat_of(Fraction(n, 16)) for n in range(4)] == [0, 0, 1, 1]
    assert len(setting("6").beats()) == 6


def test_a_tempo_out_of_range_is_refused() -> None:
    with pytest.raises(TempoError, match="can't be played"):
        RouteBuilder(setting(tempo=1000))


def test_drums_go_from_the_snare_down() -> None:
    assert setting(kit=find_kit("four-piece")).drums == ("snare", "high tom", "floor tom")
    assert setting(kit=find_kit("six-piece")).drums[-1] == "second floor tom"


@pytest.mark.parametrize("beats", ["2", "4"])
def test_a_route_of_a_rudiment_has_its_strokes(beats: str) -> None:
    where = setting(beats)
    figure = find_figure("single paradiddle")
    chain = fill_span(figure, figure.rhythms[0], where.span, FOUR, lead=Limb.LEFT)
    strokes = tuple(RoutedStroke(placed=one, surface="snare") for one in chain.place_strokes())
    route = RouteBuilder(where).build(Orchestration(family=Family.ONE_SURFACE, words="", strokes=strokes))
    assert route is not None
    assert [(hit.at, hit.stroke) for hit in route.strokes] == [
        (one.at, one.stroke) for one in chain.place_strokes()
    ]
