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

places = st.fractions(Fraction(0), Fraction(4), max_denominator=96)
lengths = st.fractions(Fraction(1, 128), Fraction(2), max_denominator=128)
drums = st.sampled_from(list(load_surfaces().values()))
strokes = st.builds(
    Stroke, hand=st.sampled_from(Limb), kind=st.sampled_from(Kind), level=st.sampled_from(Level)
)
hits = st.builds(Hit, at=places, length=lengths, stroke=strokes, surface=drums, graces_on=st.none() | drums)
bars = st.builds(Bar, part=st.sampled_from(Part), hits=st.lists(hits, max_size=6).map(tuple))
phrases = st.builds(
    Phrase,
    meter=st.sampled_from(list_meters()).map(find_meter),
    bars=st.lists(bars, min_size=1, max_size=5).map(tuple),
    span=st.none() | st.builds(Span, start=places, length=lengths),
)
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
    phrase=phrases,
    cue=st.lists(st.text(max_size=4), max_size=3).map(tuple),
    counting=st.booleans(),
    short_rolls=st.booleans(),
    page=st.sampled_from(["a4", "letter"]),
)


@given(phrases)
def test_a_phrase_read_back_is_the_same(phrase: Phrase) -> None:
    written = msgspec.json.encode(encode_phrase(phrase))
    assert decode_phrase(msgspec.json.decode(written, type=PhraseTable), "here") == phrase


@given(st.lists(fills, max_size=3).map(tuple))
def test_fills_read_back_are_the_same(made: tuple[FileFill, ...]) -> None:
    assert read_fills(encode_fills(made), "here") == made
