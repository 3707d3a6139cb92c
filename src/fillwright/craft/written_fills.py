"""Fills of a teacher's own: strokes, rhythm and surfaces as written, reckoned like any other."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from fractions import Fraction

from fillwright.craft.brief import Brief, StepKind
from fillwright.craft.chains.chain import Placed
from fillwright.craft.routes.route import Family, Laid, Layout, Maker, Route
from fillwright.craft.steps import Step, span_words
from fillwright.errors import FitError
from fillwright.music.figure import Rhythm
from fillwright.music.notevalue import in_words
from fillwright.music.phrase import last_beats
from fillwright.music.rudiments import named_rhythm
from fillwright.music.stroke import Limb, Slot
from fillwright.music.surfaces import surface

_JOINS = " with "


@dataclass(frozen=True, slots=True, kw_only=True)
class OwnFill:
    """A fill as a teacher writes it, for a right-handed player.

    Attributes:
        name: what to call it.
        beats: how many last beats it takes.
        slots: strokes and rests.
        rhythm: one note value for each slot.
        on: the surface of each stroke, rests not counted; "floor tom with snare" puts grace notes on the snare.
    """

    name: str
    beats: Fraction
    slots: tuple[Slot, ...]
    rhythm: Rhythm
    on: tuple[str, ...]


def where(text: str) -> tuple[str, str]:
    """The surface of a stroke, and that of its grace notes, "" for the same.

    Raises:
        UnknownNameError: for a surface nobody knows.

    >>> where("floor tom with snare")
    ('floor tom', 'snare')
    """
    main, _, graces = text.partition(_JOINS)
    return surface(main.strip()).name, surface(graces.strip()).name if graces else ""


def where_text(main: str, graces: str) -> str:
    """Both surfaces as a lesson file has them.

    >>> where_text("floor tom", "snare"), where_text("snare", "snare"), where_text("snare", "")
    ('floor tom with snare', 'snare', 'snare')
    """
    return f"{main}{_JOINS}{graces}" if graces and graces != main else main


def reckoned(own: OwnFill, brief: Brief) -> Route:
    """The fill as a route, playable or not: its demands say what a hand can't reach.

    Raises:
        FitError: where strokes, surfaces and span don't come out even, the kit lacks a surface, or a foot would
            play something else than the kick.
        SpanError: where the phrase has not so many beats.
    """
    span = last_beats(brief.meter, brief.bars, own.beats)
    _check(own, brief, span.length)
    layout = Layout(family=Family.SEARCH, words=own.name, strokes=tuple(_laid(own)))
    return Maker(brief.setting(span)).reckoned(layout)


def own_step(own: OwnFill, brief: Brief) -> Step:
    """The fill as a step of a figure's lesson.

    Raises:
        FitError: as `reckoned`, and where it is too quick for the player at the slowest tempo.
        SpanError: where the phrase has not so many beats.
    """
    route = reckoned(own, brief)
    if route.peak_demand > 1:
        raise FitError(f"{own.name} is too quick for this player at {brief.tempo}: {route.reason}.")
    hands = [stroke.hand for stroke in own.slots if stroke]
    return Step(
        kind=StepKind.OWN_SPAN,
        caption=f"{span_words(route.span, brief.meter)}, {own.name}",
        figure=brief.figure,
        rhythms=(own.rhythm,),
        route=route,
        lands=hands[-1].other if hands else Limb.RIGHT,
    )


def _check(own: OwnFill, brief: Brief, length: Fraction) -> None:
    strokes = sum(slot is not None for slot in own.slots)
    if len(own.on) != strokes:
        raise FitError(
            f"{own.name} has {strokes} strokes and {len(own.on)} surfaces; name one for each stroke."
        )
    taken = sum(own.rhythm.lengths, Fraction(0))
    if taken != length:
        beats = in_words(brief.meter.beats_in(taken))
        asked = in_words(own.beats)
        raise FitError(f"{own.name} takes {beats} and is to fill {asked} at the end; they must be the same.")
    for text in dict.fromkeys(own.on):
        _check_place(own, brief, *where(text))


def _check_place(own: OwnFill, brief: Brief, main: str, graces: str) -> None:
    for name in (main, graces):
        if name and not brief.kit.has(name):
            raise FitError(f"The {brief.kit.name} kit has no {name}, which {own.name} is played on.")
    if main != "kick" and surface(main).foot:
        raise FitError(
            f"{own.name} is played on the {main}; of what the feet play, a fill takes the kick only."
        )
    if graces and surface(graces).foot:
        raise FitError(f"{own.name} has grace notes on the {graces}; they are for hands.")


def _laid(own: OwnFill) -> Iterator[Laid]:
    at = Fraction(0)
    places = iter(own.on)
    last = max(index for index, slot in enumerate(own.slots) if slot)
    for index, (slot, length) in enumerate(zip(own.slots, own.rhythm.lengths, strict=True)):
        if slot:
            main, graces = where(next(places))
            placed = Placed(at=at, length=length, stroke=slot, turn=0, last=index == last)
            yield Laid(placed=placed, surface=main, graces_on=graces)
        at += length


def written_of(route: Route, *, name: str, beats: Fraction) -> OwnFill:
    """A route as a teacher would write it down; `reckoned` gives the same hits again.

    A stroke of the kick stands in the sticking as one of the hand whose turn it is; kicks that double a cymbal
    come of themselves.
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
        places += [(None, length) for length in _rests(hit.at - at)]
        hand = hand.other if by_foot else hit.stroke.hand
        places.append((replace(hit.stroke, hand=hand), hit.length))
        on.append(where_text(hit.surface.name, graces))
        at = hit.at + hit.length
    places += [(None, length) for length in _rests(route.span.length - at)]
    return OwnFill(
        name=name,
        beats=beats,
        slots=tuple(slot for slot, _ in places),
        rhythm=named_rhythm(tuple(length for _, length in places)),
        on=tuple(on),
    )


def _rests(length: Fraction) -> Iterator[Fraction]:
    """A silence as note values, the longest first."""
    third = Fraction(2, 3) if length.denominator % 3 == 0 else Fraction(1)
    value = Fraction(1) * third
    while length > 0:
        while value > length:
            value /= 2
        yield value
        length -= value
