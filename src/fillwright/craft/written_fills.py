"""Written fills: strokes, rhythm and surfaces from a teacher, checked and graded like any other fill."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from fractions import Fraction

from fillwright.craft.brief import Brief, StepKind
from fillwright.craft.chains.chain import PlacedStroke
from fillwright.craft.routes.route import Family, Orchestration, Route, RouteBuilder, RoutedStroke
from fillwright.craft.steps import Step, describe_span
from fillwright.errors import FitError
from fillwright.music.figure import Rhythm
from fillwright.music.notevalue import format_beats
from fillwright.music.phrase import locate_last_beats
from fillwright.music.rudiments import name_rhythm
from fillwright.music.stroke import Limb, Slot
from fillwright.music.surfaces import find_surface

_JOINS = " with "


@dataclass(frozen=True, slots=True, kw_only=True)
class WrittenFill:
    """A fill as a teacher writes it, for a right-handed player.

    Attributes:
        name: its name.
        beats: number of last beats it takes.
        slots: strokes and rests.
        rhythm: one note value for each slot.
        on: the surface of each stroke, rests not counted; "floor tom with snare" puts grace notes on the snare.
    """

    name: str
    beats: Fraction
    slots: tuple[Slot, ...]
    rhythm: Rhythm
    on: tuple[str, ...]


def parse_surfaces(text: str) -> tuple[str, str]:
    """Read the surface of a stroke and that of its grace notes, "" for the same.

    Raises:
        UnknownNameError: for an unknown surface.

    >>> parse_surfaces("floor tom with snare")
    ('floor tom', 'snare')
    """
    main, _, graces = text.partition(_JOINS)
    return find_surface(main.strip()).name, find_surface(graces.strip()).name if graces else ""


def format_surfaces(main: str, graces: str) -> str:
    """Write both surfaces as in a lesson file.

    >>> format_surfaces("floor tom", "snare"), format_surfaces("snare", "snare"), format_surfaces("snare", "")
    ('floor tom with snare', 'snare', 'snare')
    """
    return f"{main}{_JOINS}{graces}" if graces and graces != main else main


def route_fill(fill: WrittenFill, brief: Brief) -> Route:
    """Build the route of a written fill, playable or not; its demands show the strokes that are too fast.

    Raises:
        FitError: for numbers of strokes, surfaces and beats that don't match, a surface that the kit lacks, or
            a foot on another surface than the kick.
        SpanError: for more beats than the phrase has.
    """
    span = locate_last_beats(brief.meter, brief.bars, fill.beats)
    _check(fill, brief, span.length)
    orchestration = Orchestration(family=Family.SEARCH, words=fill.name, strokes=tuple(_route_strokes(fill)))
    return RouteBuilder(brief.setting(span)).build_unchecked(orchestration)


def make_step(fill: WrittenFill, brief: Brief) -> Step:
    """Build the step of a written fill in a figure's lesson.

    Raises:
        FitError: as `route_fill`, and for a fill that is too fast for the player at the slowest tempo.
        SpanError: for more beats than the phrase has.
    """
    route = route_fill(fill, brief)
    if route.peak_demand > 1:
        raise FitError(f"{fill.name} is too fast for this player at {brief.tempo} bpm: {route.reason}.")
    hands = [stroke.hand for stroke in fill.slots if stroke]
    return Step(
        kind=StepKind.OWN_SPAN,
        caption=f"{describe_span(route.span, brief.meter)}, {fill.name}",
        figure=brief.figure,
        rhythms=(fill.rhythm,),
        route=route,
        lands=hands[-1].other if hands else Limb.RIGHT,
    )


def _check(fill: WrittenFill, brief: Brief, length: Fraction) -> None:
    strokes = sum(slot is not None for slot in fill.slots)
    if len(fill.on) != strokes:
        raise FitError(
            f"{fill.name} has {strokes} strokes and {len(fill.on)} surfaces; name one for each stroke."
        )
    taken = sum(fill.rhythm.lengths, Fraction(0))
    if taken != length:
        beats = format_beats(brief.meter.count_beats(taken))
        target = format_beats(fill.beats)
        raise FitError(f"{fill.name} takes {beats}, but its span is the last {target}; make them the same.")
    for text in dict.fromkeys(fill.on):
        _check_surface(fill, brief, *parse_surfaces(text))


def _check_surface(fill: WrittenFill, brief: Brief, main: str, graces: str) -> None:
    for name in (main, graces):
        if name and not brief.kit.has(name):
            raise FitError(
                f"{fill.name} uses the {name}, but the {brief.kit.name} kit doesn't have one; "
                "choose another surface."
            )
    if main != "kick" and find_surface(main).foot:
        raise FitError(f"{fill.name} uses the {main}; the only surface for a foot in a fill is the kick.")
    if graces and find_surface(graces).foot:
        raise FitError(f"{fill.name} has grace notes on the {graces}; put them on a surface for hands.")


def _route_strokes(fill: WrittenFill) -> Iterator[RoutedStroke]:
    at = Fraction(0)
    places = iter(fill.on)
    last = max(index for index, slot in enumerate(fill.slots) if slot)
    for index, (slot, length) in enumerate(zip(fill.slots, fill.rhythm.lengths, strict=True)):
        if slot:
            main, graces = parse_surfaces(next(places))
            placed = PlacedStroke(at=at, length=length, stroke=slot, statement=0, last=index == last)
            yield RoutedStroke(placed=placed, surface=main, graces_on=graces)
        at += length


def write_fill(route: Route, *, name: str, beats: Fraction) -> WrittenFill:
    """Write a route as a teacher would; `route_fill` gives the same hits again.

    A stroke of the kick is written as one of the hand that would be next. Kicks that double a cymbal are not
    written; they are added again.
    """
    by_hand = {hit.at for hit in route.hits if not hit.stroke.hand.is_foot}
    places: list[tuple[Slot, Fraction]] = []
    on: list[str] = []
    at = Fraction(0)
    hand = Limb.LEFT
    for hit, graces in zip(route.hits, route.graces_on, strict=True):
        by_foot = hit.stroke.hand.is_foot
        if by_foot and hit.at in by_hand:
            continue
        places += [(None, length) for length in _split_rest(hit.at - at)]
        hand = hand.other if by_foot else hit.stroke.hand
        places.append((replace(hit.stroke, hand=hand), hit.length))
        on.append(format_surfaces(hit.surface.name, graces))
        at = hit.at + hit.length
    places += [(None, length) for length in _split_rest(route.span.length - at)]
    return WrittenFill(
        name=name,
        beats=beats,
        slots=tuple(slot for slot, _ in places),
        rhythm=name_rhythm(tuple(length for _, length in places)),
        on=tuple(on),
    )


def _split_rest(length: Fraction) -> Iterator[Fraction]:
    """Yield the note values of a rest, the longest first."""
    third = Fraction(2, 3) if length.denominator % 3 == 0 else Fraction(1)
    value = Fraction(1) * third
    while length > 0:
        while value > length:
            value /= 2
        yield value
        length -= value
