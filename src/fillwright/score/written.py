"""The written model: bars, voices, beats, notes, tuplets and rests, before any format.

`score.transcribe` makes it from a phrase. The engraving and the MusicXML are both made from it, so they agree.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise

from fillwright.music.hit import Hit
from fillwright.music.phrase import Bar


@dataclass(frozen=True, slots=True, kw_only=True)
class Note:
    """One note head or chord of one voice.

    Attributes:
        id: unique on the page.
        at: place in whole notes from the start of the bar.
        length: time it takes on paper, in whole notes.
        value: note value as a denominator, 4 for a quarter.
        dots: 0 or 1.
        hits: what is struck together, from the lowest note head to the highest.
        slashes: strokes through the stem of an abbreviated roll, 0 for none.
    """

    id: str
    at: Fraction
    length: Fraction
    value: int
    dots: int
    hits: tuple[Hit, ...]
    slashes: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Rest:
    """A rest; a hidden one only keeps the place."""

    at: Fraction
    length: Fraction
    value: int
    dots: int = 0
    hidden: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Tuplet:
    """Items in the time of fewer: three in the time of two.

    Attributes:
        actual: how many are written.
        normal: in the time of how many.
        value: note value of the counted note, as a denominator.
        items: its notes and rests.
        number: True if its number is printed.
        bracket: True if it needs a bracket, since its notes are not under one beam.
    """

    actual: int
    normal: int
    value: int
    items: tuple[Note | Rest, ...]
    number: bool = True
    bracket: bool = False


Item = Note | Rest | Tuplet


@dataclass(frozen=True, slots=True, kw_only=True)
class Voice:
    """One voice of a bar: its items, beat by beat (a long rest takes several beats)."""

    beats: tuple[tuple[Item, ...], ...]

    def notes(self) -> Iterator[Note]:
        """Yield its notes in order, those in tuplets too."""
        for item in self.items():
            if isinstance(item, Note):
                yield item

    def tied_rolls(self) -> Iterator[tuple[Note, Note]]:
        """Yield each abbreviated roll with the note that it runs into on the same surface."""
        for roll, release in pairwise(self.notes()):
            at_once = roll.at + roll.length == release.at
            if roll.slashes and at_once and roll.hits[0].surface == release.hits[0].surface:
                yield roll, release

    def items(self) -> Iterator[Note | Rest]:
        """Yield its notes and rests in order, those in tuplets too."""
        for beat in self.beats:
            for item in beat:
                yield from item.items if isinstance(item, Tuplet) else (item,)


@dataclass(frozen=True, slots=True, kw_only=True)
class WrittenBar:
    """A bar on paper.

    Attributes:
        number: from 1.
        bar: what is played in it.
        hands: the voice with stems up.
        feet: the voice with stems down.
        repeats: True if it is written as a repeat of the bar before.
    """

    number: int
    bar: Bar
    hands: Voice
    feet: Voice
    repeats: bool = False
