"""Phrases: bars of groove, then a fill, then the landing."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from enum import Enum
from fractions import Fraction

from fillwright.errors import SpanError
from fillwright.music.grooves import Groove
from fillwright.music.hit import Hit, mirror_hits
from fillwright.music.meter import Meter
from fillwright.music.stroke import Level, Limb, Stroke
from fillwright.music.surfaces import surface

MAX_BARS = 64
"""The longest phrase that can be written."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Span:
    """The part of a phrase that a fill takes, in whole notes from the start of the phrase."""

    start: Fraction
    length: Fraction

    @property
    def end(self) -> Fraction:
        """Where it ends: the place of the landing."""
        return self.start + self.length


def last_beats(meter: Meter, bars: int, beats: Fraction) -> Span:
    """The span of the last beats of a phrase.

    Args:
        meter: its meter.
        bars: its length in bars, the landing not counted.
        beats: how many beats; fractions start off the beat.

    Raises:
        SpanError: for a phrase or a span that can't be.

    >>> from fillwright.music.meter import meter
    >>> str(last_beats(meter("4/4"), 4, Fraction(2)).start)
    '7/2'
    """
    if not 1 <= bars <= MAX_BARS:
        raise SpanError(f"A phrase of {bars} bars can't be written; it has 1 to {MAX_BARS}.")
    if not 0 < beats <= bars * len(meter.beats):
        raise SpanError(
            f"A fill of {beats} beats does not lie inside {bars} bars of {meter.name}; "
            f"it takes more than 0 and at most {bars * len(meter.beats)} beats."
        )
    length = meter.last_beats(beats)
    return Span(start=bars * meter.bar - length, length=length)


@dataclass(frozen=True, slots=True, kw_only=True)
class Fill:
    """What is played in a span: hits in whole notes from the start of the span."""

    span: Span
    hits: tuple[Hit, ...]

    def mirror(self) -> Fill:
        """The same fill with the hands exchanged; the drums stay."""
        return replace(self, hits=mirror_hits(self.hits))


class Part(Enum):
    """What a bar is for."""

    GROOVE = "groove"
    FILL = "fill"
    LANDING = "landing"


@dataclass(frozen=True, slots=True, kw_only=True)
class Bar:
    """One bar: its hits in whole notes from its own start."""

    part: Part
    hits: tuple[Hit, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Phrase:
    """Bars of groove, the fill, and the landing as a last bar of its own.

    Attributes:
        meter: of every bar.
        bars: the landing bar included.
        span: where the fill lies; None for a phrase without one.
    """

    meter: Meter
    bars: tuple[Bar, ...]
    span: Span | None = None

    @property
    def length(self) -> Fraction:
        """Its length in whole notes, the landing bar included."""
        return len(self.bars) * self.meter.bar

    def hits(self) -> Iterator[Hit]:
        """Every hit, placed in whole notes from the start of the phrase."""
        for number, bar in enumerate(self.bars):
            for hit in bar.hits:
                yield hit.moved(number * self.meter.bar)

    def in_fill(self, at: Fraction) -> bool:
        """Whether a place of the phrase lies inside the fill."""
        return self.span is not None and self.span.start <= at < self.span.end

    def mirror(self) -> Phrase:
        """The same phrase with hands and feet exchanged, for a kit set up the other way round."""
        return replace(self, bars=tuple(replace(b, hits=mirror_hits(b.hits)) for b in self.bars))


def landing(meter: Meter, hand: Limb, on: tuple[str, ...] = ("crash", "kick")) -> tuple[Hit, ...]:
    """The hits of a landing on beat 1, the hand accented.

    Args:
        meter: of the phrase.
        hand: the hand that lands.
        on: names of the surfaces struck together.
    """
    length = meter.beats[0]
    hits = []
    for name in on:
        where = surface(name)
        stroke = Stroke(hand=where.foot or hand, level=Level.TAP if where.foot else Level.ACCENT)
        hits.append(Hit(at=Fraction(0), length=length, stroke=stroke, surface=where))
    return tuple(hits)


def phrase(groove: Groove, fill: Fill | None, *, bars: int = 4, land: tuple[Hit, ...] = ()) -> Phrase:
    """Bars of groove that play on up to the fill's first stroke, the fill, and the landing.

    Args:
        groove: what is played before the fill.
        fill: its span must lie inside the phrase; None for groove alone.
        bars: how many bars, the landing not counted.
        land: hits of the landing bar; empty for none.

    Raises:
        SpanError: where the fill does not lie inside the phrase.
    """
    meter = groove.meter
    whole = bars * meter.bar
    span = fill.span if fill else None
    if span and not 0 <= span.start < span.end <= whole:
        raise SpanError(
            f"The fill ends {span.end} whole notes into the phrase, which has {bars} bars of {meter.name}; "
            "it must lie inside."
        )
    played = [hit.moved(span.start) for hit in fill.hits] if fill and span else []
    made = []
    for number in range(bars):
        start = number * meter.bar
        end = start + meter.bar
        hits = [h for h in groove.hits if span is None or not span.start <= start + h.at < span.end]
        hits += [h.moved(-start) for h in played if start <= h.at < end]
        filled = span is not None and span.start < end and start < span.end
        made.append(Bar(part=Part.FILL if filled else Part.GROOVE, hits=tuple(sorted(hits, key=Hit.order))))
    if land:
        made.append(Bar(part=Part.LANDING, hits=land))
    return Phrase(meter=meter, bars=tuple(made), span=span)
