"""Steps: the fills of a figure in teaching order."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from enum import Enum
from fractions import Fraction

from fillwright.craft.chains import Chain, fill_span, fits, fitting_beats, misfit
from fillwright.craft.fills import (
    accents_to_toms,
    ends_on_cymbals,
    hands_apart,
    one_surface,
    round_by_beat,
    snare_then_tom,
)
from fillwright.craft.readings import rhythms_held, rhythms_in
from fillwright.errors import FitError
from fillwright.music.figure import Figure, Rhythm
from fillwright.music.meter import Meter
from fillwright.music.notevalue import in_words
from fillwright.music.phrase import Fill, Span, last_beats
from fillwright.music.stroke import Limb


class StepKind(Enum):
    """The places in the teaching order, first to last."""

    LAST_BEAT = "last beat"
    TWO_BEATS = "last two beats"
    WHOLE_BAR = "whole bar"
    ROUND = "round the kit"
    ACCENTS = "accents to the toms"
    APART = "hands apart"
    CYMBALS = "ends on cymbals"
    MIXED = "mixed"
    OWN_SPAN = "own span"


TEACHING_ORDER = tuple(kind for kind in StepKind if kind is not StepKind.OWN_SPAN)
"""The steps a lesson takes unless told otherwise."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Brief:
    """What is asked of a figure in a lesson.

    Attributes:
        figure: what the fills are made of.
        meter: of the phrase.
        bars: of the phrase, the landing not counted.
        kinds: the steps wanted.
        rhythm: the one rhythm to use; None to take the first of the figure's that fits.
        lead: the hand of the first stroke.
        beats: further spans of the teacher's own, in last beats; each must fit.
        earlier: figures taught before, in order; the latest that fits is mixed in.
    """

    figure: Figure
    meter: Meter
    bars: int = 4
    kinds: tuple[StepKind, ...] = TEACHING_ORDER
    rhythm: Rhythm | None = None
    lead: Limb = Limb.RIGHT
    beats: tuple[Fraction, ...] = ()
    earlier: tuple[Figure, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One fill at its place in the teaching order.

    Attributes:
        kind: the place.
        caption: what is played, in words.
        figure: what it is made of.
        mixed_with: the figure of an earlier lesson it is joined with, or None.
        rhythm: how the figure is read.
        fill: the fill itself.
        lands: the hand free to land after it.
    """

    kind: StepKind
    caption: str
    figure: Figure
    mixed_with: Figure | None = None
    rhythm: Rhythm
    fill: Fill
    lands: Limb


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """The steps of one figure, and a sentence for each step it does not make."""

    steps: tuple[Step, ...]
    left_out: tuple[str, ...]


def plan(brief: Brief) -> Plan:
    """Every fill that a brief implies, in teaching order, no two alike.

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
    first_of_each = {step.fill: step for step in reversed(made)}
    steps = tuple(step for step in made if first_of_each[step.fill] is step)
    return Plan(steps=steps, left_out=tuple(left_out))


def chain_for(brief: Brief, beats: Fraction) -> tuple[Chain, Rhythm, Span]:
    """The figure of a brief repeated over the last beats, in the first rhythm that fits.

    Raises:
        FitError: saying which spans the figure fits.
        SpanError: where the phrase has not so many beats.
    """
    span = last_beats(brief.meter, brief.bars, beats)
    choices = _rhythms(brief)
    for rhythm in choices:
        if fits(rhythm, span, brief.meter):
            return fill_span(brief.figure, rhythm, span, brief.meter, lead=brief.lead), rhythm, span
    raise FitError(_misfit_of_all(brief, choices, span))


def _misfit_of_all(brief: Brief, choices: tuple[Rhythm, ...], span: Span) -> str:
    """The first rhythm's sentence, unless another rhythm fits more spans of a bar."""
    best = max(choices, key=lambda rhythm: len(fitting_beats(rhythm, brief.meter)))
    return misfit(brief.figure, best, span, brief.meter)


def _rhythms(brief: Brief) -> tuple[Rhythm, ...]:
    """The rhythms to choose from, at least one; the one asked for is fitted to the meter like any other."""
    figure = replace(brief.figure, rhythms=(brief.rhythm,)) if brief.rhythm else brief.figure
    for rhythm in figure.rhythms:
        if len(rhythm.lengths) != len(figure.strokes):
            raise FitError(
                f"{rhythm.name} has {len(rhythm.lengths)} note values for the {len(figure.strokes)} places of "
                f"{figure.name}; it needs one for each."
            )
    return rhythms_held(figure, brief.meter)


Found = list[Step] | str
"""Steps, or why there are none."""


def _snare(kind: StepKind, beats: Callable[[Brief], Fraction | None]) -> Callable[[Brief], Found]:
    def make(brief: Brief) -> Found:
        length = beats(brief)
        if length is None:
            return "it comes out even over no span of a bar"
        try:
            chain, rhythm, span = chain_for(brief, length)
        except FitError as error:
            return str(error).rstrip(".")
        return [_step(brief, kind, "snare", (chain, rhythm, one_surface(chain, span)))]

    return make


def _shortest(brief: Brief) -> Fraction | None:
    """One beat, or the shortest number of whole beats that the figure fills."""
    return min(_whole_beats(brief), default=None)


def _longest(brief: Brief) -> Fraction | None:
    """The whole bar, or the most beats of it that the figure fills."""
    return max(_whole_beats(brief), default=None)


def _whole_beats(brief: Brief) -> Iterator[Fraction]:
    for rhythm in _rhythms(brief):
        yield from (b for b in fitting_beats(rhythm, brief.meter) if b.denominator == 1)


def _over_the_bar(
    kind: StepKind, words: str, route: Callable[[Chain, Span, Meter], Fill | None]
) -> Callable[[Brief], Found]:
    """A step on the longest span the figure fills in a bar."""

    def make(brief: Brief) -> Found:
        length = _longest(brief)
        if length is None:
            return "it comes out even over no span of a bar"
        chain, rhythm, span = chain_for(brief, length)
        fill = route(chain, span, brief.meter)
        if fill is None:
            return "its last stroke comes too quickly after another of the same hand to reach a cymbal"
        return [_step(brief, kind, words, (chain, rhythm, fill))]

    return make


def _round(brief: Brief) -> Found:
    """Three beats first (snare, high tom, floor tom), then the bar."""
    made = []
    for beats in (Fraction(3), _longest(brief)):
        if beats is None or beats < 2 or beats > len(brief.meter.beats):
            continue
        try:
            chain, rhythm, span = chain_for(brief, beats)
        except FitError:
            continue
        fill = round_by_beat(chain, span, brief.meter)
        made.append(_step(brief, StepKind.ROUND, _round_words(fill), (chain, rhythm, fill)))
    return made or "it takes a bar to go round the kit, and it does not fill one"


def _round_words(fill: Fill) -> str:
    drums = list(dict.fromkeys(hit.surface.name for hit in fill.hits))
    return f"round the kit beat by beat: {', '.join(drums)}"


def _mixed(brief: Brief) -> Found:
    for other in reversed(brief.earlier):
        if other.name == brief.figure.name:
            continue
        step = _mix(brief, other)
        if step:
            return [step]
    return (
        "no figure of an earlier lesson shares a bar with it evenly"
        if brief.earlier
        else "nothing earlier is named"
    )


def _mix(brief: Brief, other: Figure) -> Step | None:
    """The figure on the snare, answered by another on the floor tom, over the whole bar."""
    count = len(brief.meter.beats)
    whole = last_beats(brief.meter, brief.bars, Fraction(count))
    for beats in range(1, count // 2 + 1):
        if count % (2 * beats):
            continue
        half = brief.meter.last_beats(Fraction(beats))
        first_span = Span(start=whole.start, length=half)
        answer_span = Span(start=whole.start + half, length=half)
        pair = _first_fit(_rhythms(brief), first_span, brief.meter)
        answer = _first_fit(rhythms_in(other, brief.meter), answer_span, brief.meter)
        if pair is None or answer is None:
            continue
        first = fill_span(brief.figure, pair, first_span, brief.meter, lead=brief.lead)
        second = fill_span(other, answer, answer_span, brief.meter, lead=first.last_hand.other)
        fill = snare_then_tom(first, second, whole)
        words = f"{in_words(Fraction(beats))} on the snare, answered on the floor tom by the {other.name}"
        return Step(
            kind=StepKind.MIXED,
            caption=f"Whole bar, {words}",
            figure=brief.figure,
            mixed_with=other,
            rhythm=pair,
            fill=fill,
            lands=fill.hits[-1].stroke.hand.other,
        )
    return None


def _first_fit(choices: tuple[Rhythm, ...], span: Span, meter: Meter) -> Rhythm | None:
    return next((rhythm for rhythm in choices if fits(rhythm, span, meter)), None)


def _own_spans(brief: Brief) -> Found:
    steps = []
    for beats in brief.beats:
        chain, rhythm, span = chain_for(brief, beats)
        fill = one_surface(chain, span)
        steps.append(_step(brief, StepKind.OWN_SPAN, "snare", (chain, rhythm, fill)))
    return steps


def _step(brief: Brief, kind: StepKind, words: str, made: tuple[Chain, Rhythm, Fill]) -> Step:
    chain, rhythm, fill = made
    return Step(
        kind=kind,
        caption=f"{span_words(fill.span, brief.meter)}, {words}",
        figure=brief.figure,
        rhythm=rhythm,
        fill=fill,
        lands=chain.last_hand.other,
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
    StepKind.LAST_BEAT: _snare(StepKind.LAST_BEAT, _shortest),
    StepKind.TWO_BEATS: _snare(StepKind.TWO_BEATS, lambda _: Fraction(2)),
    StepKind.WHOLE_BAR: _snare(StepKind.WHOLE_BAR, _longest),
    StepKind.ROUND: _round,
    StepKind.ACCENTS: _over_the_bar(StepKind.ACCENTS, "accents to the toms", accents_to_toms),
    StepKind.APART: _over_the_bar(
        StepKind.APART,
        "right on the floor tom, left on the snare",
        lambda chain, span, _: hands_apart(chain, span),
    ),
    StepKind.CYMBALS: _over_the_bar(StepKind.CYMBALS, "ends on the crash with the kick", ends_on_cymbals),
    StepKind.MIXED: _mixed,
    StepKind.OWN_SPAN: _own_spans,
}
