"""Readings: a figure's rhythm at one subdivision, from one lead hand."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import accumulate, pairwise

from fillwright.errors import FitError
from fillwright.music.figure import Figure, Rhythm
from fillwright.music.meter import Meter
from fillwright.music.notevalue import SUBDIVISIONS, format_value, parse_values
from fillwright.music.rudiments import named_rhythm
from fillwright.music.stroke import Kind, Level, Limb, Slot, Stroke

_EVEN = tuple(
    SUBDIVISIONS[name] for name in ("eighths", "triplets", "sixteenths", "sextuplets", "thirty-seconds")
)
_TURNS = (Fraction(1, 8), Fraction(1, 4), Fraction(1, 2))
"""Half a beat, one and two: what a turn of a figure with an inner rhythm may be scaled to, in whole notes."""

_SHORTEST = Fraction(1, 32)
_LONGEST_THIRD = Fraction(1, 6)
"""A quarter-note triplet's; a longer third would hide a beat."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """One turn of a figure in time.

    Attributes:
        figure: what is played.
        lead: the hand it starts with.
        lengths: length of each of its places, in whole notes.
        rebarred: whether it is the figure out of its own feel.
    """

    figure: Figure
    lead: Limb
    lengths: tuple[Fraction, ...]
    rebarred: bool = False

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

    @property
    def rhythm_name(self) -> str:
        """Its rhythm as a drummer says it."""
        return named_rhythm(self.lengths).name

    def beats(self, meter: Meter) -> Fraction:
        """How many beats of a meter it takes; in 7/8, where beats differ, the quarter counts as one."""
        return self.length / meter.tempo_unit

    def strokes(self) -> Iterator[tuple[Fraction, Stroke]]:
        """Its strokes, each with its place in whole notes from the start of the turn."""
        starts = accumulate(self.lengths[:-1], initial=Fraction(0))
        for at, slot in zip(starts, self.slots, strict=True):
            if slot:
                yield at, slot

    @property
    def accents(self) -> tuple[Fraction, ...]:
        """Places of its accented strokes, in whole notes from the start of the turn."""
        return tuple(at for at, stroke in self.strokes() if stroke.level is Level.ACCENT)

    @property
    def fastest_gap(self) -> Fraction | None:
        """The shortest time between two touches of one hand within the turn, in whole notes.

        Grace notes are a touch of the other hand at the time of their stroke, a drag's two together.

        Returns:
            None where no hand touches twice.

        >>> from fillwright.music.rudiments import find_figure
        >>> tap = find_figure("flam tap")
        >>> Reading(figure=tap, lead=Limb.RIGHT, lengths=tap.rhythms[0].lengths).fastest_gap
        Fraction(1, 16)
        """
        touches: dict[Limb, list[Fraction]] = {Limb.RIGHT: [], Limb.LEFT: []}
        for at, stroke in self.strokes():
            touches[stroke.hand].append(at)
            if stroke.kind.graces:
                touches[stroke.hand.other].append(at)
        gaps = (later - sooner for times in touches.values() for sooner, later in pairwise(times))
        return min(gaps, default=None)


def readings(figures: Iterable[Figure], meter: Meter) -> tuple[Reading, ...]:
    """Every reading of some figures that a meter can hold, from the right and from the left.

    Args:
        figures: in the order that chains are to prefer among equals.
        meter: of the phrase.
    """
    return tuple(
        Reading(figure=figure, lead=lead, lengths=rhythm.lengths, rebarred=rhythm.rebarred)
        for figure in figures
        for rhythm in every_rhythm(figure, meter)
        for lead in (Limb.RIGHT, Limb.LEFT)
    )


def every_rhythm(figure: Figure, meter: Meter) -> tuple[Rhythm, ...]:
    """Every rhythm that keeps a figure itself and that a meter can hold, its own feel first.

    - The rhythms of its own, and those it is known re-barred in.
    - A figure that is played evenly in single strokes: all five subdivisions from eighths to thirty-seconds.
      Threes are re-barred where it goes in twos or fours by itself, and the other way round. Flams, drags and
      buzzes stay with the rhythms they are known in: they need the room they have there.
    - A figure with an inner rhythm: its proportions, one turn taking half a beat, one or two, where every
      length is a note value of a thirty-second or longer.

    Triplets turn into what a meter of dotted quarters has for them, as in `rhythms_in`.

    >>> from fillwright.music.meter import meter
    >>> from fillwright.music.rudiments import find_figure
    >>> [r.name for r in every_rhythm(find_figure("double paradiddle"), meter("4/4"))]
    ['sextuplets', 'triplets', 'sixteenths', 'eighths', 'thirty-seconds']
    >>> [r.name for r in every_rhythm(find_figure("flam drag"), meter("4/4"))][1]
    'a quarter-triplet, two eighth-triplets and a quarter-triplet'
    """
    known: dict[tuple[Fraction, ...], Rhythm] = {rhythm.lengths: rhythm for rhythm in figure.rhythms}
    for rhythm in (*_evenly(figure), *_scaled(figure)):
        known.setdefault(rhythm.lengths, rhythm)
    own_first = tuple(sorted(known.values(), key=lambda rhythm: rhythm.rebarred))
    return rhythms_in(replace(figure, rhythms=own_first), meter)


def _evenly(figure: Figure) -> Iterator[Rhythm]:
    own = [rhythm for rhythm in figure.rhythms if _is_even(rhythm) and not rhythm.rebarred]
    if not own or any(slot and slot.kind is not Kind.SINGLE for slot in figure.strokes):
        return
    in_threes = {_has_triplets(rhythm) for rhythm in own}
    for length in _EVEN:
        rebarred = (length.denominator % 3 == 0) not in in_threes
        yield named_rhythm((length,) * len(figure.strokes), rebarred=rebarred)


def _scaled(figure: Figure) -> Iterator[Rhythm]:
    for rhythm in figure.rhythms:
        if _is_even(rhythm):
            continue
        whole = sum(rhythm.lengths, Fraction(0))
        for turn in _TURNS:
            lengths = tuple(length * turn / whole for length in rhythm.lengths)
            if all(_is_value(length) for length in lengths):
                yield named_rhythm(lengths, rebarred=rhythm.rebarred)


def _is_even(rhythm: Rhythm) -> bool:
    return len(set(rhythm.lengths)) == 1


def _is_value(length: Fraction) -> bool:
    """Whether a length is one note value of a thirty-second or longer."""
    if length < _SHORTEST or (length.denominator % 3 == 0 and length > _LONGEST_THIRD):
        return False
    text = format_value(length)
    return " " not in text and parse_values(text) == (length,)


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
