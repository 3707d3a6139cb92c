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
    _check_bars(bars)
    if not 0 < beats <= bars * len(meter.beats):
        raise SpanError(
            f"A fill of {beats} beats does not lie inside {_bars_of(bars, meter)}; "
            f"it takes more than 0 and at most {bars * len(meter.beats)} beats."
        )
    length = meter.last_beats(beats)
    return Span(start=bars * meter.bar - length, length=length)


def _bars_of(bars: int, meter: Meter) -> str:
    return f"{bars} {'bar' if bars == 1 else 'bars'} of {meter.name}"


def _check_bars(bars: int) -> None:
    if not 1 <= bars <= MAX_BARS:
        raise SpanError(f"A phrase of {bars} bars can't be written; it has 1 to {MAX_BARS}.")


@dataclass(frozen=True, slots=True, kw_only=True)
class Fill:
    """What is played in a span: hits in whole notes from the start of the span."""

    span: Span
    hits: tuple[Hit, ...]

    def mirror(self) -> Fill:
        """The same fill with hands and feet exchanged; the drums stay."""
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
    """The hits of a landing on beat 1, the hands accented.

    Args:
        meter: of the phrase.
        hand: the hand that lands; a second surface struck by hand falls to the other one.
        on: names of the surfaces struck together.

    Raises:
        UnknownNameError: for a surface that stands in no table.
        FitError: for more than two surfaces struck by hand.
    """
    struck = [surface(name) for name in on]
    by_hand = [where for where in struck if where.foot is None]
    if len(by_hand) > 2:
        names = ", ".join(where.name for where in by_hand)
        raise FitError(f"A landing on {names} needs {len(by_hand)} hands; choose at most two of them.")
    hands = iter((hand, hand.other))
    hits = []
    for where in struck:
        stroke = Stroke(hand=where.foot) if where.foot else Stroke(hand=next(hands), level=Level.ACCENT)
        hits.append(Hit(at=Fraction(0), length=meter.beats[0], stroke=stroke, surface=where))
    return tuple(hits)


def phrase(groove: Groove, fill: Fill | None, *, bars: int = 4, land: tuple[Hit, ...] = ()) -> Phrase:
    """Bars of groove that play on up to the fill's first stroke, the fill, and the landing.

    A groove's stroke that would still last when the fill starts is cut there.

    Args:
        groove: what is played before the fill.
        fill: its span must lie inside the phrase; None for groove alone.
        bars: how many bars, the landing not counted.
        land: hits of the landing bar; empty for none.

    Raises:
        SpanError: where the phrase can't be that long, the fill does not lie inside it, or a stroke of the
            fill not inside its span.
    """
    _check_bars(bars)
    meter = groove.meter
    span = fill.span if fill else None
    if fill:
        _check_fill(fill, meter, bars)
    played = [hit.moved(fill.span.start) for hit in fill.hits] if fill else []
    made = []
    for number in range(bars):
        start = number * meter.bar
        end = start + meter.bar
        hits = list(_groove_around(groove, span, start))
        hits += [h.moved(-start) for h in played if start <= h.at < end]
        filled = span is not None and span.start < end and start < span.end
        made.append(Bar(part=Part.FILL if filled else Part.GROOVE, hits=tuple(sorted(hits, key=Hit.order))))
    if land:
        made.append(Bar(part=Part.LANDING, hits=tuple(sorted(land, key=Hit.order))))
    return Phrase(meter=meter, bars=tuple(made), span=span)


def _check_fill(fill: Fill, meter: Meter, bars: int) -> None:
    span, whole = fill.span, bars * meter.bar
    if not 0 <= span.start < span.end <= whole:
        raise SpanError(
            f"A fill from {span.start} to {span.end} whole notes does not lie inside "
            f"{_bars_of(bars, meter)}; it must start before it ends, between 0 and {whole}."
        )
    for hit in fill.hits:
        if not 0 <= hit.at < span.length:
            raise SpanError(
                f"A stroke on the {hit.surface.name} falls {hit.at} whole notes into a fill of {span.length}; "
                "every stroke must lie inside it."
            )


def _groove_around(groove: Groove, span: Span | None, start: Fraction) -> Iterator[Hit]:
    """A groove's hits in the bar that starts there, without those inside the span."""
    for hit in groove.hits:
        at = start + hit.at
        if span is None or at >= span.end:
            yield hit
        elif at < span.start:
            yield replace(hit, length=min(hit.length, span.start - at))
