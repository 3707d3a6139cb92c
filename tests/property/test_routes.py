"""What no route may do, whatever the chain, the kit, the player, the tempo, the family or the taste.

The rules are reckoned here from the kit's plan and the player's times, not by asking the motion check again.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise
from math import hypot, log2

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from fillwright.craft.chains.chain import Chain, repeat_figure
from fillwright.craft.chains.readings import Reading
from fillwright.craft.player.kits import load_kits
from fillwright.craft.player.motion import Motion
from fillwright.craft.player.players import load_players
from fillwright.craft.routes.families import TEACHING_ORDER, find_family_routes
from fillwright.craft.routes.route import DOUBLED, Route, Setting
from fillwright.craft.routes.search import search_routes
from fillwright.craft.routes.taste import Taste
from fillwright.music.figure import Figure, Rhythm
from fillwright.music.meter import find_meter, list_meters
from fillwright.music.phrase import Span
from fillwright.music.rudiments import load_rudiments
from fillwright.music.stroke import Kind, Level, Limb, Stroke

HANDS = st.sampled_from([Limb.RIGHT, Limb.LEFT])
LENGTHS = st.sampled_from([Fraction(1, n) for n in (4, 6, 8, 12, 16, 24, 32)])
STROKES = st.builds(
    Stroke, hand=HANDS, kind=st.sampled_from([Kind.SINGLE, Kind.SINGLE, *Kind]), level=st.sampled_from(Level)
)
SLOTS = st.one_of(STROKES, STROKES, STROKES, st.none())
TASTES = st.builds(
    Taste,
    away=st.floats(0, 1),
    surfaces=st.integers(1, 6),
    regular=st.floats(0, 1),
    cymbals=st.booleans(),
    kick=st.booleans(),
)
SLOW = settings(deadline=None, max_examples=60, suppress_health_check=[HealthCheck.too_slow])


@st.composite
def own_chains(draw: st.DrawFn) -> Chain:
    """A few strokes of anyone's, played once or several times."""
    slots = draw(st.lists(SLOTS, min_size=1, max_size=7).filter(any))
    lengths = draw(st.one_of(st.lists(LENGTHS, min_size=len(slots), max_size=len(slots)), LENGTHS))
    each = tuple(lengths) if isinstance(lengths, list) else (lengths,) * len(slots)
    figure = Figure(
        name="own",
        group="own",
        strokes=tuple(slots),
        rhythms=(Rhythm(name="own", lengths=each),),
        alternates=draw(st.booleans()),
    )
    return repeat_figure(figure, figure.rhythms[0], draw(st.integers(1, 3)), draw(HANDS))


@st.composite
def rudiment_chains(draw: st.DrawFn) -> Chain:
    """Some rudiments end to end, one of them perhaps kicked at its end."""
    readings = []
    for _ in range(draw(st.integers(1, 3))):
        figure = draw(st.sampled_from(load_rudiments()))
        rhythm = draw(st.sampled_from(figure.rhythms))
        readings.append(Reading(figure=figure, lead=draw(HANDS), lengths=rhythm.lengths))
    chain = Chain(readings=tuple(readings))
    return chain.then(kicked()) if draw(st.booleans()) else chain


def kicked() -> Chain:
    """A chain of one stroke of the foot, as fills a remainder."""
    lengths = (Fraction(1, 8),)
    figure = Figure(
        name="kick",
        group="own",
        strokes=(Stroke(hand=Limb.RIGHT_FOOT),),
        rhythms=(Rhythm(name="eighth", lengths=lengths),),
    )
    return Chain(readings=(Reading(figure=figure, lead=Limb.RIGHT_FOOT, lengths=lengths),))


CHAINS = st.one_of(own_chains(), rudiment_chains())


@st.composite
def settings_for(draw: st.DrawFn, chain: Chain) -> Setting:
    """Someone at some kit at some tempo, with the rule of the kick on or off."""
    start = draw(st.integers(0, 12)) * Fraction(1, 8)
    return Setting(
        span=Span(start=start, length=chain.length),
        meter=find_meter(draw(st.sampled_from(list_meters()))),
        kit=draw(st.sampled_from([*load_kits().values()])),
        player=draw(st.sampled_from([*load_players().values()])),
        tempo=draw(st.floats(20, 240)),
        doubled=draw(st.sampled_from([DOUBLED, DOUBLED, DOUBLED | {"ride bow"}, frozenset()])),
    )


@SLOW
@given(st.data())
def test_no_family_breaks_a_rule(data: st.DataObject) -> None:
    chain = data.draw(CHAINS)
    setting = data.draw(settings_for(chain))
    for route in find_family_routes(chain, setting, TEACHING_ORDER):
        check(route, chain, setting)


@SLOW
@given(st.data())
def test_no_search_breaks_a_rule(data: st.DataObject) -> None:
    chain = data.draw(CHAINS)
    setting = data.draw(settings_for(chain))
    for route in search_routes(chain, setting, data.draw(TASTES), 4):
        check(route, chain, setting)


@SLOW
@given(st.data())
def test_the_other_lead_on_the_mirrored_kit_is_the_same_route_mirrored(data: st.DataObject) -> None:
    chain = data.draw(own_chains())
    setting = replace(data.draw(settings_for(chain)), kit=load_kits()["five-piece"])
    left = replace(setting, kit=load_kits()["left-handed"])
    other = Chain(readings=tuple(replace(reading, lead=reading.lead.other) for reading in chain.readings))
    ours, theirs = find_family_routes(chain, setting), find_family_routes(other, left)
    assert [route.surfaces for route in ours] == [route.surfaces for route in theirs]
    assert [route.grade for route in ours] == [route.grade for route in theirs]


def check(route: Route, chain: Chain, setting: Setting) -> None:
    """Every rule."""
    check_chain(route, chain)
    assert {hit.surface.name for hit in route.hits} <= setting.kit.spots.keys()
    assert set(route.graces_on) <= setting.kit.spots.keys()
    check_kicks(route, setting)
    check_hands(route, setting)
    check_facts(route, setting)


def check_chain(route: Route, chain: Chain) -> None:
    """Times and hands are those of the chain, but for strokes handed to the foot."""
    placed = tuple(chain.place_strokes())
    assert [hit.at for hit in route.strokes] == [one.at for one in placed]
    for hit, one in zip(route.strokes, placed, strict=True):
        if hit.stroke.hand.is_foot:
            assert hit.surface.name == "kick"
        else:
            assert hit.stroke.hand is one.stroke.hand
            assert hit.surface.foot is None


def check_kicks(route: Route, setting: Setting) -> None:
    """No cymbal that wants the kick is without it, and the kick is one foot's."""
    kicks = [hit.at for hit in route.hits if hit.surface.name == "kick"]
    assert len(kicks) == len(set(kicks))
    assert {hit.stroke.hand for hit in route.hits if hit.surface.name == "kick"} <= {setting.kick_foot}
    for hit in route.hits:
        if hit.surface.name in setting.doubled:
            assert hit.at in kicks


def check_hands(route: Route, setting: Setting) -> None:
    """No limb is in two places at once, and none moves faster than the player can."""
    player, whole = setting.player, setting.whole_seconds
    struck: dict[Limb, list[tuple[float, str, bool]]] = defaultdict(list)
    for hit, graces_on in zip(route.hits, route.graces_on, strict=True):
        at, hand = float(hit.at) * whole, hit.stroke.hand
        if hit.stroke.kind.graces:
            struck[hand.other].append((at, graces_on, True))
        struck[hand].append((at, hit.surface.name, False))
    for limb, own in struck.items():
        for (sooner, before, ornament), (later, after, graced) in pairwise(own):
            gap = later - sooner + 1e-9
            assert gap > 0.02
            if limb.is_foot:
                assert gap >= player.kick_rebound_seconds
            elif before == after:
                assert gap >= player.rebound_seconds
            elif not (ornament or graced):
                assert gap >= player.stroke_seconds + bits(setting, before, after) * player.bit_seconds
            else:
                assert gap >= player.stroke_seconds * player.grace


def bits(setting: Setting, before: str, after: str) -> float:
    start, end = setting.kit.spots[before], setting.kit.spots[after]
    return log2(hypot(start.x - end.x, start.y - end.y) / end.size + 1)


def check_facts(route: Route, setting: Setting) -> None:
    """What a route says of itself."""
    assert all(demand.at(setting.whole_seconds) <= 1 + 1e-9 for demand in route.demands)
    again = Motion(setting.kit, setting.player)
    assert again.demands(again.touches(route.hits, route.graces_on)) == route.demands
    assert route.ceiling_bpm >= setting.tempo * (1 - 1e-9)
    assert 1 <= route.grade <= 10
    assert one_sentence(route.reason)
    assert min(route.right_cm, route.left_cm, route.crossings) >= 0


def one_sentence(text: str) -> bool:
    words: Sequence[str] = text.split()
    return len(words) > 3 and not any(word.endswith((".", ";")) for word in words)
