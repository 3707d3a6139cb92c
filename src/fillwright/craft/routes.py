"""Routes: which surface each stroke of a chain goes to."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise

from fillwright.craft.chains import Chain, Placed
from fillwright.music.hit import Hit
from fillwright.music.meter import Meter
from fillwright.music.phrase import Fill, Span
from fillwright.music.stroke import Kind, Level, Limb, Stroke
from fillwright.music.surfaces import surface

_ROUND = {
    1: ("snare",),
    2: ("snare", "floor tom"),
    3: ("snare", "high tom", "floor tom"),
    4: ("snare", "high tom", "mid tom", "floor tom"),
}
"""Where a fill goes, beat by beat, for spans of so many beats (common practice, no source)."""

_QUICKEST_SPLIT = Fraction(1, 16)
"""The quickest two strokes of one hand that may part between two surfaces, in whole notes."""


def one_surface(chain: Chain, span: Span, name: str = "snare") -> Fill:
    """Every stroke on one surface."""
    return _fill(span, ((placed, name) for placed in chain.placed()))


def round_by_beat(chain: Chain, span: Span, meter: Meter) -> Fill:
    """A drum for each beat, from the snare down the toms."""
    starts = _beats_of(span, meter)
    drums = _ROUND.get(len(starts)) or tuple(_ROUND[4][4 * i // len(starts)] for i in range(len(starts)))

    def drum(at: Fraction) -> str:
        return drums[max(i for i, start in enumerate(starts) if start <= at or i == 0)]

    return _fill(span, ((placed, drum(placed.at)) for placed in chain.placed()))


def accents_to_toms(chain: Chain, span: Span, meter: Meter) -> Fill:
    """Accents on the toms, right on the floor tom and left on the high tom; the rest on the snare.

    A figure without accents is accented on each beat.
    """
    placed = tuple(chain.placed())
    if not any(p.stroke.level is Level.ACCENT for p in placed):
        starts = _beats_of(span, meter)
        placed = tuple(_accented(p) if p.at in starts else p for p in placed)
    return _fill(span, ((p, _tom_of(p) if p.stroke.level is Level.ACCENT else "snare") for p in placed))


def hands_apart(chain: Chain, span: Span) -> Fill:
    """The right hand on the floor tom, the left on the snare."""
    return _fill(span, ((p, "floor tom" if p.stroke.hand is Limb.RIGHT else "snare") for p in chain.placed()))


def ends_on_cymbals(chain: Chain, span: Span, meter: Meter) -> Fill | None:
    """The stroke that ends a turn and a beat together goes to the crash, doubled by the kick.

    Returns:
        The fill, or None where a hand would have to leave quick strokes for the crash.
    """
    placed = tuple(chain.placed())
    crashes = _turns_end_with_beats(placed, {*_beats_of(span, meter), span.length})
    if any(_splits_a_double(placed, hand, crashes) for hand in (Limb.RIGHT, Limb.LEFT)):
        return None
    hits: list[Hit] = []
    for now in placed:
        if now.at in crashes:
            plain = replace(now, stroke=Stroke(hand=now.stroke.hand, level=Level.ACCENT))
            hits += [_hit(plain, "crash"), _kick(now)]
        else:
            hits.append(_hit(now, "snare"))
    return Fill(span=span, hits=tuple(hits))


def _turns_end_with_beats(placed: tuple[Placed, ...], ends: set[Fraction]) -> set[Fraction]:
    """Places of the strokes that end a turn of several strokes and a beat together, and of the very last."""
    together = {
        now.at
        for before, now in pairwise(placed)
        if now.last and before.turn == now.turn and now.at + now.length in ends
    }
    return together | {placed[-1].at}


def _splits_a_double(placed: tuple[Placed, ...], hand: Limb, crashes: set[Fraction]) -> bool:
    """Whether a hand would have to go to the crash or come back from it faster than it can."""
    strokes = [p.at for p in placed if p.stroke.hand is hand]
    return any(
        later - sooner < _QUICKEST_SPLIT and (sooner in crashes) != (later in crashes)
        for sooner, later in pairwise(strokes)
    )


def snare_then_tom(first: Chain, answer: Chain, span: Span) -> Fill:
    """One chain on the snare and the chain behind it on the floor tom, in turn, until the span is full.

    After the first, each chain starts with the hand that did not play the stroke before.
    """
    hits: list[Hit] = []
    at = Fraction(0)
    for chain, name in _in_turn(first, answer, span.length):
        led = chain.led_by(hits[-1].stroke.hand.other) if hits else chain
        hits += [_hit(placed, name).moved(at) for placed in led.placed()]
        at += chain.length
    return Fill(span=span, hits=tuple(hits))


def _in_turn(first: Chain, answer: Chain, length: Fraction) -> Iterable[tuple[Chain, str]]:
    pairs = int(length / (first.length + answer.length))
    return ((first, "snare"), (answer, "floor tom")) * pairs


def _beats_of(span: Span, meter: Meter) -> tuple[Fraction, ...]:
    """Starts of the beats inside a span, from its own start; a start off the beat counts as a beat."""
    bars = range(int(span.start // meter.bar), int(-(-span.end // meter.bar)))
    starts = {bar * meter.bar + beat - span.start for bar in bars for beat in meter.beat_starts}
    return tuple(sorted({start for start in starts if 0 <= start < span.length} | {Fraction(0)}))


def _tom_of(placed: Placed) -> str:
    return "floor tom" if placed.stroke.hand is Limb.RIGHT else "high tom"


def _accented(placed: Placed) -> Placed:
    return replace(placed, stroke=replace(placed.stroke, level=Level.ACCENT))


def _fill(span: Span, routed: Iterable[tuple[Placed, str]]) -> Fill:
    return Fill(span=span, hits=tuple(_hit(placed, name) for placed, name in routed))


def _hit(placed: Placed, name: str) -> Hit:
    return Hit(at=placed.at, length=placed.length, stroke=placed.stroke, surface=surface(name))


def _kick(placed: Placed) -> Hit:
    kick = Stroke(hand=Limb.RIGHT_FOOT, kind=Kind.SINGLE)
    return Hit(at=placed.at, length=placed.length, stroke=kick, surface=surface("kick"))
