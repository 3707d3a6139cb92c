from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest

from fillwright.craft.chains.chain import Chain, fill_span, find_fitting_beats, repeat_figure
from fillwright.craft.chains.readings import Reading
from fillwright.craft.player.kits import find_kit, load_kits
from fillwright.craft.player.players import find_player, load_players
from fillwright.craft.routes.families import TEACHING_ORDER, find_family_routes, orchestrate
from fillwright.craft.routes.laying import spread_drums
from fillwright.craft.routes.route import Family, Orchestration, Setting
from fillwright.music.figure import Figure
from fillwright.music.meter import find_meter
from fillwright.music.phrase import locate_last_beats
from fillwright.music.rudiments import find_figure, load_rudiments, parse_rhythm
from fillwright.music.sticking import parse_sticking
from fillwright.music.stroke import Level, Limb

FOUR = find_meter("4/4")


def setting(
    beats: Fraction | int = 4, kit: str = "five-piece", player: str = "gigging", tempo: float = 40
) -> Setting:
    return Setting(
        span=locate_last_beats(FOUR, 4, Fraction(beats)),
        meter=FOUR,
        kit=find_kit(kit),
        player=find_player(player),
        tempo=tempo,
    )


def chain(name: str, where: Setting, lead: Limb = Limb.RIGHT) -> Chain:
    figure = find_figure(name)
    return fill_span(figure, figure.rhythms[0], where.span, FOUR, lead=lead)


def own(text: str, values: str, turns: int = 1) -> Chain:
    strokes = parse_sticking(text)
    figure = Figure(name="own", group="own", strokes=strokes, rhythms=(parse_rhythm(values, len(strokes)),))
    return repeat_figure(figure, figure.rhythms[0], turns, figure.lead)


def laid(name: str, family: Family, beats: int = 4, kit: str = "five-piece") -> list[Orchestration]:
    where = setting(beats, kit)
    return list(orchestrate(chain(name, where), where, family))


def surfaces(layout: Orchestration) -> tuple[str, ...]:
    return tuple(one.surface for one in layout.strokes)


def test_round_the_kit_takes_a_drum_a_beat() -> None:
    first = surfaces(laid("single paradiddle", Family.ROUND)[0])
    assert first[::4] == ("snare", "high tom", "mid tom", "floor tom")
    assert all(first[n] == first[n - n % 4] for n in range(16))


def test_three_beats_go_snare_high_tom_floor_tom() -> None:
    assert surfaces(laid("single stroke roll", Family.ROUND, 3)[0])[::4] == ("snare", "high tom", "floor tom")


@pytest.mark.parametrize(
    ("kit", "drums"),
    [
        ("four-piece", ("snare", "snare", "high tom", "floor tom")),
        ("six-piece", ("snare", "high tom", "mid tom", "second floor tom")),
    ],
)
def test_round_the_kit_uses_the_drums_of_the_kit(kit: str, drums: tuple[str, ...]) -> None:
    assert surfaces(laid("single stroke roll", Family.ROUND, kit=kit)[0])[::4] == drums


def test_a_practice_pad_keeps_to_the_snare_and_the_kick() -> None:
    where = setting(kit="practice pad")
    found = [each for family in TEACHING_ORDER for each in orchestrate(chain("flam tap", where), where, family)]
    assert {family.family for family in found} == {Family.ONE_SURFACE}
    four = list(orchestrate(chain("single paradiddle", where), where, Family.KICK))
    assert {name for each in (*found, *four) for name in surfaces(each)} == {"snare", "kick"}


def test_a_kit_of_snare_and_one_tom_has_one_way_round_and_no_foot() -> None:
    five = find_kit("five-piece")
    small = replace(five, spots={name: five.spot(name) for name in ("snare", "floor tom")})
    where = replace(setting(), kit=small)
    made = chain("single paradiddle", where)
    count = {family: len(list(orchestrate(made, where, family))) for family in TEACHING_ORDER}
    assert count[Family.ROUND] == count[Family.UP] == count[Family.APART] == 1
    assert (
        count[Family.KICK] == count[Family.BY_POSITION] == count[Family.MIRRORED] == count[Family.CYMBALS] == 0
    )


def test_one_beat_does_not_go_round() -> None:
    assert laid("single paradiddle", Family.ROUND, 1) == laid("single paradiddle", Family.UP, 1) == []


def test_up_the_kit_is_round_the_kit_backwards() -> None:
    down, up = (surfaces(laid("single stroke roll", family)[0]) for family in (Family.ROUND, Family.UP))
    assert up == tuple(reversed(down))


def test_accents_travel_and_taps_stay() -> None:
    layout = laid("single paradiddle", Family.ACCENTS)[0]
    for one in layout.strokes:
        accented = one.placed.stroke.level is Level.ACCENT
        right = one.placed.stroke.hand is Limb.RIGHT
        assert one.surface == (("floor tom" if right else "high tom") if accented else "snare")


def test_a_figure_without_accents_is_accented_on_the_beats() -> None:
    layout = laid("single stroke roll", Family.ACCENTS)[0]
    away = [one.placed.at for one in layout.strokes if one.surface != "snare"]
    assert away == [Fraction(n, 4) for n in range(4)]


def test_a_figure_with_neither_accent_nor_stroke_on_a_beat_has_no_accents_to_send() -> None:
    where = setting(1)
    off = own("- R L R", "16")
    for family in (Family.ACCENTS, Family.MIRRORED):
        assert all("accents" not in each.words for each in orchestrate(off, where, family))


def test_hands_apart_keep_to_their_drum() -> None:
    for layout in laid("single paradiddle", Family.APART):
        drums = {one.placed.stroke.hand: one.surface for one in layout.strokes}
        assert len(drums) == 2
        assert all(one.surface == drums[one.placed.stroke.hand] for one in layout.strokes)


@pytest.mark.parametrize("kit", ["five-piece", "left-handed", "open-handed"])
def test_the_hand_beside_the_floor_tom_plays_it(kit: str) -> None:
    layout = laid("single paradiddle", Family.APART, kit=kit)[0]
    beside = Limb.LEFT if kit == "left-handed" else Limb.RIGHT
    assert {one.placed.stroke.hand for one in layout.strokes if one.surface == "floor tom"} == {beside}


def test_mirrored_exchanges_the_hands() -> None:
    straight = laid("single paradiddle", Family.ACCENTS)[0]
    mirrored = laid("single paradiddle", Family.MIRRORED)[0]
    exchange = {"floor tom": "high tom", "high tom": "floor tom", "snare": "snare"}
    assert surfaces(mirrored) == tuple(exchange[name] for name in surfaces(straight))


def test_the_same_place_of_each_repetition_moves_on() -> None:
    first, *others = laid("single paradiddle", Family.BY_POSITION)
    assert surfaces(first)[::4] == ("snare", "high tom", "mid tom", "floor tom")
    assert set(surfaces(first)) - set(surfaces(first)[::4]) == set()
    assert all(name == "snare" for n, name in enumerate(surfaces(first)) if n % 4)
    assert any(surfaces(each)[2::4] == ("snare", "high tom", "mid tom", "floor tom") for each in others)


def test_position_needs_repetitions_toms_and_strokes() -> None:
    assert laid("single paradiddle", Family.BY_POSITION, 1) == []
    assert laid("single paradiddle", Family.BY_POSITION, kit="practice pad") == []
    where = setting(2)
    assert list(orchestrate(own("R", "8", 4), where, Family.BY_POSITION)) == []


def test_a_figure_without_accents_has_none_to_move() -> None:
    assert all("accents" not in each.words for each in laid("double stroke open roll", Family.BY_POSITION))


def test_ends_and_accents_go_to_cymbals_as_single_accents() -> None:
    ends, accents, *_ = laid("flam accent", Family.CYMBALS)
    assert {n % 3 for n, name in enumerate(surfaces(ends)) if name != "snare"} == {2}
    for layout in (ends, accents):
        struck = [one.placed.stroke for one in layout.strokes if one.surface != "snare"]
        assert {(stroke.kind.graces, stroke.level) for stroke in struck} == {(0, Level.ACCENT)}
    assert {surfaces(each)[-1] for each in laid("flam accent", Family.CYMBALS)[2:]} <= {"crash", "second crash"}


def test_one_crash_serves_both_hands_of_a_small_kit() -> None:
    for layout in laid("single paradiddle", Family.CYMBALS, kit="four-piece"):
        assert "second crash" not in surfaces(layout)


def test_the_foot_takes_the_end_of_each_repetition() -> None:
    one, two, apart = laid("single paradiddle", Family.KICK)
    assert [name == "kick" for name in surfaces(one)] == [False, False, False, True] * 4
    assert [name == "kick" for name in surfaces(two)] == [False, False, True, True] * 4
    assert set(surfaces(apart)) == {"kick", "floor tom", "high tom"}


def test_a_figure_of_one_stroke_keeps_it_for_the_hand() -> None:
    where = setting(1)
    assert list(orchestrate(own("R", "8", 2), where, Family.KICK)) == []


def test_flams_part_between_drums_and_nothing_else_does() -> None:
    main, grace = laid("flam tap", Family.SPLIT_FLAMS)
    for layout in (main, grace):
        for one in layout.strokes:
            parted = bool(one.graces_on) and one.graces_on != one.surface
            assert parted == bool(one.placed.stroke.kind.graces)
    assert {one.graces_on for one in grace.strokes if one.graces_on} == {"floor tom", "high tom"}
    for one in grace.strokes:
        if one.graces_on:
            assert one.graces_on == ("high tom" if one.placed.stroke.hand is Limb.RIGHT else "floor tom")
    assert laid("single paradiddle", Family.SPLIT_FLAMS) == []


def test_the_search_has_no_orchestrations() -> None:
    assert laid("single paradiddle", Family.SEARCH) == []


def test_an_empty_chain_has_no_layouts() -> None:
    where = setting(1)
    assert list(orchestrate(Chain(readings=()), where, Family.ONE_SURFACE)) == []


def test_a_stroke_of_a_foot_is_on_the_kick_in_every_family() -> None:
    where = setting(1)
    strokes = tuple(
        slot if number else slot.__class__(hand=Limb.RIGHT_FOOT)
        for number, slot in enumerate(parse_sticking("R L R L"))
        if slot
    )
    figure = Figure(name="own", group="own", strokes=strokes, rhythms=(parse_rhythm("16", 4),))
    made = Chain(readings=(Reading(figure=figure, lead=figure.lead, lengths=figure.rhythms[0].lengths),))
    for family in (Family.ONE_SURFACE, Family.ACCENTS, Family.APART, Family.MIRRORED):
        for layout in orchestrate(made, where, family):
            assert surfaces(layout)[0] == "kick"


def test_stops_of_one_beat_stay_where_it_starts() -> None:
    assert spread_drums(("snare", "floor tom"), 1) == ("snare",)


def test_routes_come_in_teaching_order_no_two_alike() -> None:
    where = setting()
    routes = find_family_routes(chain("flam accent", where), where)
    order = [TEACHING_ORDER.index(route.family) for route in routes]
    assert order == sorted(order)
    assert len(set(order)) == len(TEACHING_ORDER)
    assert len({(route.hits, route.graces_on) for route in routes}) == len(routes)


def test_routes_that_are_too_fast_are_left_out() -> None:
    slow, fast = setting(tempo=40), setting(tempo=150)
    made = chain("single paradiddle", slow)
    assert {route.family for route in find_family_routes(made, fast)} < {
        r.family for r in find_family_routes(made, slow)
    }


@pytest.mark.parametrize("player", load_players())
@pytest.mark.parametrize("figure", load_rudiments(), ids=lambda figure: figure.name)
def test_the_snare_alone_is_faster_and_easier_than_going_round(figure: Figure, player: str) -> None:
    beats = next(
        fitting[-1]
        for bars in (1, 2, 4)
        if (
            fitting := [
                b for b in find_fitting_beats(figure.rhythms[0], FOUR, bars=bars) if b > 1 and b == int(b)
            ]
        )
    )
    for kit in load_kits():
        where = setting(beats, kit, player, tempo=20)
        routes = find_family_routes(chain(figure.name, where), where, (Family.ONE_SURFACE, Family.ROUND))
        alone = routes[0]
        assert set(alone.surfaces) == {"snare"}
        going_round = [route for route in routes if route.family is Family.ROUND]
        assert going_round or kit == "practice pad"
        for route in going_round:
            assert route.ceiling_bpm < alone.ceiling_bpm
            assert route.grade > alone.grade
