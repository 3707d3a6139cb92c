"""Readings: a figure's rhythm at one subdivision, from one lead hand."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from fillwright.errors import FitError
from fillwright.music.figure import Figure, Rhythm
from fillwright.music.meter import Meter
from fillwright.music.rudiments import named_rhythm
from fillwright.music.stroke import Limb, Slot


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """One turn of a figure in time.

    Attributes:
        figure: what is played.
        lead: the hand it starts with.
        lengths: length of each of its places, in whole notes.
    """

    figure: Figure
    lead: Limb
    lengths: tuple[Fraction, ...]

    @property
    def slots(self) -> tuple[Slot, ...]:
        """Its strokes from this lead; None for a rest."""
        return self.figure.led_by(self.lead)

    @property
    def length(self) -> Fraction:
        """How long it takes, in whole notes."""
        return sum(self.lengths, Fraction(0))

    @property
    def last_hand(self) -> Limb:
        """The hand of its last stroke."""
        return next(slot.hand for slot in reversed(self.slots) if slot)


def rhythms_in(figure: Figure, meter: Meter) -> tuple[Rhythm, ...]:
    """The rhythms of a figure that a meter can hold, its own feel first.

    A beat of a dotted quarter already goes in threes: what is a triplet elsewhere is three eighths there. 7/8
    holds no triplets.

    >>> from fillwright.music.meter import meter
    >>> from fillwright.music.rudiments import find_figure
    >>> [r.name for r in rhythms_in(find_figure("flam accent"), meter("6/8"))]
    ['eighths', 'sixteenths']
    >>> [r.name for r in rhythms_in(find_figure("single stroke four"), meter("7/8"))]
    []
    """
    if not meter.counts_eighths:
        return figure.rhythms
    fitted = (_in_threes(r) if meter.counts_in_three else r for r in figure.rhythms)
    by_lengths: dict[tuple[Fraction, ...], Rhythm] = {}
    for rhythm in fitted:
        by_lengths.setdefault(rhythm.lengths, rhythm)
    return tuple(r for r in by_lengths.values() if not _has_triplets(r))


def rhythms_held(figure: Figure, meter: Meter) -> tuple[Rhythm, ...]:
    """The rhythms of a figure that a meter can hold, at least one.

    Raises:
        FitError: where there is none.
    """
    held = rhythms_in(figure, meter)
    if held:
        return held
    why = f"goes in triplets only, and {meter.name} has no room for them" if figure.rhythms else "has no rhythm"
    raise FitError(f'{figure.name} {why}; give it a rhythm of its own, for example "16".')


def _has_triplets(rhythm: Rhythm) -> bool:
    return any(length.denominator % 3 == 0 for length in rhythm.lengths)


def _in_threes(rhythm: Rhythm) -> Rhythm:
    """A rhythm in triplets stretched from a quarter to a dotted quarter, where every length can be written."""
    stretched = (length * 3 / 2 for length in rhythm.lengths)
    if not _has_triplets(rhythm) or any(length.numerator not in (1, 3) for length in stretched):
        return rhythm
    lengths = tuple(length * 3 / 2 for length in rhythm.lengths)
    return named_rhythm(lengths, rebarred=rhythm.rebarred)
