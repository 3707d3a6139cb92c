"""Steps: the fills of a figure in teaching order, all playable by the brief's player."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from fractions import Fraction

from fillwright.craft.brief import (
    Brief,
    FittedFigure,
    StepKind,
    choose_rhythms,
    find_fewest_beats,
    find_most_beats,
    fit_figure,
)
from fillwright.craft.chains.chain import fill_span, fits_span
from fillwright.craft.chains.readings import fit_rhythms
from fillwright.craft.routes.families import orchestrate
from fillwright.craft.routes.route import Family, Orchestration, Route, RouteBuilder, RoutedStroke
from fillwright.errors import FitError
from fillwright.music.figure import Figure, Rhythm
from fillwright.music.meter import Meter
from fillwright.music.notevalue import format_beats, write_number
from fillwright.music.phrase import Fill, Span, locate_last_beats
from fillwright.music.stroke import Limb


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One fill with its place in the teaching order.

    Attributes:
        kind: the place in the teaching order.
        caption: the fill in words.
        figure: the figure that it is made of.
        mixed_with: the figure of an earlier lesson that is mixed in, or None.
        rhythms: the rhythm of the figure, and of the one mixed in.
        route: its route, with ceiling, grade and tightest move.
        lands: the hand that is free to land after it.
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
        """Rhythm of the figure."""
        return self.rhythms[0]

    @property
    def fill(self) -> Fill:
        """Fill of the route."""
        return self.route.fill


@dataclass(frozen=True, slots=True, kw_only=True)
class StepPlan:
    """The steps of one figure, and a sentence for each skipped step."""

    steps: tuple[Step, ...]
    left_out: tuple[str, ...]


class _SkippedError(Exception):
    """The reason why a step has no fill."""


def plan_steps(brief: Brief) -> StepPlan:
    """Plan every fill that a brief implies, no two alike, all playable at the slowest tempo.

    The fills are in order of their grades; fills of one grade are in teaching order.

    Raises:
        FitError: for a span of the brief that the figure does not fill.
    """
    planned: list[Step] = []
    left_out: list[str] = []
    for kind in (*(kind for kind in brief.kinds if kind is not StepKind.OWN_SPAN), StepKind.OWN_SPAN):
        try:
            planned += _BUILDERS[kind](brief)
        except _SkippedError as reason:
            left_out.append(f"{brief.figure.name}, {kind.value}: {reason}.")
    by_fill = {step.fill: step for step in reversed(planned)}  # of two alike the first stays
    steps = [step for step in planned if by_fill[step.fill] is step]
    order = list(_BUILDERS)
    steps.sort(key=lambda step: (step.route.grade, order.index(step.kind)))
    return StepPlan(steps=tuple(steps), left_out=tuple(left_out))


Builder = Callable[[Brief], list[Step]]
"""Builds the fills of one step, at least one; raises `_SkippedError` for none."""


def _choose_snare(kind: StepKind, beats: Callable[[Brief], Fraction | None]) -> Builder:
    """Return the builder of a step on the snare over some last beats."""

    def build(brief: Brief) -> list[Step]:
        return _build_family(brief, kind, beats(brief), Family.ONE_SURFACE, most=1)

    return build


def _choose_family(kind: StepKind, family: Family) -> Builder:
    """Return the builder of a step on the longest span that the figure fills in a bar."""

    def build(brief: Brief) -> list[Step]:
        return _build_family(brief, kind, find_most_beats(brief), family, most=brief.per_step)

    return build


def _build_family(
    brief: Brief, kind: StepKind, beats: Fraction | None, family: Family, *, most: int
) -> list[Step]:
    """Return the first steps of a family over the last beats."""
    if beats is None:
        raise _SkippedError("the figure fills no whole beats of a bar")
    try:
        fitted = fit_figure(brief, beats)
    except FitError as error:
        raise _SkippedError(str(error).rstrip(".")) from error
    return _build_playable(brief, kind, fitted, family, most)


def _build_playable(
    brief: Brief, kind: StepKind, fitted: FittedFigure, family: Family, most: int
) -> list[Step]:
    """Return the first playable steps of a family over a span."""
    setting = brief.setting(fitted.span)
    orchestrations = tuple(orchestrate(fitted.chain, setting, family))
    if not orchestrations:
        raise _SkippedError("there is no such fill for this figure on this kit")
    builder = RouteBuilder(setting)
    routes = [route for orchestration in orchestrations if (route := builder.build(orchestration))][:most]
    if not routes:
        raise _SkippedError(_describe_too_fast(brief))
    return [_build_step(brief, kind, fitted, route) for route in routes]


def _describe_too_fast(brief: Brief) -> str:
    return f"it is too fast for this player at {brief.tempo} bpm"


def _build_round(brief: Brief) -> list[Step]:
    """Return steps over three beats (snare, high tom, floor tom), then over the bar."""
    steps: list[Step] = []
    reason = "the figure does not fill a bar, and it takes a bar to go round the kit"
    for beats in (Fraction(3), find_most_beats(brief)):
        if beats is None or beats < 2 or beats > len(brief.meter.beats):
            continue
        try:
            steps += _build_family(brief, StepKind.ROUND, beats, Family.ROUND, most=1)
        except _SkippedError as skipped:
            reason = str(skipped) if beats != 3 else reason
    if not steps:
        raise _SkippedError(reason)
    return steps


def _build_own_spans(brief: Brief) -> list[Step]:
    steps: list[Step] = []
    for beats in brief.beats:
        fitted = fit_figure(brief, beats)
        steps += _build_playable(brief, StepKind.OWN_SPAN, fitted, Family.ONE_SURFACE, 1)
    return steps


def _build_mixed(brief: Brief) -> list[Step]:
    if not brief.earlier:
        raise _SkippedError("there is no earlier figure")
    reason = "no earlier figure shares a bar with it in equal parts"
    for other in reversed(brief.earlier):
        if other.name == brief.figure.name:
            continue
        for beats in _list_halves(brief):
            try:
                step = _mix(brief, other, beats)
            except _SkippedError as skipped:
                reason = str(skipped)
                continue
            if step is not None:
                return [step]
    raise _SkippedError(reason)


def _list_halves(brief: Brief) -> Iterator[Fraction]:
    """Yield the numbers of beats that two figures may take by turns in a bar."""
    count = len(brief.meter.beats)
    yield from (Fraction(n) for n in range(1, count // 2 + 1) if count % (2 * n) == 0)


def _mix(brief: Brief, other: Figure, beats: Fraction) -> Step | None:
    """Return the figure on the snare, answered by another on the floor tom, over the whole bar.

    Returns:
        None for figures that don't fit.

    Raises:
        _SkippedError: for a fill that is too fast.
    """
    bar = locate_last_beats(brief.meter, brief.bars, Fraction(len(brief.meter.beats)))
    length = brief.meter.measure_beats(beats)
    strokes: list[RoutedStroke] = []
    lead, at = brief.lead, Fraction(0)
    rhythms: list[Rhythm] = []
    while at < bar.length:
        for figure, choices, drum in (
            (brief.figure, choose_rhythms(brief), "snare"),
            (other, fit_rhythms(other, brief.meter), "floor tom"),
        ):
            span = Span(start=bar.start + at, length=length)
            rhythm = next((r for r in choices if fits_span(r, span, brief.meter)), None)
            if rhythm is None or not brief.kit.has(drum):
                return None
            rhythms.append(rhythm)
            chain = fill_span(figure, rhythm, span, brief.meter, lead=lead)
            strokes += [RoutedStroke(placed=placed.shift(at), surface=drum) for placed in chain.place_strokes()]
            lead = chain.last_hand.other
            at += length
    words = f"{format_beats(beats)} on the snare, answered on the floor tom by the {other.name}"
    orchestration = Orchestration(family=Family.ROUND, words=words, strokes=tuple(strokes))
    route = RouteBuilder(brief.setting(bar)).build(orchestration)
    if route is None:
        raise _SkippedError(_describe_too_fast(brief))
    return Step(
        kind=StepKind.MIXED,
        caption=f"{describe_span(bar, brief.meter)}, {words}",
        figure=brief.figure,
        mixed_with=other,
        rhythms=tuple(rhythms),
        route=route,
        lands=lead,
    )


def _build_step(brief: Brief, kind: StepKind, fitted: FittedFigure, route: Route) -> Step:
    return Step(
        kind=kind,
        caption=f"{describe_span(fitted.span, brief.meter)}, {route.words}",
        figure=brief.figure,
        rhythms=(fitted.rhythm,),
        route=route,
        lands=fitted.chain.last_hand.other,
    )


def describe_span(span: Span, meter: Meter) -> str:
    """Describe a span at the end of a phrase as a teacher says it.

    >>> from fillwright.music.meter import find_meter
    >>> describe_span(locate_last_beats(find_meter("4/4"), 4, Fraction(2)), find_meter("4/4"))
    'Last two beats'
    """
    if span.length == meter.bar:
        return "Whole bar"
    if span.length % meter.bar == 0:
        return f"Last {write_number(span.length // meter.bar)} bars"
    beats = meter.count_beats(span.length)
    if beats == 1:
        return "Last beat"
    return (
        f"Last {write_number(beats.numerator)} beats"
        if beats.denominator == 1
        else f"Last {format_beats(beats)}"
    )


_BUILDERS: dict[StepKind, Builder] = {  # in teaching order; LAST_BEAT is the fewest beats, TWO_BEATS is 2
    StepKind.LAST_BEAT: _choose_snare(StepKind.LAST_BEAT, find_fewest_beats),
    StepKind.TWO_BEATS: _choose_snare(StepKind.TWO_BEATS, lambda _: Fraction(2)),
    StepKind.WHOLE_BAR: _choose_snare(StepKind.WHOLE_BAR, find_most_beats),
    StepKind.ROUND: _build_round,
    StepKind.ACCENTS: _choose_family(StepKind.ACCENTS, Family.ACCENTS),
    StepKind.APART: _choose_family(StepKind.APART, Family.APART),
    StepKind.BY_POSITION: _choose_family(StepKind.BY_POSITION, Family.BY_POSITION),
    StepKind.CYMBALS: _choose_family(StepKind.CYMBALS, Family.CYMBALS),
    StepKind.KICK: _choose_family(StepKind.KICK, Family.KICK),
    StepKind.SPLIT_FLAMS: _choose_family(StepKind.SPLIT_FLAMS, Family.SPLIT_FLAMS),
    StepKind.UP: _choose_family(StepKind.UP, Family.UP),
    StepKind.MIXED: _build_mixed,
    StepKind.OWN_SPAN: _build_own_spans,
}
