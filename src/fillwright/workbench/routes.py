"""Routes from options, and a route in its phrase, without a lesson file."""

from __future__ import annotations

from dataclasses import dataclass, field
from fractions import Fraction
from math import ceil, isinf
from typing import Any

from fillwright.craft.chains.chain import Chain, describe_misfit, fill_span, fits_span
from fillwright.craft.chains.readings import require_rhythms
from fillwright.craft.player.kits import USUAL, find_kit
from fillwright.craft.player.players import find_player
from fillwright.craft.routes.families import TEACHING_ORDER, find_family_routes
from fillwright.craft.routes.route import DOUBLED, Family, Route, Setting
from fillwright.craft.routes.search import search_routes
from fillwright.craft.routes.taste import Taste
from fillwright.errors import FitError, UnknownNameError
from fillwright.music.figure import Figure, Rhythm
from fillwright.music.grooves import Groove, load_grooves
from fillwright.music.meter import Meter, find_meter
from fillwright.music.phrase import Phrase, Span, build_landing, build_phrase, locate_last_beats
from fillwright.music.rudiments import find_figure, parse_rhythm
from fillwright.music.sticking import format_slot, parse_sticking
from fillwright.music.stroke import Limb
from fillwright.music.timing import check_tempo
from fillwright.score.sheet import Sheet

_BARS = 4  # of the phrase around a route; ours
EVERY_FAMILY = "all"


@dataclass(frozen=True, slots=True, kw_only=True)
class RouteRequest:
    """A choice of strokes, span, kit and player for routes.

    Attributes:
        sticking: the strokes; "" to take a figure.
        figure: name of a rudiment; "" to take the sticking.
        rhythm: note values; "" for the figure's first that fits, sixteenths for a sticking.
        beats: number of last beats; None for a bar of a figure, or for a sticking played once.
        meter: of the phrase.
        tempo: in bpm; every route must be playable at it.
        kit: name of the kit.
        player: name of the player.
        lead: the hand a figure starts with; None for the player's own.
        taste: preferences of the search.
        family: name of a family, "all" for every one in teaching order, "" to search.
        top: most routes.
        doubled: True if the kick doubles crashes, splashes and chinas.
    """

    sticking: str = ""
    figure: str = ""
    rhythm: str = ""
    beats: Fraction | None = None
    meter: str = "4/4"
    tempo: float = 80
    kit: str = USUAL
    player: str = "gigging"
    lead: Limb | None = None
    taste: Taste = field(default_factory=Taste)
    family: str = ""
    top: int = 12
    doubled: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class RouteSet:
    """Routes, the best or the easiest to teach first, and their setting."""

    title: str
    setting: Setting
    rhythm: Rhythm
    routes: tuple[Route, ...]


def find_routes(request: RouteRequest) -> RouteSet:
    """Find the routes of a request; none where nothing can be played at the tempo.

    Raises:
        FillwrightError: for a text that can't be read, an unknown name, or values that don't fit together.
    """
    check_tempo(request.tempo)
    if request.top < 1:
        raise FitError(f"The best {request.top} routes can't be shown; ask for 1 or more.")
    where, kit = find_meter(request.meter), find_kit(request.kit)
    families = _find_families(request.family)
    lead = request.lead or (Limb.LEFT if kit.mirrored else Limb.RIGHT)
    figure = _find_figure(request)
    chain, chosen, span = _build_chain(request, figure, where, lead if request.figure else figure.lead)
    setting = Setting(
        span=span,
        meter=where,
        kit=kit,
        player=find_player(request.player),
        tempo=request.tempo,
        doubled=DOUBLED if request.doubled else frozenset(),
    )
    if families:
        routes = find_family_routes(chain, setting, families)[: request.top]
    else:
        routes = search_routes(chain, setting, request.taste, request.top)
    name = figure.name[:1].upper() + figure.name[1:]
    return RouteSet(title=name, setting=setting, rhythm=chosen, routes=routes)


def _find_families(name: str) -> tuple[Family, ...]:
    names = {family.value: (family,) for family in TEACHING_ORDER} | {EVERY_FAMILY: TEACHING_ORDER}
    if name and name not in names:
        raise UnknownNameError.of("family of routes", name, names)
    return names.get(name, ())


def _find_figure(request: RouteRequest) -> Figure:
    """Return the figure of a request, or its sticking as a figure, with the rhythms it may be read in."""
    if bool(request.sticking) == bool(request.figure):
        raise FitError('Give either a sticking such as "R L R R", or a figure.')
    if request.sticking:
        strokes = parse_sticking(request.sticking)
        values = parse_rhythm(request.rhythm or "16", len(strokes))
        return Figure(name="own sticking", group="own", strokes=strokes, rhythms=(values,))
    figure = find_figure(request.figure)
    if not request.rhythm:
        return figure
    values = parse_rhythm(request.rhythm, len(figure.strokes))
    return Figure(
        name=figure.name,
        group=figure.group,
        strokes=figure.strokes,
        rhythms=(values,),
        alternates=figure.alternates,
    )


def _build_chain(request: RouteRequest, figure: Figure, where: Meter, lead: Limb) -> tuple[Chain, Rhythm, Span]:
    rhythms = require_rhythms(figure, where)
    beats = request.beats
    if beats is None:
        once = where.count_beats(rhythms[0].length)
        beats = once if request.sticking else Fraction(len(where.beats))
    bars = max(_BARS, ceil(beats / len(where.beats)))
    span = locate_last_beats(where, bars, beats)
    fitting = next((rhythm for rhythm in rhythms if fits_span(rhythm, span, where)), None)
    if fitting is None:
        raise FitError(describe_misfit(figure, rhythms[0], span, where))
    return fill_span(figure, fitting, span, where, lead=lead), fitting, span


def build_route_phrase(route_set: RouteSet, route: Route) -> Phrase:
    """Build the phrase of a route: the first groove of its meter, the fill, and a landing with the free hand.

    Raises:
        FitError: where no groove has the meter.
    """
    setting = route_set.setting
    groove = _find_groove(setting.meter)
    bars = int(setting.span.end / setting.meter.bar)
    hands = [hit.stroke.hand for hit in route.hits if not hit.stroke.hand.is_foot]
    lands = hands[-1].other if hands else Limb.RIGHT
    if not setting.kit.mirrored:
        return build_phrase(groove, route.fill, bars=bars, land=build_landing(setting.meter, lands))
    # the groove and the landing are written for the right; the route is already the left-handed player's
    land = build_landing(setting.meter, lands.other)
    return build_phrase(groove, route.fill.mirror(), bars=bars, land=land).mirror()


def _find_groove(where: Meter) -> Groove:
    groove = next((groove for groove in load_grooves() if groove.meter == where), None)
    if groove is None:
        raise FitError(f"There is no groove in {where.name} to play before the fill; choose another meter.")
    return groove


def build_route_sheet(route_set: RouteSet, route: Route) -> Sheet:
    """Build the sheet of a route in its phrase."""
    return Sheet(
        phrase=build_route_phrase(route_set, route), tempo=f"{route_set.setting.tempo:g}", label="Fill"
    )


def describe_route(route: Route) -> dict[str, Any]:
    """Return a route as `--json` prints it."""
    by_foot = {hit.at for hit in route.hits if hit.stroke.hand.is_foot}
    strokes = route.strokes
    graces = {
        number: on
        for number, (hit, on) in enumerate(
            (hit, on) for hit, on in zip(route.hits, route.graces_on, strict=True) if hit in strokes
        )
        if on != hit.surface.name
    }
    return {
        "family": route.family.value,
        "step": route.step,
        "description": route.words,
        "surfaces": list(route.surfaces),
        "sticking": " ".join("K" if hit.stroke.hand.is_foot else format_slot(hit.stroke) for hit in strokes),
        "doubled": [n for n, h in enumerate(strokes) if not h.stroke.hand.is_foot and h.at in by_foot],
        "graces_on": {str(number): name for number, name in graces.items()},
        "ceiling_bpm": None if isinf(route.ceiling_bpm) else round(route.ceiling_bpm, 1),
        "peak_demand": round(route.peak_demand, 3),
        "grade": route.grade,
        "reason": route.reason,
        "travel_cm": {"right": round(route.right_cm), "left": round(route.left_cm)},
        "crossings": route.crossings,
    }
