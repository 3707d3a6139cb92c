"""Chains: readings laid end to end that fill a span exactly, with the hands that result."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import lru_cache

from fillwright.craft.chains.readings import Reading
from fillwright.errors import FitError
from fillwright.music.figure import Figure, Rhythm
from fillwright.music.hit import Hit
from fillwright.music.meter import Meter
from fillwright.music.notevalue import in_words
from fillwright.music.phrase import Span
from fillwright.music.stroke import Limb, Stroke
from fillwright.music.surfaces import surface


@dataclass(frozen=True, slots=True, kw_only=True)
class Placed:
    """A stroke of a chain in time.

    Attributes:
        at: whole notes from the start of the chain.
        length: whole notes up to the next place.
        stroke: the stroke.
        turn: which reading of the chain it belongs to, from 0.
        last: whether it is the last stroke of its reading.
    """

    at: Fraction
    length: Fraction
    stroke: Stroke
    turn: int
    last: bool

    def moved(self, by: Fraction) -> Placed:
        """The same stroke later by some whole notes."""
        return replace(self, at=self.at + by)


@dataclass(frozen=True, slots=True, kw_only=True)
class Chain:
    """Readings end to end."""

    readings: tuple[Reading, ...]

    @property
    def length(self) -> Fraction:
        """How long it takes, in whole notes."""
        return sum((reading.length for reading in self.readings), Fraction(0))

    @property
    def last_hand(self) -> Limb:
        """The hand of its last stroke."""
        return self.readings[-1].last_hand

    def placed(self) -> Iterator[Placed]:
        """Its strokes in time, rests left out."""
        at = Fraction(0)
        for turn, reading in enumerate(self.readings):
            slots = reading.slots
            final = max(i for i, slot in enumerate(slots) if slot)
            for i, (slot, length) in enumerate(zip(slots, reading.lengths, strict=True)):
                if slot:
                    yield Placed(at=at, length=length, stroke=slot, turn=turn, last=i == final)
                at += length

    def hits(self, name: str = "snare") -> tuple[Hit, ...]:
        """Its strokes on one surface, in whole notes from its start."""
        where = surface(name)
        return tuple(
            Hit(at=placed.at, length=placed.length, stroke=placed.stroke, surface=where)
            for placed in self.placed()
        )

    def then(self, other: Chain) -> Chain:
        """This chain with another behind it."""
        return Chain(readings=self.readings + other.readings)

    def led_by(self, lead: Limb) -> Chain:
        """This chain from that lead hand, every hand exchanged where it differs."""
        if self.readings[0].lead is lead:
            return self
        return Chain(readings=tuple(replace(reading, lead=reading.lead.other) for reading in self.readings))


def turn_length(rhythm: Rhythm) -> Fraction:
    """How long one turn of a rhythm takes, in whole notes."""
    return sum(rhythm.lengths, Fraction(0))


def repeat(figure: Figure, rhythm: Rhythm, turns: int, lead: Limb) -> Chain:
    """A figure played a number of times, from the other hand each time where it alternates."""
    readings = []
    for _ in range(turns):
        readings.append(Reading(figure=figure, lead=lead, lengths=rhythm.lengths))
        lead = lead.other if figure.alternates else lead
    return Chain(readings=tuple(readings))


def fits(rhythm: Rhythm, span: Span, meter: Meter) -> bool:
    """Whether whole turns of a rhythm fill a span exactly, triplets starting where they can be written."""
    unit = turn_length(rhythm)
    if span.length % unit:
        return False
    at = span.start % meter.bar
    for _ in range(int(span.length / unit)):
        for length in rhythm.lengths:
            if not _writable(at % meter.bar, length, meter):
                return False
            at += length
    return True


def _writable(at: Fraction, length: Fraction, meter: Meter) -> bool:
    """Whether a note of a triplet stands on its own grid; other notes may start anywhere on theirs."""
    beat = max(start for start in meter.beat_starts if start <= at)
    if length.denominator % 3:
        return (at - beat).denominator % 3 != 0
    half_of_length = length / 2
    return (at - beat) % half_of_length == 0


@lru_cache(maxsize=4096)
def fitting_beats(rhythm: Rhythm, meter: Meter, *, bars: int = 1) -> tuple[Fraction, ...]:
    """The numbers of last beats, by half beats up to some bars, that whole turns of a rhythm fill.

    >>> from fillwright.music.meter import meter
    >>> from fillwright.music.rudiments import find_figure
    >>> accents = find_figure("flam accent")
    >>> [str(b) for b in fitting_beats(accents.rhythms[1], meter("4/4"))]  # in sixteenths
    ['3/2', '3']
    """
    total = bars * meter.bar
    halves = (Fraction(n, 2) for n in range(1, 2 * bars * len(meter.beats) + 1))
    return tuple(
        beats
        for beats in halves
        if fits(
            rhythm,
            Span(start=total - meter.last_beats(beats), length=meter.last_beats(beats)),
            meter,
        )
    )


def fill_span(figure: Figure, rhythm: Rhythm, span: Span, meter: Meter, *, lead: Limb) -> Chain:
    """A figure repeated until it fills a span.

    Args:
        figure: what is repeated.
        rhythm: one of its rhythms.
        span: where it lies, whole notes from the start of the phrase.
        meter: of the phrase.
        lead: the hand of the first stroke.

    Raises:
        FitError: saying which spans the figure fits.
    """
    if not fits(rhythm, span, meter):
        raise FitError(misfit(figure, rhythm, span, meter))
    return repeat(figure, rhythm, int(span.length / turn_length(rhythm)), lead)


def misfit(figure: Figure, rhythm: Rhythm, span: Span, meter: Meter) -> str:
    """The sentence that says a figure does not fill a span, and which it does."""
    asked = f"{figure.name} in {rhythm.name} does not fill the last {in_words(meter.beats_in(span.length))}"
    unit = turn_length(rhythm)
    takes = f"one turn takes {_time(unit, meter)}"
    for bars in (1, 2, 4):
        spans = fitting_beats(rhythm, meter, bars=bars)
        if spans:
            return f"{asked} of {meter.name}: {takes}, so it fits the last {_listed(spans)}."
    return (
        f"{asked} of {meter.name}: {takes}, and no span up to four bars comes out even; choose another rhythm."
    )


def _time(length: Fraction, meter: Meter) -> str:
    """A length in beats, or in eighths where beats differ: "2 beats" of 7/8 may be four or five of them."""
    if len(set(meter.beats)) == 1:
        return in_words(length / meter.tempo_unit)
    return in_words(length * 8).replace("beat", "eighth")


def _listed(spans: tuple[Fraction, ...]) -> str:
    """Numbers of beats as a choice: "1½ or 3 beats"."""
    *others, last = spans
    numbers = [in_words(b).rsplit(" ", 1)[0] for b in others]
    return f"{', '.join(numbers)} or {in_words(last)}" if others else in_words(last)
