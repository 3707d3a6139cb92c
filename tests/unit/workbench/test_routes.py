from __future__ import annotations

from fractions import Fraction

import pytest

from fillwright.errors import FillwrightError, FitError, UnknownNameError
from fillwright.music.phrase import Part
from fillwright.music.sticking import parse_sticking
from fillwright.music.stroke import Limb
from fillwright.workbench import routes as module
from fillwright.workbench.routes import (
    RouteRequest,
    build_route_phrase,
    build_route_sheet,
    describe_route,
    find_routes,
)


def test_a_sticking_is_played_once_unless_beats_are_asked_for() -> None:
    once = find_routes(RouteRequest(sticking="R L R R"))
    assert {len(route.surfaces) for route in once.routes} == {4}
    bar = find_routes(RouteRequest(sticking="R L R R", beats=Fraction(4)))
    assert {len(route.surfaces) for route in bar.routes} == {16}
    assert once.title == "Own sticking"


def test_a_figure_fills_a_bar_in_its_first_rhythm_that_fits() -> None:
    found = find_routes(RouteRequest(figure="flam accent"))
    assert found.rhythm.name == "triplets"
    assert found.setting.span.length == 1
    three = find_routes(RouteRequest(figure="flam accent", rhythm="16", beats=Fraction(3)))
    assert three.rhythm.name == "sixteenths"


def test_long_fills_lengthen_the_phrase() -> None:
    found = find_routes(RouteRequest(figure="single stroke roll", beats=Fraction(24), top=1))
    assert found.setting.span.end == 6
    assert len(build_route_phrase(found, found.routes[0]).bars) == 7


@pytest.mark.parametrize(("kit", "lead"), [("five-piece", Limb.RIGHT), ("left-handed", Limb.LEFT)])
def test_a_figure_leads_with_the_hand_the_kit_is_set_up_for(kit: str, lead: Limb) -> None:
    found = find_routes(RouteRequest(figure="single paradiddle", kit=kit, family="one surface"))
    assert found.routes[0].hits[0].stroke.hand is lead
    asked = find_routes(RouteRequest(figure="single paradiddle", kit=kit, lead=Limb.LEFT, family="one surface"))
    assert asked.routes[0].hits[0].stroke.hand is Limb.LEFT


def test_one_family_or_all_in_teaching_order() -> None:
    one = find_routes(RouteRequest(figure="single paradiddle", family="round the kit"))
    assert {route.family.value for route in one.routes} == {"round the kit"}
    every = find_routes(RouteRequest(figure="single paradiddle", family="all", tempo=40, top=99))
    assert len({route.family for route in every.routes}) > 7
    assert len(find_routes(RouteRequest(figure="single paradiddle", family="all", tempo=40, top=3)).routes) == 3


@pytest.mark.parametrize(
    ("ask", "sentence"),
    [
        (RouteRequest(), "Give either a sticking"),
        (RouteRequest(sticking="R", figure="flam"), "Give either a sticking"),
        (RouteRequest(sticking="R", top=0), "ask for 1 or more"),
        (RouteRequest(sticking="R Q"), "not a stroke"),
        (RouteRequest(figure="flam accent", rhythm="16", beats=Fraction(4)), "use the last 1½ or 3 beats"),
        (RouteRequest(figure="flam accent", rhythm="16 16"), "2 note values for 3 strokes"),
        (RouteRequest(sticking="R", tempo=1000), "can't be played"),
        (RouteRequest(sticking="R", beats=Fraction(1000)), "can't be written"),
    ],
)
def test_what_can_not_be_done_is_said_in_one_sentence(ask: RouteRequest, sentence: str) -> None:
    with pytest.raises(FillwrightError, match=sentence):
        find_routes(ask)


@pytest.mark.parametrize(
    "ask",
    [
        RouteRequest(sticking="R", kit="nine-piece"),
        RouteRequest(sticking="R", player="nobody"),
        RouteRequest(sticking="R", meter="3/7"),
        RouteRequest(sticking="R", family="sideways"),
        RouteRequest(figure="nothing"),
    ],
)
def test_unknown_names_are_reported(ask: RouteRequest) -> None:
    with pytest.raises(UnknownNameError, match="There is no"):
        find_routes(ask)


def test_a_route_in_its_phrase_is_the_fill_between_groove_and_landing() -> None:
    found = find_routes(RouteRequest(figure="single paradiddle", family="round the kit"))
    whole = build_route_phrase(found, found.routes[0])
    assert [bar.part for bar in whole.bars] == [Part.GROOVE] * 3 + [Part.FILL, Part.LANDING]
    assert [hit.surface.name for hit in whole.bars[3].hits] == list(found.routes[0].surfaces)
    assert {hit.stroke.hand for hit in whole.bars[4].hits} == {Limb.RIGHT, Limb.RIGHT_FOOT}


def test_a_left_handed_phrase_has_all_of_it_on_the_left() -> None:
    found = find_routes(RouteRequest(figure="single paradiddle", family="round the kit", kit="left-handed"))
    right = find_routes(RouteRequest(figure="single paradiddle", family="round the kit"))
    assert build_route_phrase(found, found.routes[0]) == build_route_phrase(right, right.routes[0]).mirror()


def test_the_hand_that_did_not_end_the_fill_lands() -> None:
    found = find_routes(RouteRequest(sticking="R L R", family="one surface"))
    landing = build_route_phrase(found, found.routes[0]).bars[-1]
    assert landing.hits[0].stroke.hand is Limb.LEFT


def test_a_meter_without_a_groove_has_no_phrase(monkeypatch: pytest.MonkeyPatch) -> None:
    found = find_routes(RouteRequest(sticking="R L", family="one surface"))
    monkeypatch.setattr(module, "load_grooves", lambda: ())
    with pytest.raises(FitError, match="no groove in 4/4"):
        build_route_phrase(found, found.routes[0])


def test_the_sheet_carries_the_tempo() -> None:
    found = find_routes(RouteRequest(sticking="R L", family="one surface", tempo=87.5))
    assert build_route_sheet(found, found.routes[0]).tempo == "87.5"


def test_the_report_has_a_surface_for_each_stroke_of_its_sticking() -> None:
    found = find_routes(RouteRequest(figure="single paradiddle", family="all", tempo=40, top=99))
    for route in found.routes:
        report = describe_route(route)
        words = report["sticking"].split()
        assert len(words) == len(report["surfaces"]) == 16
        assert [word == "K" for word in words] == [name == "kick" for name in report["surfaces"]]
        parse_sticking(" ".join(word for word in words if word != "K"))
        assert report["peak_demand"] <= 1
        for number in report["doubled"]:
            assert report["surfaces"][number] in ("crash", "second crash")


def test_the_report_of_split_flams_says_where_the_grace_notes_go() -> None:
    found = find_routes(RouteRequest(figure="flam accent", family="flams split", tempo=40))
    report = describe_route(found.routes[0])
    assert report["graces_on"] == {"0": "snare", "3": "snare", "6": "snare", "9": "snare"}


def test_the_report_of_one_stroke_has_no_ceiling() -> None:
    found = find_routes(RouteRequest(sticking="R", family="one surface"))
    report = describe_route(found.routes[0])
    assert (report["ceiling_bpm"], report["peak_demand"]) == (None, 0.0)


def test_the_rule_of_the_kick_can_be_dropped() -> None:
    ask = {"figure": "single paradiddle", "family": "ends on cymbals", "tempo": 40}
    assert any(describe_route(route)["doubled"] for route in find_routes(RouteRequest(**ask)).routes)
    assert not any(
        describe_route(route)["doubled"] for route in find_routes(RouteRequest(**ask, doubled=False)).routes
    )
