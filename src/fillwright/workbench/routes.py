"""Routes from a few options: what to lay on a kit, what comes of it, and the first of them in its phrase."""

from __future__ import annotations

from dataclasses import dataclass, field
from fractions import Fraction
from math import ceil, isinf
from typing import Any

from fillwright.craft.chains.chain import Chain, fill_span, fits, misfit, turn_length
from fillwright.craft.chains.readings import rhythms_held
from fillwright.craft.player.kits import USUAL, find_kit
from fillwright.craft.player.players import find_player
from fillwright.craft.routes.families import TEACHING_ORDER, family_routes
from fillwright.craft.routes.route import DOUBLED, Family, Route, Setting
from fillwright.craft.routes.search import search
from fillwright.craft.routes.taste import Taste
from fillwright.errors import FitError, UnknownNameError
from fillwright.music.figure import Figure, Rhythm
from fillwright.music.grooves import Groove, grooves
from fillwright.music.meter import Meter, meter
from fillwright.music.phrase import Phrase, Span, landing, last_beats, phrase
from fillwright.music.rudiments import find_figure, rhythm
from fillwright.music.sticking import format_slot, parse_sticking
from fillwright.music.stroke import Limb
from fillwright.music.timing import check_tempo
from fillwright.score.sheet import Sheet

_BARS = 4
EVERY_FAMILY = "all"


@dataclass(frozen=True, slots=True, kw_only=True)
class Ask:
    """What is asked for.

    Attributes:
        sticking: the strokes; "" to take a figure.
        figure: name of a rudiment; "" to take the sticking.
        rhythm: note values; "" for the figure's first that fits, sixteenths for a sticking.
        beats: how many last beats; None for a bar of a figure, or for a sticking played once.
        meter: of the phrase.
        tempo: every route must be playable at it.
        kit: name of the kit.
        player: name of the player.
        lead: the hand a figure starts with; None for the player's own.
        taste: what the search looks for.
        family: name of a family, "all" for every one in teaching order, "" to search.
        top: how many routes at most.
        doubled: whether the kick doubles the cymbals that want it.
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
class Routed:
    """Routes, the best or the easiest to teach first, and what they were asked for."""

    title: str
    setting: Setting
    rhythm: Rhythm
    routes: tuple[Route, ...]


def find_routes(ask: Ask) -> Routed:
    """The routes that an ask describes; none where nothing can be played at the tempo.

    Raises:
        FillwrightError: for what can't be read, is not known, or does not fit.
    """
    check_tempo(ask.tempo)
    if ask.top < 1:
        raise FitError(f"The best {ask.top} routes can't be shown; ask for 1 or more.")
    where, kit = meter(ask.meter), find_kit(ask.kit)
    families = _families(ask.family)
    lead = ask.lead or (Limb.LEFT if kit.mirrored else Limb.RIGHT)
    figure = _figure(ask)
    chain, chosen, span = _chain(ask, figure, where, lead if ask.figure else figure.lead)
    setting = Setting(
        span=span,
        meter=where,
        kit=kit,
        player=find_player(ask.player),
        tempo=ask.tempo,
        doubled=DOUBLED if ask.doubled else frozenset(),
    )
    if families:
        found = family_routes(chain, setting, families)[: ask.top]
    else:
        found = search(chain, setting, ask.taste, ask.top)
    name = figure.name[:1].upper() + figure.name[1:]
    return Routed(title=name, setting=setting, rhythm=chosen, routes=found)


def _families(name: str) -> tuple[Family, ...]:
    names = {family.value: (family,) for family in TEACHING_ORDER} | {EVERY_FAMILY: TEACHING_ORDER}
    if name and name not in names:
        raise UnknownNameError.of("family of routes", name, names)
    return names.get(name, ())


def _figure(ask: Ask) -> Figure:
    """The figure asked for, or the sticking as one, with the rhythms it may be read in."""
    if bool(ask.sticking) == bool(ask.figure):
        raise FitError('Routes need one thing to lay out: a sticking such as "R L R R", or a figure.')
    if ask.sticking:
        strokes = parse_sticking(ask.sticking)
        values = rhythm(ask.rhythm or "16", len(strokes))
        return Figure(name="own sticking", group="own", strokes=strokes, rhythms=(values,))
    found = find_figure(ask.figure)
    if not ask.rhythm:
        return found
    values = rhythm(ask.rhythm, len(found.strokes))
    return Figure(
        name=found.name,
        group=found.group,
        strokes=found.strokes,
        rhythms=(values,),
        alternates=found.alternates,
    )


def _chain(ask: Ask, figure: Figure, where: Meter, lead: Limb) -> tuple[Chain, Rhythm, Span]:
    rhythms = rhythms_held(figure, where)
    beats = ask.beats
    if beats is None:
        once = where.beats_in(turn_length(rhythms[0]))
        beats = once if ask.sticking else Fraction(len(where.beats))
    bars = max(_BARS, ceil(beats / len(where.beats)))
    span = last_beats(where, bars, beats)
    fitting = next((one for one in rhythms if fits(one, span, where)), None)
    if fitting is None:
        raise FitError(misfit(figure, rhythms[0], span, where))
    return fill_span(figure, fitting, span, where, lead=lead), fitting, span


def route_phrase(routed: Routed, route: Route) -> Phrase:
    """A route in its phrase, behind the first groove of its meter, landing on the free hand.

    Raises:
        FitError: where no groove has the meter.
    """
    setting = routed.setting
    groove = _groove(setting.meter)
    bars = int(setting.span.end / setting.meter.bar)
    hands = [hit.stroke.hand for hit in route.hits if not hit.stroke.hand.is_foot]
    lands = hands[-1].other if hands else Limb.RIGHT
    if not setting.kit.mirrored:
        return phrase(groove, route.fill, bars=bars, land=landing(setting.meter, lands))
    # the groove and the landing are written for the right; the route is already the left-handed player's
    land = landing(setting.meter, lands.other)
    return phrase(groove, route.fill.mirror(), bars=bars, land=land).mirror()


def _groove(where: Meter) -> Groove:
    found = next((groove for groove in grooves() if groove.meter == where), None)
    if found is None:
        raise FitError(f"There is no groove in {where.name} to play before the fill; choose another meter.")
    return found


def route_sheet(routed: Routed, route: Route) -> Sheet:
    """A route in its phrase, ready to engrave."""
    return Sheet(phrase=route_phrase(routed, route), tempo=f"{routed.setting.tempo:g}", label="Fill")


def route_report(route: Route) -> dict[str, Any]:
    """A route as plain values."""
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
