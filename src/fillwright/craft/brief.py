"""What is asked of a figure in a lesson, and the chains that answer it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from enum import Enum
from fractions import Fraction

from fillwright.craft.chains.chain import Chain, fill_span, fits, fitting_beats, misfit
from fillwright.craft.chains.readings import rhythms_held
from fillwright.craft.player.kits import USUAL, Kit, find_kit
from fillwright.craft.player.players import Player, find_player
from fillwright.craft.routes.route import Setting
from fillwright.errors import FitError
from fillwright.music.figure import Figure, Rhythm
from fillwright.music.meter import Meter
from fillwright.music.phrase import Span, last_beats
from fillwright.music.stroke import Limb


class StepKind(Enum):
    """The places in the teaching order, first to last."""

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
        kit: what it is played on, as a right-handed player has it.
        player: who plays it.
        tempo: the slowest of the ladder; nothing above the player's ceiling at it is taught.
        per_step: how many fills a step may have.
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
        """Where, by whom and how fast a chain over a span is played."""
        return Setting(
            span=span,
            meter=self.meter,
            kit=self.kit,
            player=self.player,
            tempo=float(self.tempo),
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Material:
    """A figure laid over a span.

    Attributes:
        chain: the readings.
        rhythm: how the figure is read.
        span: what they fill.
    """

    chain: Chain
    rhythm: Rhythm
    span: Span


def material(brief: Brief, beats: Fraction) -> Material:
    """The figure of a brief repeated over the last beats, in the first rhythm that fits.

    Raises:
        FitError: saying which spans the figure fits.
        SpanError: where the phrase has not so many beats.
    """
    span = last_beats(brief.meter, brief.bars, beats)
    choices = rhythms_of(brief)
    for rhythm in choices:
        if fits(rhythm, span, brief.meter):
            chain = fill_span(brief.figure, rhythm, span, brief.meter, lead=brief.lead)
            return Material(chain=chain, rhythm=rhythm, span=span)
    # the first rhythm's sentence, unless another rhythm fits more spans of a bar
    best = max(choices, key=lambda rhythm: len(fitting_beats(rhythm, brief.meter)))
    raise FitError(misfit(brief.figure, best, span, brief.meter))


def rhythms_of(brief: Brief) -> tuple[Rhythm, ...]:
    """The rhythms to choose from, at least one; the one asked for is fitted to the meter like any other.

    Raises:
        FitError: where a rhythm has another number of values than the figure has places, or none can be held.
    """
    figure = replace(brief.figure, rhythms=(brief.rhythm,)) if brief.rhythm else brief.figure
    for rhythm in figure.rhythms:
        if len(rhythm.lengths) != len(figure.strokes):
            raise FitError(
                f"{rhythm.name} has {len(rhythm.lengths)} note values for the {len(figure.strokes)} places of "
                f"{figure.name}; it needs one for each."
            )
    return rhythms_held(figure, brief.meter)


def shortest(brief: Brief) -> Fraction | None:
    """One beat, or the shortest number of whole beats of a bar that the figure fills."""
    return min(_whole_beats(brief), default=None)


def longest(brief: Brief) -> Fraction | None:
    """The whole bar, or the most beats of it that the figure fills."""
    return max(_whole_beats(brief), default=None)


def _whole_beats(brief: Brief) -> Iterator[Fraction]:
    for rhythm in rhythms_of(brief):
        yield from (b for b in fitting_beats(rhythm, brief.meter) if b.denominator == 1)
