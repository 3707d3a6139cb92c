"""Readings: a figure in one rhythm, led by one hand."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import accumulate

from fillwright.errors import FitError
from fillwright.music.figure import Figure, Rhythm
from fillwright.music.meter import Meter
from fillwright.music.notevalue import SUBDIVISIONS, format_value, parse_values
from fillwright.music.rudiments import name_rhythm
from fillwright.music.stroke import Kind, Level, Limb, Slot, Stroke

_EVEN = tuple(
    SUBDIVISIONS[name] for name in ("eighths", "triplets", "sixteenths", "sextuplets", "thirty-seconds")
)
_REPETITION_LENGTHS = (Fraction(1, 8), Fraction(1, 4), Fraction(1, 2))
"""Half a beat, one beat and two, in whole notes: a figure with an inner rhythm is scaled to these (ours)."""

_SHORTEST = Fraction(1, 32)  # note value, in whole notes; ours
_LONGEST_THIRD = Fraction(1, 6)
"""The longest triplet note, in whole notes: a quarter-note triplet's; a longer one would hide a beat (ours)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """One repetition of a figure in time.

    Attributes:
        figure: the figure.
        lead: the hand it starts with.
        lengths: length of each of its places, in whole notes.
        rebarred: True where the rhythm takes the figure out of its own feel.
    """

    figure: Figure
    lead: Limb
    lengths: tuple[Fraction, ...]
    rebarred: bool = False

    @property
    def slots(self) -> tuple[Slot, ...]:
        """Strokes from this lead; None for a rest."""
        return self.figure.lead_with(self.lead)

    @property
    def length(self) -> Fraction:
        """Length in whole notes."""
        return sum(self.lengths, Fraction(0))

    @property
    def last_hand(self) -> Limb:
        """Hand of the last stroke."""
        return next(slot.hand for slot in reversed(self.slots) if slot)

    @property
    def rhythm_name(self) -> str:
        """Rhythm as a drummer says it."""
        return name_rhythm(self.lengths).name

    def beats(self, meter: Meter) -> Fraction:
        """Return its length in beats of a meter; in 7/8, where beats differ, a quarter counts as one."""
        return self.length / meter.tempo_unit

    def strokes(self) -> Iterator[tuple[Fraction, Stroke]]:
        """Yield its strokes, each with its place in whole notes from the start of the reading."""
        starts = accumulate(self.lengths[:-1], initial=Fraction(0))
        for at, slot in zip(starts, self.slots, strict=True):
            if slot:
                yield at, slot

    @property
    def accents(self) -> tuple[Fraction, ...]:
        """Places of its accented strokes, in whole notes from the start of the reading."""
        return tuple(at for at, stroke in self.strokes() if stroke.level is Level.ACCENT)


def list_readings(figures: Iterable[Figure], meter: Meter) -> tuple[Reading, ...]:
    """Return every reading of some figures that fits a meter, from the right and from the left.

    Args:
        figures: in the order that chains prefer among equals.
        meter: of the phrase.
    """
    return tuple(
        Reading(figure=figure, lead=lead, lengths=rhythm.lengths, rebarred=rhythm.rebarred)
        for figure in figures
        for rhythm in list_rhythms(figure, meter)
        for lead in (Limb.RIGHT, Limb.LEFT)
    )


def list_rhythms(figure: Figure, meter: Meter) -> tuple[Rhythm, ...]:
    """Return every rhythm that keeps a figure recognisable and fits a meter, its own feel first.

    - The rhythms of its table row, and its re-barred ones.
    - A figure of even single strokes: all five subdivisions from eighths to thirty-seconds. Threes are
      re-barred where the figure goes in twos or fours by itself, and the other way round. Figures with flams,
      drags or buzzes keep the rhythms of their row: faster ones leave no time for the grace notes.
    - A figure with an inner rhythm: its proportions, one repetition taking half a beat, one beat or two, where
      every length is a note value of a thirty-second or longer.

    Triplets become three equal notes of a dotted quarter's beat, as in `fit_rhythms`.

    >>> from fillwright.music.meter import find_meter
    >>> from fillwright.music.rudiments import find_figure
    >>> [r.name for r in list_rhythms(find_figure("double paradiddle"), find_meter("4/4"))]
    ['sextuplets', 'triplets', 'sixteenths', 'eighths', 'thirty-seconds']
    >>> [r.name for r in list_rhythms(find_figure("flam drag"), find_meter("4/4"))][1]
    'a quarter-triplet, two eighth-triplets and a quarter-triplet'
    """
    known: dict[tuple[Fraction, ...], Rhythm] = {rhythm.lengths: rhythm for rhythm in figure.rhythms}
    for rhythm in (*_list_even(figure), *_list_scaled(figure)):
        known.setdefault(rhythm.lengths, rhythm)
    usual_first = tuple(sorted(known.values(), key=lambda rhythm: rhythm.rebarred))
    return fit_rhythms(replace(figure, rhythms=usual_first), meter)


def _list_even(figure: Figure) -> Iterator[Rhythm]:
    even = [rhythm for rhythm in figure.rhythms if _is_even(rhythm) and not rhythm.rebarred]
    if not even or any(slot and slot.kind is not Kind.SINGLE for slot in figure.strokes):
        return
    in_threes = {_has_triplets(rhythm) for rhythm in even}
    for length in _EVEN:
        rebarred = (length.denominator % 3 == 0) not in in_threes
        yield name_rhythm((length,) * len(figure.strokes), rebarred=rebarred)


def _list_scaled(figure: Figure) -> Iterator[Rhythm]:
    for rhythm in figure.rhythms:
        if _is_even(rhythm):
            continue
        for repetition in _REPETITION_LENGTHS:
            lengths = tuple(length * repetition / rhythm.length for length in rhythm.lengths)
            if all(_is_value(length) for length in lengths):
                yield name_rhythm(lengths, rebarred=rhythm.rebarred)


def _is_even(rhythm: Rhythm) -> bool:
    return len(set(rhythm.lengths)) == 1


def _is_value(length: Fraction) -> bool:
    """Return True if a length is one note value of a thirty-second or longer."""
    if length < _SHORTEST or (length.denominator % 3 == 0 and length > _LONGEST_THIRD):
        return False
    text = format_value(length)
    return " " not in text and parse_values(text) == (length,)


def fit_rhythms(figure: Figure, meter: Meter) -> tuple[Rhythm, ...]:
    """Return the rhythms of a figure that fit a meter, its own feel first.

    A beat of a dotted quarter already goes in threes: a triplet elsewhere is three eighths there. No triplet
    fits 7/8.

    >>> from fillwright.music.meter import find_meter
    >>> from fillwright.music.rudiments import find_figure
    >>> [r.name for r in fit_rhythms(find_figure("flam accent"), find_meter("6/8"))]
    ['eighths', 'sixteenths']
    >>> [r.name for r in fit_rhythms(find_figure("single stroke four"), find_meter("7/8"))]
    []
    """
    if not meter.counts_eighths:
        return figure.rhythms
    fitted = (_stretch(r) if meter.counts_in_three else r for r in figure.rhythms)
    by_lengths: dict[tuple[Fraction, ...], Rhythm] = {}
    for rhythm in fitted:
        by_lengths.setdefault(rhythm.lengths, rhythm)
    return tuple(r for r in by_lengths.values() if not _has_triplets(r))


def require_rhythms(figure: Figure, meter: Meter) -> tuple[Rhythm, ...]:
    """Return the rhythms of a figure that fit a meter, at least one.

    Raises:
        FitError: if there is none.
    """
    fitted = fit_rhythms(figure, meter)
    if fitted:
        return fitted
    why = f"has triplets only, and they don't fit {meter.name}" if figure.rhythms else "has no rhythm"
    raise FitError(f'{figure.name} {why}; give it a rhythm, for example "16".')


def _has_triplets(rhythm: Rhythm) -> bool:
    return any(length.denominator % 3 == 0 for length in rhythm.lengths)


def _stretch(rhythm: Rhythm) -> Rhythm:
    """Return a rhythm in triplets stretched to a dotted quarter, if every length can be written."""
    stretched = (length * 3 / 2 for length in rhythm.lengths)
    if not _has_triplets(rhythm) or any(length.numerator not in (1, 3) for length in stretched):
        return rhythm
    lengths = tuple(length * 3 / 2 for length in rhythm.lengths)
    return name_rhythm(lengths, rebarred=rhythm.rebarred)
