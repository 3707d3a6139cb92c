"""Phrases: bars of groove, then a fill, then the landing."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from enum import Enum
from fractions import Fraction

from fillwright.errors import FitError, SpanError
from fillwright.music.grooves import Groove
from fillwright.music.hit import Hit, mirror_hits
from fillwright.music.meter import Meter
from fillwright.music.stroke import Level, Limb, Stroke
from fillwright.music.surfaces import find_surface

MAX_BARS = 64
"""The longest phrase that can be written, in bars; ours, not measured."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Span:
    """The part of a phrase that a fill takes, in whole notes from the start of the phrase."""

    start: Fraction
    length: Fraction

    @property
    def end(self) -> Fraction:
        """End of the span, where the landing falls."""
        return self.start + self.length


def locate_last_beats(meter: Meter, bars: int, beats: Fraction) -> Span:
    """Return the span of the last beats of a phrase.

    Args:
        meter: of the phrase.
        bars: length of the phrase, the landing not counted.
        beats: number of beats; a fraction starts off the beat.

    Raises:
        SpanError: for a phrase of 0 or more than 64 bars, or a span that is not inside it.

    >>> from fillwright.music.meter import find_meter
    >>> str(locate_last_beats(find_meter("4/4"), 4, Fraction(2)).start)
    '7/2'
    """
    _check_bars(bars)
    if not 0 < beats <= bars * len(meter.beats):
        raise SpanError(
            f"A fill of {beats} beats does not fit in {_format_bars(bars, meter)}; "
            f"use more than 0 and at most {bars * len(meter.beats)} beats."
        )
    length = meter.measure_beats(beats)
    return Span(start=bars * meter.bar - length, length=length)


def _format_bars(bars: int, meter: Meter) -> str:
    return f"{bars} {'bar' if bars == 1 else 'bars'} of {meter.name}"


def _check_bars(bars: int) -> None:
    if not 1 <= bars <= MAX_BARS:
        raise SpanError(f"A phrase of {bars} bars can't be written; use 1 to {MAX_BARS}.")


@dataclass(frozen=True, slots=True, kw_only=True)
class Fill:
    """The strokes of a span: hits in whole notes from the start of the span."""

    span: Span
    hits: tuple[Hit, ...]

    def mirror(self) -> Fill:
        """Return the fill with left and right limbs exchanged; the drums stay."""
        return replace(self, hits=mirror_hits(self.hits))


class Part(Enum):
    """The part of a phrase that a bar belongs to."""

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
        span: the part that the fill takes; None for a phrase without a fill.
    """

    meter: Meter
    bars: tuple[Bar, ...]
    span: Span | None = None

    @property
    def length(self) -> Fraction:
        """Length in whole notes, the landing bar included."""
        return len(self.bars) * self.meter.bar

    def hits(self) -> Iterator[Hit]:
        """Yield every hit, in whole notes from the start of the phrase."""
        for number, bar in enumerate(self.bars):
            for hit in bar.hits:
                yield hit.shift(number * self.meter.bar)

    def is_in_fill(self, at: Fraction) -> bool:
        """Return True if a place of the phrase is inside the fill."""
        return self.span is not None and self.span.start <= at < self.span.end

    def mirror(self) -> Phrase:
        """Return the phrase with left and right limbs exchanged, for a kit set up the other way round."""
        return replace(self, bars=tuple(replace(b, hits=mirror_hits(b.hits)) for b in self.bars))


def build_landing(meter: Meter, hand: Limb, on: tuple[str, ...] = ("crash", "kick")) -> tuple[Hit, ...]:
    """Return the hits of a landing on beat 1, the hands accented.

    Args:
        meter: of the phrase.
        hand: the hand that lands; the other hand plays a second surface.
        on: names of the surfaces struck together.

    Raises:
        UnknownNameError: for a surface that is not in the table.
        FitError: for more than two surfaces struck by hand.
    """
    struck = [find_surface(name) for name in on]
    by_hand = [surface for surface in struck if surface.foot is None]
    if len(by_hand) > 2:
        names = ", ".join(surface.name for surface in by_hand)
        raise FitError(f"A landing on {names} needs {len(by_hand)} hands; choose at most two of them.")
    hands = iter((hand, hand.other))
    hits = []
    for surface in struck:
        stroke = Stroke(hand=surface.foot) if surface.foot else Stroke(hand=next(hands), level=Level.ACCENT)
        hits.append(Hit(at=Fraction(0), length=meter.beats[0], stroke=stroke, surface=surface))
    return tuple(hits)


def build_phrase(groove: Groove, fill: Fill | None, *, bars: int = 4, land: tuple[Hit, ...] = ()) -> Phrase:
    """Build a phrase: bars of groove up to the fill, the fill, and the landing.

    A stroke of the groove that would still last when the fill starts is cut there.

    Args:
        groove: the bars before the fill.
        fill: its span must be inside the phrase; None for groove alone.
        bars: number of bars, the landing not counted.
        land: hits of the landing bar; empty for none.

    Raises:
        SpanError: for a phrase of 0 or more than 64 bars, a fill that is not inside it, or a stroke that is
            not inside the fill.
    """
    _check_bars(bars)
    meter = groove.meter
    span = fill.span if fill else None
    if fill:
        _check_fill(fill, meter, bars)
    played = [hit.shift(fill.span.start) for hit in fill.hits] if fill else []
    built = []
    for number in range(bars):
        start = number * meter.bar
        end = start + meter.bar
        hits = list(_cut_groove(groove, span, start))
        hits += [h.shift(-start) for h in played if start <= h.at < end]
        filled = span is not None and span.start < end and start < span.end
        built.append(Bar(part=Part.FILL if filled else Part.GROOVE, hits=tuple(sorted(hits, key=Hit.order))))
    if land:
        built.append(Bar(part=Part.LANDING, hits=tuple(sorted(land, key=Hit.order))))
    return Phrase(meter=meter, bars=tuple(built), span=span)


def _check_fill(fill: Fill, meter: Meter, bars: int) -> None:
    span, length = fill.span, bars * meter.bar
    if not 0 <= span.start < span.end <= length:
        raise SpanError(
            f"A fill from {span.start} to {span.end} whole notes does not fit in "
            f"{_format_bars(bars, meter)}; it must start before it ends, between 0 and {length}."
        )
    for hit in fill.hits:
        if not 0 <= hit.at < span.length:
            raise SpanError(
                f"A stroke on the {hit.surface.name} is {hit.at} whole notes into a fill of {span.length}; "
                "every stroke must be inside the fill."
            )


def _cut_groove(groove: Groove, span: Span | None, start: Fraction) -> Iterator[Hit]:
    """Yield a groove's hits in the bar that starts there, without those inside the span."""
    for hit in groove.hits:
        at = start + hit.at
        if span is None or at >= span.end:
            yield hit
        elif at < span.start:
            yield replace(hit, length=min(hit.length, span.start - at))
