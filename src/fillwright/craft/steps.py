"""Steps: the fills of a figure in teaching order, each one that its player can reach."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction

from fillwright.craft.brief import (
    Brief,
    Material,
    StepKind,
    longest,
    material,
    rhythms_of,
    shortest,
)
from fillwright.craft.chains.chain import fill_span, fits
from fillwright.craft.chains.readings import rhythms_in
from fillwright.craft.routes.families import layouts
from fillwright.craft.routes.route import Family, Laid, Layout, Maker, Route
from fillwright.errors import FitError
from fillwright.music.figure import Figure, Rhythm
from fillwright.music.meter import Meter
from fillwright.music.notevalue import in_words
from fillwright.music.phrase import Fill, Span, last_beats
from fillwright.music.stroke import Limb


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One fill at its place in the teaching order.

    Attributes:
        kind: the place.
        caption: what is played, in words.
        figure: what it is made of.
        mixed_with: the figure of an earlier lesson it is joined with, or None.
        rhythms: how the figure is read, and the one it is joined with.
        route: where its strokes go, with its ceiling, its grade and the reason for it.
        lands: the hand free to land after it.
    """

    kind: StepKind
    caption: str
    figure: Figure
    mixed_with: Figure | None = None
    rhythms: tuple[Rhythm, ...]
    route: Route
    lands: Limb

    @property
    def rhythm(self) -> Rhythm:
        """How the figure is read."""
        return self.rhythms[0]

    @property
    def fill(self) -> Fill:
        """The fill itself."""
        return self.route.fill


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """The steps of one figure, and a sentence for each step it does not make."""

    steps: tuple[Step, ...]
    left_out: tuple[str, ...]


Found = list[Step] | str
"""Steps, or why there are none."""


def plan(brief: Brief) -> Plan:
    """Every fill that a brief implies: no two alike, none above the player's ceiling at the slowest tempo.

    Each is at least as hard as the one before, by its grade; among equals the teaching order decides.

    Raises:
        FitError: where a span of the teacher's own does not come out even.
    """
    made: list[Step] = []
    left_out: list[str] = []
    for kind in (*(kind for kind in brief.kinds if kind is not StepKind.OWN_SPAN), StepKind.OWN_SPAN):
        found = _MAKERS[kind](brief)
        if isinstance(found, str):
            left_out.append(f"{brief.figure.name}, {kind.value}: {found}.")
            continue
        made += found
    by_fill = {step.fill: step for step in reversed(made)}  # of two alike the first stays
    steps = [step for step in made if by_fill[step.fill] is step]
    order = list(_MAKERS)
    steps.sort(key=lambda step: (step.route.grade, order.index(step.kind)))
    return Plan(steps=tuple(steps), left_out=tuple(left_out))


def _snare(kind: StepKind, beats: Callable[[Brief], Fraction | None]) -> Callable[[Brief], Found]:
    def make(brief: Brief) -> Found:
        return _on_family(brief, kind, beats(brief), Family.ONE_SURFACE, most=1)

    return make


def _over_the_bar(kind: StepKind, family: Family) -> Callable[[Brief], Found]:
    """A step on the longest span that the figure fills in a bar."""

    def make(brief: Brief) -> Found:
        return _on_family(brief, kind, longest(brief), family, most=brief.per_step)

    return make


def _on_family(brief: Brief, kind: StepKind, beats: Fraction | None, family: Family, *, most: int) -> Found:
    """The first routes of a family over the last beats."""
    if beats is None:
        return "it fills no span of a bar evenly"
    try:
        found = material(brief, beats)
    except FitError as error:
        return str(error).rstrip(".")
    return _playable(brief, kind, found, tuple(layouts(found.chain, brief.setting(found.span), family)), most)


def _playable(brief: Brief, kind: StepKind, found: Material, laid: Sequence[Layout], most: int) -> Found:
    if not laid:
        return "the figure and the kit have nothing for it"
    maker = Maker(brief.setting(found.span))
    routes = [route for layout in laid if (route := maker.route(layout))][:most]
    if not routes:
        return f"too quick for this player at {brief.tempo}"
    return [_step(brief, kind, found, route) for route in routes]


def _round(brief: Brief) -> Found:
    """Three beats first (snare, high tom, floor tom), then the bar."""
    made: list[Step] = []
    why = "it takes a bar to go round the kit, and it does not fill one"
    for beats in (Fraction(3), longest(brief)):
        if beats is None or beats < 2 or beats > len(brief.meter.beats):
            continue
        found = _on_family(brief, StepKind.ROUND, beats, Family.ROUND, most=1)
        if isinstance(found, str):
            why = found if beats != 3 else why
        else:
            made += found
    return made or why


def _own_spans(brief: Brief) -> Found:
    made: list[Step] = []
    for beats in brief.beats:
        found = material(brief, beats)
        laid = tuple(layouts(found.chain, brief.setting(found.span), Family.ONE_SURFACE))
        steps = _playable(brief, StepKind.OWN_SPAN, found, laid, 1)
        if isinstance(steps, str):
            return steps
        made += steps
    return made


def _mixed(brief: Brief) -> Found:
    if not brief.earlier:
        return "nothing earlier is named"
    why = "no figure of an earlier lesson shares a bar with it evenly"
    for other in reversed(brief.earlier):
        if other.name == brief.figure.name:
            continue
        for beats in _halves(brief):
            found = _mix(brief, other, beats)
            if isinstance(found, Step):
                return [found]
            why = found or why
    return why


def _halves(brief: Brief) -> Iterator[Fraction]:
    """The numbers of beats that two figures may take in turn in a bar."""
    count = len(brief.meter.beats)
    yield from (Fraction(n) for n in range(1, count // 2 + 1) if count % (2 * n) == 0)


def _mix(brief: Brief, other: Figure, beats: Fraction) -> Step | str | None:
    """The figure on the snare, answered by another on the floor tom, over the whole bar.

    Returns:
        The step; a sentence where it is too quick; None where the two do not fit.
    """
    whole = last_beats(brief.meter, brief.bars, Fraction(len(brief.meter.beats)))
    length = brief.meter.last_beats(beats)
    laid: list[Laid] = []
    lead, at = brief.lead, Fraction(0)
    rhythms: list[Rhythm] = []
    while at < whole.length:
        for figure, choices, drum in (
            (brief.figure, rhythms_of(brief), "snare"),
            (other, rhythms_in(other, brief.meter), "floor tom"),
        ):
            span = Span(start=whole.start + at, length=length)
            rhythm = next((r for r in choices if fits(r, span, brief.meter)), None)
            if rhythm is None or not brief.kit.has(drum):
                return None
            rhythms.append(rhythm)
            chain = fill_span(figure, rhythm, span, brief.meter, lead=lead)
            laid += [Laid(placed=placed.moved(at), surface=drum) for placed in chain.placed()]
            lead = chain.last_hand.other
            at += length
    words = f"{in_words(beats)} on the snare, answered on the floor tom by the {other.name}"
    layout = Layout(family=Family.ROUND, words=words, strokes=tuple(laid))
    route = Maker(brief.setting(whole)).route(layout)
    if route is None:
        return f"too quick for this player at {brief.tempo}"
    return Step(
        kind=StepKind.MIXED,
        caption=f"{span_words(whole, brief.meter)}, {words}",
        figure=brief.figure,
        mixed_with=other,
        rhythms=tuple(rhythms),
        route=route,
        lands=lead,
    )


def _step(brief: Brief, kind: StepKind, found: Material, route: Route) -> Step:
    return Step(
        kind=kind,
        caption=f"{span_words(found.span, brief.meter)}, {route.words}",
        figure=brief.figure,
        rhythms=(found.rhythm,),
        route=route,
        lands=found.chain.last_hand.other,
    )


def span_words(span: Span, meter: Meter) -> str:
    """A span at the end of a phrase as a teacher says it.

    >>> from fillwright.music.meter import meter
    >>> span_words(last_beats(meter("4/4"), 4, Fraction(2)), meter("4/4"))
    'Last 2 beats'
    """
    if span.length == meter.bar:
        return "Whole bar"
    if span.length % meter.bar == 0:
        return f"Last {span.length // meter.bar} bars"
    beats = meter.beats_in(span.length)
    return "Last beat" if beats == 1 else f"Last {in_words(beats)}"


_MAKERS: dict[StepKind, Callable[[Brief], Found]] = {
    StepKind.LAST_BEAT: _snare(StepKind.LAST_BEAT, shortest),
    StepKind.TWO_BEATS: _snare(StepKind.TWO_BEATS, lambda _: Fraction(2)),
    StepKind.WHOLE_BAR: _snare(StepKind.WHOLE_BAR, longest),
    StepKind.ROUND: _round,
    StepKind.ACCENTS: _over_the_bar(StepKind.ACCENTS, Family.ACCENTS),
    StepKind.APART: _over_the_bar(StepKind.APART, Family.APART),
    StepKind.BY_POSITION: _over_the_bar(StepKind.BY_POSITION, Family.BY_POSITION),
    StepKind.CYMBALS: _over_the_bar(StepKind.CYMBALS, Family.CYMBALS),
    StepKind.KICK: _over_the_bar(StepKind.KICK, Family.KICK),
    StepKind.SPLIT_FLAMS: _over_the_bar(StepKind.SPLIT_FLAMS, Family.SPLIT_FLAMS),
    StepKind.UP: _over_the_bar(StepKind.UP, Family.UP),
    StepKind.MIXED: _mixed,
    StepKind.OWN_SPAN: _own_spans,
}
