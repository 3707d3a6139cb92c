from __future__ import annotations

from collections import Counter
from dataclasses import replace
from fractions import Fraction
from itertools import combinations, islice, product
from math import ceil
from random import Random

import pytest

from fillwright.craft.chains.chain import Chain, fill_span
from fillwright.craft.chains.readings import Reading
from fillwright.craft.player.kits import find_kit
from fillwright.craft.player.players import find_player
from fillwright.craft.routes.ideas import number_keys
from fillwright.craft.routes.kbest import INFEASIBLE
from fillwright.craft.routes.route import Family, RouteBuilder, Setting
from fillwright.craft.routes.search import list_answers, list_problems, search_routes
from fillwright.craft.routes.taste import Taste, load_costs
from fillwright.music.figure import Figure
from fillwright.music.meter import find_meter
from fillwright.music.phrase import locate_last_beats
from fillwright.music.rudiments import find_figure, parse_rhythm
from fillwright.music.sticking import parse_sticking
from fillwright.music.stroke import Level, Limb, Stroke

FOUR = find_meter("4/4")


def setting(beats: int = 4, **changes: object) -> Setting:
    made = Setting(
        span=locate_last_beats(FOUR, max(4, beats // 4), Fraction(beats)),
        meter=FOUR,
        kit=find_kit("five-piece"),
        player=find_player("gigging"),
        tempo=70,
    )
    return replace(made, **changes)


def chain(name: str, where: Setting) -> Chain:
    figure = find_figure(name)
    return fill_span(figure, figure.rhythms[0], where.span, FOUR, lead=Limb.RIGHT)


def own(text: str, values: str = "16") -> Chain:
    strokes = parse_sticking(text)
    figure = Figure(name="own", group="own", strokes=strokes, rhythms=(parse_rhythm(values, len(strokes)),))
    return Chain(readings=(Reading(figure=figure, lead=figure.lead, lengths=figure.rhythms[0].lengths),))


NAMES = ("single paradiddle", "flam accent", "single stroke four", "double stroke open roll", "six stroke roll")


@pytest.mark.parametrize("name", NAMES)
def test_routes_are_playable_and_mutually_different(name: str) -> None:
    where = setting()
    routes = search_routes(chain(name, where), where)
    assert len(routes) == 12
    least = ceil(load_costs().differ * len(routes[0].surfaces))
    for one, other in combinations(routes, 2):
        assert sum(a != b for a, b in zip(one.surfaces, other.surfaces, strict=True)) >= least
    shapes = Counter(number_keys(route.surfaces) for route in routes)
    assert max(shapes.values()) <= load_costs().same_shape
    assert all(route.ceiling_bpm >= where.tempo and route.peak_demand <= 1 for route in routes)
    assert {route.family for route in routes} == {Family.SEARCH}


@pytest.mark.parametrize("name", NAMES)
def test_the_first_route_is_the_cheapest_answer(name: str) -> None:
    where = setting()
    made = chain(name, where)
    assert search_routes(made, where, count=1)[0].surfaces == next(list_answers(made, where, Taste())).surfaces


@pytest.mark.parametrize("name", NAMES)
def test_patterns_beat_noise(name: str) -> None:
    """A thousand random routes, each priced as the free idea, against the dozen that is offered."""
    where = setting()
    made = chain(name, where)
    (problem,) = list_problems(made, where, Taste())
    free = next(idea for idea in problem.ideas if idea.words == "free")
    offered = islice(list_answers(made, where, Taste()), 60)
    dearest = max(answer.cost for answer in offered)
    dice = Random(1)
    for _ in range(1000):
        noise = [dice.choice(problem.names) for _ in problem.placed]
        assert problem.cost(noise) + free.price > dearest


def test_an_answer_costs_its_strokes_its_idea_and_nothing_else() -> None:
    where = setting()
    for answer in islice(list_answers(chain("single paradiddle", where), where, Taste()), 50):
        assert answer.cost == answer.problem.cost(answer.surfaces) + answer.idea.price


def test_all_costs_of_a_short_chain_agree_with_trying_everything() -> None:
    where = setting(1, tempo=110)
    taste = Taste(surfaces=3, regular=0.5)
    made = own("R L R> R")
    (problem,) = list_problems(made, where, taste)
    brute = sorted(
        (cost + idea.price)
        for idea in problem.ideas
        for values in product(range(3 + bool(idea.moving)), repeat=idea.size)
        if (cost := problem.cost(idea.surfaces(values, problem.names))) < INFEASIBLE
    )
    assert [answer.cost for answer in list_answers(made, where, taste)] == brute
    assert len(brute) < sum((3 + bool(idea.moving)) ** idea.size for idea in problem.ideas)


def test_the_words_name_a_surface_for_each_beat_in_order() -> None:
    where = setting()
    routes = search_routes(chain("flam accent", where), where)
    by_beat = next(route for route in routes if route.words.startswith("a drum or cymbal for each beat"))
    assert by_beat.words.split(": ")[1].split(", ") == [by_beat.surfaces[3 * beat] for beat in range(4)]


def test_a_long_span_still_has_different_routes() -> None:
    """Eight bars, where the best of each idea are all much alike."""
    where = setting(32, tempo=40)
    figure = find_figure("seventeen stroke roll")
    made = fill_span(figure, figure.rhythms[1], where.span, FOUR, lead=Limb.RIGHT)
    routes = search_routes(made, where, Taste(surfaces=9), 6)
    assert len(routes) == 6
    least = ceil(load_costs().differ * len(routes[0].surfaces))
    for one, other in combinations(routes, 2):
        assert sum(a != b for a, b in zip(one.surfaces, other.surfaces, strict=True)) >= least


def test_a_long_figure_keeps_its_strokes_for_the_hands() -> None:
    where = setting()
    made = chain("fifteen stroke roll", where)
    assert len(list(list_problems(made, where, Taste(kick=True)))) == 1


def test_a_taste_for_home_stays_on_the_snare_and_one_for_away_leaves_it() -> None:
    where = setting()
    made = chain("single paradiddle", where)
    home = search_routes(made, where, Taste(away=0.0), 1)[0].surfaces
    away = search_routes(made, where, Taste(away=1.0), 1)[0].surfaces
    assert set(home) == {"snare"}
    assert away.count("snare") < len(away) / 2


def test_a_taste_without_cymbals_has_none_and_few_surfaces_are_few() -> None:
    where = setting()
    made = chain("six stroke roll", where)
    drums = {
        name
        for route in search_routes(made, where, Taste(surfaces=9, cymbals=False))
        for name in route.surfaces
    }
    assert drums <= {"snare", "floor tom", "high tom", "mid tom"}
    assert {name for r in search_routes(made, where, Taste(surfaces=2)) for name in r.surfaces} == {
        "snare",
        "floor tom",
    }


def test_a_crash_falls_on_strong_strokes_only() -> None:
    where = setting()
    routes = search_routes(chain("single paradiddle", where), where, Taste(surfaces=5, away=0.8), 40)
    struck = [hit for route in routes for hit in route.strokes if hit.surface.name == "crash"]
    assert struck
    assert all(hit.stroke.level is Level.ACCENT for hit in struck if hit.at != Fraction(15, 16))


def test_the_foot_takes_a_place_of_the_figure_if_the_taste_allows() -> None:
    where = setting()
    made = chain("single paradiddle", where)
    assert not [r for r in search_routes(made, where, count=30) if "kick" in r.surfaces]
    with_foot = [r for r in search_routes(made, where, Taste(kick=True), 30) if "kick" in r.surfaces]
    assert with_foot
    for route in with_foot:
        places = {n % 4 for n, name in enumerate(route.surfaces) if name == "kick"}
        assert len(places) == 1
        assert "foot" in route.words


def test_the_foot_takes_no_accents_and_no_more_than_it_can_play() -> None:
    where = setting()
    slow = list(list_problems(chain("single paradiddle", where), where, Taste(kick=True)))
    assert len(slow) == 4  # none, or the second, third or fourth place; the first is the accent
    fast = setting(tempo=300)
    assert len(list(list_problems(own("R L R L R L R L"), fast, Taste(kick=True)))) == 8
    quick = fill_span(
        find_figure("single stroke roll"), parse_rhythm("16", 2), fast.span, FOUR, lead=Limb.RIGHT
    )
    assert len(list(list_problems(quick, fast, Taste(kick=True)))) == 1


def test_no_kick_is_handed_out_on_a_kit_without_one() -> None:
    pad = find_kit("practice pad")
    bare = replace(pad, spots={"snare": pad.spot("snare")})
    where = setting(kit=bare)
    routes = search_routes(chain("single paradiddle", where), where, Taste(kick=True))
    assert [set(route.surfaces) for route in routes] == [{"snare"}]


def test_unplayable_routes_are_not_offered() -> None:
    assert search_routes(own("R R R R R R R R", "32"), setting(1, tempo=200)) == ()


def test_a_chain_of_feet_alone_is_not_searched() -> None:
    figure = Figure(
        name="kicks", group="own", strokes=(Stroke(hand=Limb.RIGHT_FOOT),) * 2, rhythms=(parse_rhythm("8", 2),)
    )
    feet = Chain(readings=(Reading(figure=figure, lead=Limb.RIGHT_FOOT, lengths=figure.rhythms[0].lengths),))
    assert search_routes(feet, setting(1)) == ()


def test_routes_that_motion_refuses_are_not_offered(monkeypatch: pytest.MonkeyPatch) -> None:
    """The last word on every route has the motion check, whatever the prices say."""
    monkeypatch.setattr(RouteBuilder, "build", lambda *_: None)
    where = setting(1)
    assert search_routes(chain("single paradiddle", where), where) == ()
