"""Editing of one fill: chains to choose from, routes for each, and any stroke changed by hand.

Every fill is calculated, playable or not: strokes that can't be reached are listed one by one.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from fractions import Fraction
from math import inf, isinf

from fillwright.craft.brief import Brief
from fillwright.craft.chains.chain import Chain
from fillwright.craft.chains.readings import Reading
from fillwright.craft.player.kits import USUAL, Kit, find_kit
from fillwright.craft.player.players import find_player
from fillwright.craft.routes.families import find_family_routes
from fillwright.craft.routes.grade import describe_tightest_move
from fillwright.craft.routes.route import Route, Setting
from fillwright.craft.routes.search import search_routes
from fillwright.craft.routes.taste import Taste
from fillwright.craft.written_fills import WrittenFill, route_fill, write_fill
from fillwright.errors import FitError
from fillwright.music.figure import Figure
from fillwright.music.grooves import Groove, find_groove
from fillwright.music.meter import Meter
from fillwright.music.phrase import Phrase, build_landing, build_phrase
from fillwright.music.stroke import Limb
from fillwright.music.timing import FASTEST, check_tempo
from fillwright.score.sheet import Sheet
from fillwright.workbench.chains import MOST_CHAINS, ChainRequest, find_chains

_BARS = 4  # of the phrase around a fill; ours
_SEARCHED = 8  # routes that the search adds to those in teaching order; ours
_SLACK = 1e-9  # share of a gap: rounding of floating-point numbers


@dataclass(frozen=True, slots=True, kw_only=True)
class EditSettings:
    """Settings that a fill is edited for.

    Attributes:
        groove: before it; its meter is that of the phrase.
        kit: it is played on.
        player: name of the player.
        tempo: at which it must be playable, in bpm (beats of the meter).
        figures: a teacher's own, which may be chained like the rudiments.
    """

    groove: Groove = field(default_factory=lambda: find_groove("straight eighths"))
    kit: Kit = field(default_factory=lambda: find_kit(USUAL))
    player: str = "steady"
    tempo: int = 80
    figures: tuple[Figure, ...] = ()

    @property
    def meter(self) -> Meter:
        """Meter of the phrase."""
        return self.groove.meter

    def make_brief(self, beats: Fraction) -> Brief:
        """Make the brief of a fill over some last beats.

        Raises:
            UnknownNameError: for an unknown player.
            TempoError: for a tempo that can't be played.
        """
        check_tempo(self.tempo)
        slots = Figure(name="fill of one's own", group="own", strokes=(), rhythms=())
        return Brief(
            figure=slots,
            meter=self.meter,
            bars=max(_BARS, -int(-beats // len(self.meter.beats))),
            kit=self.kit,
            player=find_player(self.player),
            tempo=self.tempo,
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class UnreachableStroke:
    """A stroke that can't be reached in time.

    Attributes:
        stroke: its number among those of the fill as written, from 0; a doubling kick counts with its cymbal.
        words: the movement and the time that it needs.
    """

    stroke: int
    words: str


@dataclass(frozen=True, slots=True, kw_only=True)
class EditedFill:
    """A fill that is being edited.

    Attributes:
        written: as a teacher would write it.
        kit: it is played on.
        route: surfaces, demands and grade.
        phrase: groove, fill, landing.
        sheet: of the phrase.
        unreachable: strokes that the player can't reach; empty for a playable fill.
    """

    written: WrittenFill
    kit: Kit
    route: Route
    phrase: Phrase
    sheet: Sheet
    unreachable: tuple[UnreachableStroke, ...]

    @property
    def ceiling(self) -> int | None:
        """Fastest playable tempo, in whole bpm; None above the fastest tempo that the program plays."""
        bpm = self.route.ceiling_bpm
        return None if isinf(bpm) or bpm > FASTEST else int(bpm)


@dataclass(frozen=True, slots=True, kw_only=True)
class ChainChoice:
    """A chosen chain and route, and the number of others.

    Attributes:
        count: number of all chains.
        chain: number of the chosen one, from 0.
        chains: number of chains to choose from, the best first.
        figures: of the chain, in order.
        route: number of the chosen route, from 0.
        routes: number of routes of the chain.
        words: of the route.
        fill: the chain on the route.
    """

    count: int
    chain: int
    chains: int
    figures: tuple[str, ...]
    route: int
    routes: int
    words: str
    fill: EditedFill


def choose_chain(
    settings: EditSettings, figures: tuple[str, ...], beats: Fraction, *, chain: int = 0, route: int = 0
) -> ChainChoice:
    """Choose a chain of some figures over the last beats, and one of its routes.

    Numbers above the last start again from the first.

    Raises:
        FitError: where no chain fills the span, or none of its routes can be played at the tempo.
        UnknownNameError, SpanError: as `find_chains`.
    """
    brief = settings.make_brief(beats)
    chain_set = find_chains(
        ChainRequest(figures=figures, own=settings.figures, beats=beats, meter=settings.meter.name)
    )
    chains = min(chain_set.space.count, MOST_CHAINS)
    if not chains:
        raise FitError(
            f"No chain of {_list_figures(figures)} fills {chain_set.words}; try another span or more figures."
        )
    number = chain % chains
    filling = chain_set.list_best(number + 1)[number]
    routes = () if filling.tail else _list_routes(filling.chain, brief.setting(chain_set.span))
    if not routes:
        raise FitError(f"This chain can't be played at {settings.tempo} bpm; try a slower tempo.")
    number_of_route = route % len(routes)
    chosen = routes[number_of_route]
    return ChainChoice(
        count=chain_set.space.count,
        chain=number,
        chains=chains,
        figures=tuple(reading.figure.name for reading in filling.chain.readings),
        route=number_of_route,
        routes=len(routes),
        words=chosen.words,
        fill=_build_fill(settings, write_fill(chosen, name=chosen.words, beats=beats), brief),
    )


def choose_route(settings: EditSettings, written: WrittenFill, number: int) -> ChainChoice:
    """Move the strokes of a fill to another of their routes; numbers above the last start again from the first.

    Raises:
        FitError: where none of them can be played at the tempo, and as `check_fill`.
    """
    brief = settings.make_brief(written.beats)
    span = route_fill(written, brief).span
    strokes = Figure(name=written.name, group="own", strokes=written.slots, rhythms=(written.rhythm,))
    lead = next(stroke.hand for stroke in written.slots if stroke)
    reading = Reading(figure=strokes, lead=lead, lengths=written.rhythm.lengths)
    routes = _list_routes(Chain(readings=(reading,)), brief.setting(span))
    if not routes:
        raise FitError(f"No route of these strokes can be played at {settings.tempo} bpm; try a slower tempo.")
    number_of_route = number % len(routes)
    chosen = routes[number_of_route]
    return ChainChoice(
        count=1,
        chain=0,
        chains=1,
        figures=(written.name,),
        route=number_of_route,
        routes=len(routes),
        words=chosen.words,
        fill=_build_fill(settings, write_fill(chosen, name=written.name, beats=written.beats), brief),
    )


def check_fill(settings: EditSettings, written: WrittenFill) -> EditedFill:
    """Check a fill that a teacher wrote, and calculate its route.

    Raises:
        FitError: where strokes, surfaces and span don't match, or the kit lacks a surface.
        SpanError: where the phrase is shorter.
        UnknownNameError: for an unknown player.
    """
    return _build_fill(settings, written, settings.make_brief(written.beats))


def _list_routes(chain: Chain, setting: Setting) -> tuple[Route, ...]:
    """Return routes in teaching order, then those that the search adds, no two alike."""
    routes = {(route.hits, route.graces_on): route for route in find_family_routes(chain, setting)}
    for route in search_routes(chain, setting, Taste(kick=True), _SEARCHED):
        routes.setdefault((route.hits, route.graces_on), route)
    return tuple(routes.values())


def _build_fill(settings: EditSettings, written: WrittenFill, brief: Brief) -> EditedFill:
    route = route_fill(written, brief)
    hands = [stroke.hand for stroke in written.slots if stroke]
    lands = hands[-1].other if hands else Limb.RIGHT
    landing = build_landing(settings.meter, lands)
    phrase = build_phrase(settings.groove, route.fill, bars=brief.bars, land=landing)
    return EditedFill(
        written=written,
        kit=settings.kit,
        route=route,
        phrase=phrase,
        sheet=Sheet(phrase=phrase, tempo=str(settings.tempo), label="Fill"),
        unreachable=_find_unreachable(route, brief),
    )


def _find_unreachable(route: Route, brief: Brief) -> tuple[UnreachableStroke, ...]:
    whole_seconds = brief.setting(route.span).whole_seconds
    numbers = {at: number for number, at in enumerate(dict.fromkeys(hit.at for hit in route.hits))}
    unreachable: dict[int, UnreachableStroke] = {}
    for demand in route.demands:
        if demand.at(whole_seconds) > 1 + _SLACK:
            stroke = numbers[route.hits[demand.stroke].at]
            words = describe_tightest_move((demand,), route.hits, route.span, brief.meter, whole_seconds)
            unreachable.setdefault(
                stroke,
                UnreachableStroke(stroke=stroke, words=f"{words}, needs {_format_time(demand.needed_seconds)}"),
            )
    return tuple(unreachable.values())


def _format_time(seconds: float) -> str:
    return "more than there is" if seconds == inf else f"{round(seconds * 1000)} ms"


def _list_figures(names: tuple[str, ...]) -> str:
    return " and ".join(names) if names else "the rudiments"
