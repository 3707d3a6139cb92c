"""A workbench for one fill: chains to choose from, routes for each, and any stroke changed by hand.

Everything is reckoned, whether a player can play it or not: what can't be reached is named stroke by stroke.
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
from fillwright.craft.routes.families import family_routes
from fillwright.craft.routes.grade import reason
from fillwright.craft.routes.route import Route, Setting
from fillwright.craft.routes.search import search
from fillwright.craft.routes.taste import Taste
from fillwright.craft.written_fills import OwnFill, reckoned, written_of
from fillwright.errors import FitError
from fillwright.music.figure import Figure
from fillwright.music.grooves import Groove, find_groove
from fillwright.music.meter import Meter
from fillwright.music.phrase import Phrase, landing, phrase
from fillwright.music.stroke import Limb
from fillwright.music.timing import FASTEST, check_tempo
from fillwright.score.sheet import Sheet
from fillwright.workbench.chains import MOST_CHAINS, Asked, Chained, chained

_BARS = 4
_SEARCHED = 8
_SLACK = 1e-9


@dataclass(frozen=True, slots=True, kw_only=True)
class Bench:
    """What a fill is made for.

    Attributes:
        groove: before it; its meter is that of the phrase.
        kit: what it is played on.
        player: name of the player.
        tempo: at which it must be playable, in the meter's beats a minute.
        figures: a teacher's own, which may be chained like the rudiments.
    """

    groove: Groove = field(default_factory=lambda: find_groove("straight eighths"))
    kit: Kit = field(default_factory=lambda: find_kit(USUAL))
    player: str = "steady"
    tempo: int = 80
    figures: tuple[Figure, ...] = ()

    @property
    def meter(self) -> Meter:
        """Of the phrase."""
        return self.groove.meter

    def brief(self, beats: Fraction) -> Brief:
        """What is asked of a fill over so many last beats.

        Raises:
            UnknownNameError: for a player nobody knows.
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
class Tight:
    """A stroke that can't be reached in time.

    Attributes:
        stroke: its number among those of the fill as written, from 0; a doubling kick counts with its cymbal.
        words: what would have to be done, and in what time.
    """

    stroke: int
    words: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Made:
    """A fill on the bench.

    Attributes:
        own: as a teacher would write it.
        kit: what it is played on.
        route: as it is reckoned.
        phrase: groove, fill, landing.
        sheet: the same on paper.
        tight: what can't be reached; empty where it can be played.
    """

    own: OwnFill
    kit: Kit
    route: Route
    phrase: Phrase
    sheet: Sheet
    tight: tuple[Tight, ...]

    @property
    def ceiling(self) -> int | None:
        """The fastest tempo the player can take, in whole beats a minute; None beyond what can be played."""
        bpm = self.route.ceiling_bpm
        return None if isinf(bpm) or bpm > FASTEST else int(bpm)


@dataclass(frozen=True, slots=True, kw_only=True)
class Walk:
    """Where one stands among chains and routes.

    Attributes:
        count: how many chains there are.
        chain: number of the one shown, from 0.
        chains: how many can be walked through, the best first.
        figures: of the chain, in order.
        route: number of the one shown, from 0.
        routes: how many the chain has.
        words: of the route.
        made: the fill.
    """

    count: int
    chain: int
    chains: int
    figures: tuple[str, ...]
    route: int
    routes: int
    words: str
    made: Made


def walk(bench: Bench, figures: tuple[str, ...], beats: Fraction, *, chain: int = 0, route: int = 0) -> Walk:
    """One of the chains of some figures over the last beats, on one of its routes.

    Numbers beyond the last go round.

    Raises:
        FitError: where no chain fills the span, or none of its routes can be played at the tempo.
        UnknownNameError, SpanError: as `lesson.chained.chained`.
    """
    brief = bench.brief(beats)
    found = chained(Asked(figures=figures, own=bench.figures, beats=beats, meter=bench.meter.name))
    chains = min(found.space.count, MOST_CHAINS)
    if not chains:
        raise FitError(f"No chain of {_listed(figures)} fills {found.words}; try another span or more figures.")
    number = chain % chains
    filling = found.best(number + 1)[number]
    routes = _routes(found, brief, number)
    if not routes:
        raise FitError(f"Nothing of this chain can be played at {bench.tempo}; try a slower tempo.")
    place = route % len(routes)
    chosen = routes[place]
    return Walk(
        count=found.space.count,
        chain=number,
        chains=chains,
        figures=tuple(reading.figure.name for reading in filling.chain.readings),
        route=place,
        routes=len(routes),
        words=chosen.words,
        made=_made(bench, written_of(chosen, name=chosen.words, beats=beats), brief),
    )


def rerouted(bench: Bench, own: OwnFill, number: int) -> Walk:
    """The strokes of a fill on another of their routes; numbers beyond the last go round.

    Raises:
        FitError: where none of them can be played at the tempo, and as `tried`.
    """
    brief = bench.brief(own.beats)
    span = reckoned(own, brief).span
    strokes = Figure(name=own.name, group="own", strokes=own.slots, rhythms=(own.rhythm,))
    lead = next(stroke.hand for stroke in own.slots if stroke)
    reading = Reading(figure=strokes, lead=lead, lengths=own.rhythm.lengths)
    routes = _laid(Chain(readings=(reading,)), brief.setting(span))
    if not routes:
        raise FitError(f"These strokes can't be played anywhere at {bench.tempo}; try a slower tempo.")
    place = number % len(routes)
    chosen = routes[place]
    return Walk(
        count=1,
        chain=0,
        chains=1,
        figures=(own.name,),
        route=place,
        routes=len(routes),
        words=chosen.words,
        made=_made(bench, written_of(chosen, name=own.name, beats=own.beats), brief),
    )


def tried(bench: Bench, own: OwnFill) -> Made:
    """A fill as written, reckoned.

    Raises:
        FitError: where strokes, surfaces and span don't come out even, or the kit lacks a surface.
        SpanError: where the phrase has not so many beats.
        UnknownNameError: for a player nobody knows.
    """
    return _made(bench, own, bench.brief(own.beats))


def _routes(found: Chained, brief: Brief, number: int) -> tuple[Route, ...]:
    """Routes in teaching order, then what the search finds, no two alike; none beside a remainder."""
    filling = found.best(number + 1)[number]
    return () if filling.tail else _laid(filling.chain, brief.setting(found.span))


def _laid(chain: Chain, setting: Setting) -> tuple[Route, ...]:
    routes = {(one.hits, one.graces_on): one for one in family_routes(chain, setting)}
    for one in search(chain, setting, Taste(kick=True), _SEARCHED):
        routes.setdefault((one.hits, one.graces_on), one)
    return tuple(routes.values())


def _made(bench: Bench, own: OwnFill, brief: Brief) -> Made:
    route = reckoned(own, brief)
    hands = [stroke.hand for stroke in own.slots if stroke]
    lands = hands[-1].other if hands else Limb.RIGHT
    played = phrase(bench.groove, route.fill, bars=brief.bars, land=landing(bench.meter, lands))
    return Made(
        own=own,
        kit=bench.kit,
        route=route,
        phrase=played,
        sheet=Sheet(phrase=played, tempo=str(bench.tempo), label="Fill"),
        tight=_tight(route, brief),
    )


def _tight(route: Route, brief: Brief) -> tuple[Tight, ...]:
    whole = brief.setting(route.span).whole_seconds
    own = {at: number for number, at in enumerate(dict.fromkeys(hit.at for hit in route.hits))}
    found: dict[int, Tight] = {}
    for demand in route.demands:
        if demand.at(whole) > 1 + _SLACK:
            stroke = own[route.hits[demand.stroke].at]
            words = reason((demand,), route.hits, route.span, brief.meter, whole)
            found.setdefault(
                stroke, Tight(stroke=stroke, words=f"{words}, needs {_needed(demand.needed_seconds)}")
            )
    return tuple(found.values())


def _needed(seconds: float) -> str:
    return "more than there is" if seconds == inf else f"{round(seconds * 1000)} ms"


def _listed(names: tuple[str, ...]) -> str:
    return " and ".join(names) if names else "the rudiments"
