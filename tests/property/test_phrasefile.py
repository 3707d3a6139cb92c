"""A phrase written to fills.json and read back is the same phrase."""

from __future__ import annotations

from fractions import Fraction

import msgspec
from hypothesis import given
from hypothesis import strategies as st

from fillwright.music.hit import Hit
from fillwright.music.meter import find_meter, list_meters
from fillwright.music.phrase import Bar, Part, Phrase, Span
from fillwright.music.stroke import Kind, Level, Limb, Stroke
from fillwright.music.surfaces import load_surfaces
from fillwright.music.timing import Feel
from fillwright.pack.phrase_file import (
    FileFill,
    PhraseTable,
    decode_phrase,
    encode_fills,
    encode_phrase,
    read_fills,
)

PARTS = 96  # of a whole note: a grid that has triplets and thirty-seconds
SURFACES = tuple(load_surfaces().values())
BY_HAND = tuple(surface for surface in SURFACES if surface.foot is None)
LIMBS = tuple(Limb)


@st.composite
def hits(draw: st.DrawFn, bar: Fraction, limb: Limb, place: int) -> Hit:
    """A stroke that a hand or foot can play, at a place of the grid."""
    by_foot = limb.is_foot
    surfaces = [surface for surface in SURFACES if (surface.foot is not None) is by_foot]
    kind = Kind.SINGLE if by_foot else draw(st.sampled_from(Kind))
    return Hit(
        at=Fraction(place, PARTS),
        length=Fraction(draw(st.integers(1, int(bar * PARTS))), PARTS),
        stroke=Stroke(hand=limb, kind=kind, level=draw(st.sampled_from(Level))),
        surface=draw(st.sampled_from(surfaces)),
        graces_on=None if by_foot else draw(st.none() | st.sampled_from(BY_HAND)),
    )


@st.composite
def bars(draw: st.DrawFn, length: Fraction, parts: tuple[Part, ...]) -> Bar:
    """A bar in which a hand or foot has one stroke at a time."""
    places = st.tuples(st.integers(0, int(length * PARTS) - 1), st.sampled_from(LIMBS))
    chosen = draw(st.lists(places, max_size=6, unique=True))
    return Bar(
        part=draw(st.sampled_from(parts)),
        hits=tuple(draw(hits(length, limb, place)) for place, limb in chosen),
    )


@st.composite
def phrases(draw: st.DrawFn) -> Phrase:
    """A phrase whose fill is in its bars and whose landing, if any, is its last bar."""
    meter = find_meter(draw(st.sampled_from(list_meters())))
    count = draw(st.integers(1, 5))
    inner = tuple(part for part in Part if part is not Part.LANDING)
    rows = [draw(bars(meter.bar, inner)) for _ in range(count)]
    end = int(count * meter.bar * PARTS)
    start, stop = sorted(draw(st.lists(st.integers(0, end), min_size=2, max_size=2, unique=True)))
    span = Span(start=Fraction(start, PARTS), length=Fraction(stop - start, PARTS))
    if draw(st.booleans()):
        rows.append(draw(bars(meter.bar, (Part.LANDING,))))
    return Phrase(meter=meter, bars=tuple(rows), span=draw(st.none() | st.just(span)))


feels = st.builds(
    Feel, swing=st.fractions(Fraction(1, 2), Fraction(3, 4), max_denominator=24), flam_ms=st.floats(5, 80)
)
fills = st.builds(
    FileFill,
    number=st.integers(1, 99),
    slug=st.text(max_size=10),
    title=st.text(),
    caption=st.text(),
    tempos=st.lists(st.integers(20, 400), min_size=1, max_size=4).map(tuple),
    feel=feels,
    phrase=phrases(),
    cue=st.lists(st.text(max_size=4), max_size=3).map(tuple),
    counting=st.booleans(),
    short_rolls=st.booleans(),
    page=st.sampled_from(["a4", "letter"]),
)


@given(phrases())
def test_a_phrase_read_back_is_the_same(phrase: Phrase) -> None:
    written = msgspec.json.encode(encode_phrase(phrase))
    assert decode_phrase(msgspec.json.decode(written, type=PhraseTable), "here") == phrase


@given(st.lists(fills, max_size=3).map(tuple))
def test_fills_read_back_are_the_same(made: tuple[FileFill, ...]) -> None:
    assert read_fills(encode_fills(made), "here") == made
