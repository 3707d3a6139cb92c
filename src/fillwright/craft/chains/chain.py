"""Chains: readings end to end that fill a span exactly, with the hands that result."""

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
from fillwright.music.notevalue import format_beats
from fillwright.music.phrase import Span
from fillwright.music.stroke import Limb, Stroke
from fillwright.music.surfaces import find_surface


@dataclass(frozen=True, slots=True, kw_only=True)
class PlacedStroke:
    """A stroke of a chain in time.

    Attributes:
        at: whole notes from the start of the chain.
        length: whole notes up to the next place.
        stroke: the stroke.
        statement: number of its reading in the chain, from 0.
        last: True for the last stroke of its reading.
    """

    at: Fraction
    length: Fraction
    stroke: Stroke
    statement: int
    last: bool

    def shift(self, by: Fraction) -> PlacedStroke:
        """Return the same stroke, later by some whole notes."""
        return replace(self, at=self.at + by)


@dataclass(frozen=True, slots=True, kw_only=True)
class Chain:
    """Readings end to end."""

    readings: tuple[Reading, ...]

    @property
    def length(self) -> Fraction:
        """Length in whole notes."""
        return sum((reading.length for reading in self.readings), Fraction(0))

    @property
    def last_hand(self) -> Limb:
        """Hand of the last stroke."""
        return self.readings[-1].last_hand

    def place_strokes(self) -> Iterator[PlacedStroke]:
        """Yield its strokes in time; rests are left out."""
        at = Fraction(0)
        for number, reading in enumerate(self.readings):
            slots = reading.slots
            final = max(i for i, slot in enumerate(slots) if slot)
            for i, (slot, length) in enumerate(zip(slots, reading.lengths, strict=True)):
                if slot:
                    yield PlacedStroke(at=at, length=length, stroke=slot, statement=number, last=i == final)
                at += length

    def hits(self, name: str = "snare") -> tuple[Hit, ...]:
        """Return its strokes on one surface, in whole notes from its start."""
        where = find_surface(name)
        return tuple(
            Hit(at=placed.at, length=placed.length, stroke=placed.stroke, surface=where)
            for placed in self.place_strokes()
        )

    def then(self, other: Chain) -> Chain:
        """Return this chain followed by another."""
        return Chain(readings=self.readings + other.readings)

    def lead_with(self, lead: Limb) -> Chain:
        """Return this chain with that hand leading; every hand is exchanged if the lead differs."""
        if self.readings[0].lead is lead:
            return self
        return Chain(readings=tuple(replace(reading, lead=reading.lead.other) for reading in self.readings))


def repeat_figure(figure: Figure, rhythm: Rhythm, number: int, lead: Limb) -> Chain:
    """Return a chain of a figure repeated; an alternating figure starts with the other hand each time."""
    readings = []
    for _ in range(number):
        readings.append(Reading(figure=figure, lead=lead, lengths=rhythm.lengths))
        lead = lead.other if figure.alternates else lead
    return Chain(readings=tuple(readings))


def fits_span(rhythm: Rhythm, span: Span, meter: Meter) -> bool:
    """Return True if whole repetitions of a rhythm fill a span exactly and every triplet can be written."""
    if span.length % rhythm.length:
        return False
    at = span.start % meter.bar
    for _ in range(int(span.length / rhythm.length)):
        for length in rhythm.lengths:
            if not _is_writable(at % meter.bar, length, meter):
                return False
            at += length
    return True


def _is_writable(at: Fraction, length: Fraction, meter: Meter) -> bool:
    """Return True if a triplet note starts on its own grid, or another note on no third."""
    beat = max(start for start in meter.beat_starts if start <= at)
    if length.denominator % 3:
        return (at - beat).denominator % 3 != 0
    half_of_length = length / 2
    return (at - beat) % half_of_length == 0


@lru_cache(maxsize=4096)
def find_fitting_beats(rhythm: Rhythm, meter: Meter, *, bars: int = 1) -> tuple[Fraction, ...]:
    """Return the numbers of last beats, in half beats up to some bars, that whole repetitions of a rhythm fill.

    >>> from fillwright.music.meter import find_meter
    >>> from fillwright.music.rudiments import find_figure
    >>> accents = find_figure("flam accent")
    >>> [str(b) for b in find_fitting_beats(accents.rhythms[1], find_meter("4/4"))]  # in sixteenths
    ['3/2', '3']
    """
    total = bars * meter.bar
    halves = (Fraction(n, 2) for n in range(1, 2 * bars * len(meter.beats) + 1))
    return tuple(
        beats
        for beats in halves
        if fits_span(
            rhythm,
            Span(start=total - meter.measure_beats(beats), length=meter.measure_beats(beats)),
            meter,
        )
    )


def fill_span(figure: Figure, rhythm: Rhythm, span: Span, meter: Meter, *, lead: Limb) -> Chain:
    """Return a chain of a figure repeated until it fills a span.

    Args:
        figure: the figure to repeat.
        rhythm: one of its rhythms.
        span: the span to fill.
        meter: of the phrase.
        lead: the hand of the first stroke.

    Raises:
        FitError: with the spans that the figure fits.
    """
    if not fits_span(rhythm, span, meter):
        raise FitError(describe_misfit(figure, rhythm, span, meter))
    return repeat_figure(figure, rhythm, int(span.length / rhythm.length), lead)


def describe_misfit(figure: Figure, rhythm: Rhythm, span: Span, meter: Meter) -> str:
    """Return a sentence that a figure does not fill a span, with the spans that it fills."""
    beats = format_beats(meter.count_beats(span.length))
    misfit = f"{figure.name} in {rhythm.name} does not fill the last {beats} of {meter.name}"
    takes = f"one repetition takes {format_length(rhythm.length, meter)}"
    for bars in (1, 2, 4):
        spans = find_fitting_beats(rhythm, meter, bars=bars)
        if spans:
            return f"{misfit}: {takes}, so use the last {format_choice(spans)}."
    return f"{misfit}: {takes}, and it fills no span up to four bars; choose another rhythm."


def format_length(length: Fraction, meter: Meter) -> str:
    """Write a length in beats, or in eighths where beats differ: 2 beats of 7/8 may be 4 or 5 eighths."""
    if len(set(meter.beats)) == 1:
        return format_beats(length / meter.tempo_unit)
    return format_beats(length * 8).replace("beat", "eighth")


def format_choice(spans: tuple[Fraction, ...]) -> str:
    """Write numbers of beats as a choice: "1½ or 3 beats"."""
    *first, last = spans
    numbers = [format_beats(beats).rsplit(" ", 1)[0] for beats in first]
    return f"{', '.join(numbers)} or {format_beats(last)}" if first else format_beats(last)
