"""Briefs: the figure, meter, kit, player and steps of a plan, and the spans that the figure fills."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from enum import Enum
from fractions import Fraction

from fillwright.craft.chains.chain import Chain, describe_misfit, fill_span, find_fitting_beats, fits_span
from fillwright.craft.chains.readings import require_rhythms
from fillwright.craft.player.kits import USUAL, Kit, find_kit
from fillwright.craft.player.players import Player, find_player
from fillwright.craft.routes.route import Setting
from fillwright.errors import FitError
from fillwright.music.figure import Figure, Rhythm
from fillwright.music.meter import Meter
from fillwright.music.phrase import Span, locate_last_beats
from fillwright.music.stroke import Limb


class StepKind(Enum):
    """Steps of the teaching order, first to last."""

    LAST_BEAT = "last beat"
    TWO_BEATS = "last two beats"
    WHOLE_BAR = "whole bar"
    ROUND = "round the kit"
    ACCENTS = "accents to the toms"
    APART = "hands apart"
    BY_POSITION = "by figure position"
    CYMBALS = "ends on cymbals"
    KICK = "kick inside the figure"
    SPLIT_FLAMS = "flams split"
    UP = "up the kit"
    MIXED = "mixed"
    OWN_SPAN = "own span"


TEACHING_ORDER = tuple(kind for kind in StepKind if kind is not StepKind.OWN_SPAN)
"""The default steps of a lesson."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Brief:
    """The input of a plan for one figure.

    Attributes:
        figure: the figure of the fills.
        meter: of the phrase.
        bars: of the phrase, the landing not counted.
        kinds: the steps to make.
        rhythm: the one rhythm to use; None for the first of the figure's that fits.
        lead: the hand of the first stroke.
        beats: more spans, in last beats; each must fit.
        earlier: figures of earlier lessons, in order; the latest that fits is mixed in.
        kit: the kit, set up for a right-handed player.
        player: the player.
        tempo: the slowest of the ladder; every fill is playable at it.
        per_step: the most fills of a step.
    """

    figure: Figure
    meter: Meter
    bars: int = 4
    kinds: tuple[StepKind, ...] = TEACHING_ORDER
    rhythm: Rhythm | None = None
    lead: Limb = Limb.RIGHT
    beats: tuple[Fraction, ...] = ()
    earlier: tuple[Figure, ...] = ()
    kit: Kit = field(default_factory=lambda: find_kit(USUAL))
    player: Player = field(default_factory=lambda: find_player("steady"))
    tempo: int = 60
    per_step: int = 1

    def setting(self, span: Span) -> Setting:
        """Return the setting of routes over a span."""
        return Setting(
            span=span,
            meter=self.meter,
            kit=self.kit,
            player=self.player,
            tempo=float(self.tempo),
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class FittedFigure:
    """A figure repeated over a span.

    Attributes:
        chain: the readings.
        rhythm: the rhythm of the figure.
        span: the span that they fill.
    """

    chain: Chain
    rhythm: Rhythm
    span: Span


def fit_figure(brief: Brief, beats: Fraction) -> FittedFigure:
    """Repeat the figure of a brief over the last beats, in the first rhythm that fits.

    Raises:
        FitError: with the spans that the figure fits.
        SpanError: for more beats than the phrase has.
    """
    span = locate_last_beats(brief.meter, brief.bars, beats)
    choices = choose_rhythms(brief)
    for rhythm in choices:
        if fits_span(rhythm, span, brief.meter):
            chain = fill_span(brief.figure, rhythm, span, brief.meter, lead=brief.lead)
            return FittedFigure(chain=chain, rhythm=rhythm, span=span)
    # the error names the rhythm that fits the most spans of a bar, the first of equals
    best = max(choices, key=lambda rhythm: len(find_fitting_beats(rhythm, brief.meter)))
    raise FitError(describe_misfit(brief.figure, best, span, brief.meter))


def choose_rhythms(brief: Brief) -> tuple[Rhythm, ...]:
    """Return the rhythms to choose from, at least one; the brief's rhythm is fitted to the meter too.

    Raises:
        FitError: for a rhythm with too many or too few note values, or none that fits the meter.
    """
    figure = replace(brief.figure, rhythms=(brief.rhythm,)) if brief.rhythm else brief.figure
    for rhythm in figure.rhythms:
        if len(rhythm.lengths) != len(figure.strokes):
            raise FitError(
                f"{rhythm.name} has {len(rhythm.lengths)} note values for the {len(figure.strokes)} places of "
                f"{figure.name}; write one for each."
            )
    return require_rhythms(figure, brief.meter)


def find_fewest_beats(brief: Brief) -> Fraction | None:
    """Return one beat, or the fewest whole beats of a bar that the figure fills; None for no whole beats."""
    return min(_list_whole_beats(brief), default=None)


def find_most_beats(brief: Brief) -> Fraction | None:
    """Return the whole bar, or the most beats of it that the figure fills; None for no whole beats."""
    return max(_list_whole_beats(brief), default=None)


def _list_whole_beats(brief: Brief) -> Iterator[Fraction]:
    for rhythm in choose_rhythms(brief):
        yield from (beats for beats in find_fitting_beats(rhythm, brief.meter) if beats.denominator == 1)
