"""A phrase as it is written: voices, beats, note values, tuplets and rests, before any format.

Both the engraving and the MusicXML are made from this one picture of the page, so they can't disagree.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise

from fillwright.errors import NotationError
from fillwright.music.hit import Hit
from fillwright.music.meter import Meter
from fillwright.music.phrase import Bar, Part, Phrase
from fillwright.score.rolls import shorten_rolls


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
        items: what stands in it.
        number: whether its number is printed.
        bracket: whether it needs a bracket, its notes not standing under one beam.
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
    """One voice of a bar: its items, beat by beat (a long rest stands alone for several beats)."""

    beats: tuple[tuple[Item, ...], ...]

    def notes(self) -> Iterator[Note]:
        """Its notes in order, those in tuplets too."""
        for item in self.items():
            if isinstance(item, Note):
                yield item

    def tied_rolls(self) -> Iterator[tuple[Note, Note]]:
        """Each abbreviated roll with the note that it runs into on the same surface."""
        for roll, release in pairwise(self.notes()):
            at_once = roll.at + roll.length == release.at
            if roll.slashes and at_once and roll.hits[0].surface == release.hits[0].surface:
                yield roll, release

    def items(self) -> Iterator[Note | Rest]:
        """Its notes and rests in order, those in tuplets too."""
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
        repeats: whether it is written as a repeat of the bar before.
    """

    number: int
    bar: Bar
    hands: Voice
    feet: Voice
    repeats: bool = False


def write(phrase: Phrase, *, short_rolls: bool = False) -> tuple[WrittenBar, ...]:
    """A phrase on paper, bar by bar.

    Args:
        phrase: what is played.
        short_rolls: whether rolls in thirty-seconds are abbreviated with strokes through the stem.

    Raises:
        NotationError: for a rhythm that can't be written.
    """
    made: list[WrittenBar] = []
    for number, bar in enumerate(phrase.bars, start=1):
        hands = [hit for hit in bar.hits if not hit.stroke.hand.is_foot]
        feet = [hit for hit in bar.hits if hit.stroke.hand.is_foot]
        slashes: dict[Fraction, int] = {}
        if short_rolls and bar.part is Part.FILL:
            hands, slashes = shorten_rolls(hands, phrase.meter)
        hand_voice = _voice(hands, phrase.meter, _Pen(prefix=f"b{number}h", slashes=slashes))
        foot_voice = _voice(feet, phrase.meter, _Pen(prefix=f"b{number}f", slashes={}, hidden=True))
        repeats = bool(made) and bar.part is Part.GROOVE and bar.hits == made[-1].bar.hits
        made.append(WrittenBar(number=number, bar=bar, hands=hand_voice, feet=foot_voice, repeats=repeats))
    return tuple(made)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Pen:
    """What the notes of one voice have in common."""

    prefix: str
    slashes: dict[Fraction, int]
    hidden: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class _Piece:
    """A stretch of one beat: a note where something is struck, else a rest."""

    at: Fraction
    end: Fraction
    hits: tuple[Hit, ...]


def _voice(hits: list[Hit], meter: Meter, pen: _Pen) -> Voice:
    by_onset: dict[Fraction, list[Hit]] = {}
    for hit in hits:
        by_onset.setdefault(hit.at, []).append(hit)
    beats: list[tuple[Item, ...]] = []
    for start, length in zip(meter.beat_starts, meter.beats, strict=True):
        pieces = _pieces(by_onset, start, start + length)
        beats.append(_engrave(pieces, start, length, pen))
    return Voice(beats=_merge_rests(beats, meter, hidden=pen.hidden))


def _pieces(by_onset: dict[Fraction, list[Hit]], start: Fraction, end: Fraction) -> list[_Piece]:
    """A beat cut at every onset and at every end before the next onset."""
    onsets = [at for at in sorted(by_onset) if start <= at < end]
    pieces = []
    if not onsets or onsets[0] > start:
        pieces.append(_Piece(at=start, end=onsets[0] if onsets else end, hits=()))
    for at, following in pairwise([*onsets, end]):
        hits = tuple(sorted(by_onset[at], key=lambda hit: hit.surface.loc))
        note_end = min(following, at + max(hit.length for hit in hits))
        pieces.append(_Piece(at=at, end=note_end, hits=hits))
        if note_end < following:
            pieces.append(_Piece(at=note_end, end=following, hits=()))
    return pieces


def _engrave(pieces: list[_Piece], start: Fraction, length: Fraction, pen: _Pen) -> tuple[Item, ...]:
    """Pieces that fill a stretch of time, as notes, rests and tuplets."""
    inner = [piece.at - start for piece in pieces[1:]]
    if all(_is_binary(offset) for offset in inner):
        return tuple(item for piece in pieces for item in _plain(piece, start, Fraction(1), pen))
    parts = {offset / length for offset in inner}
    thirds = {Fraction(1, 3), Fraction(2, 3)}
    half = Fraction(1, 2)
    if parts == {Fraction(n, 6) for n in range(1, 6)}:
        return (_tuplet(pieces, start, (6, length), pen),)
    if half in parts and not thirds <= parts:
        cut = start + length / 2
        first = [piece for piece in pieces if piece.at < cut]
        second = [piece for piece in pieces if piece.at >= cut]
        return _engrave(first, start, length / 2, pen) + _engrave(second, cut, length / 2, pen)
    if all(_is_binary(part * 3) for part in parts):
        return (_tuplet(pieces, start, (3, length), pen),)
    places = ", ".join(str(part) for part in sorted(parts))
    raise NotationError(
        f"Strokes at {places} of a beat or of its half can't be written together; "
        "halves, quarters and eighths of a beat can, and so can thirds and sixths."
    )


def _tuplet(pieces: list[_Piece], start: Fraction, size: tuple[int, Fraction], pen: _Pen) -> Tuplet:
    """Pieces as a tuplet of so many notes in a length of whole notes."""
    actual, length = size
    normal = 4 if actual == 6 else 2
    scale = Fraction(actual, normal)
    items = tuple(item for piece in pieces for item in _plain(piece, start, scale, pen))
    beamed = all(isinstance(item, Note) and item.value >= 8 for item in items)
    return Tuplet(
        actual=actual, normal=normal, value=int(1 / (length / normal)), items=items, bracket=not beamed
    )


def _is_binary(value: Fraction) -> bool:
    return value.denominator & (value.denominator - 1) == 0


def _plain(piece: _Piece, start: Fraction, scale: Fraction, pen: _Pen) -> Iterator[Note | Rest]:
    """A piece as a note with rests behind it, or as rests.

    Each rest stands on its own grid, so that the rests behind a sixteenth fill the eighth first. `start` is
    where the beat, half or tuplet starts; `scale` is what a tuplet adds on paper.
    """
    at = piece.at
    left = (piece.end - piece.at) * scale
    if piece.hits:
        value, dots = _largest_value(left, dotted=True)
        written = _value_length(value, dots)
        yield Note(
            id=f"{pen.prefix}{_id_of(at)}",
            at=at,
            length=written / scale,
            value=value,
            dots=dots,
            hits=piece.hits,
            slashes=pen.slashes.get(at, 0),
        )
        at += written / scale
        left -= written
    while left:
        value, _ = _largest_value(min(left, _grid((at - start) * scale)), dotted=False)
        written = Fraction(1, value)
        yield Rest(at=at, length=written / scale, value=value, hidden=pen.hidden)
        at += written / scale
        left -= written


def _grid(offset: Fraction) -> Fraction:
    """The longest note value on whose grid a place lies."""
    value = Fraction(1)
    while offset % value:
        value /= 2
    return value


def _id_of(at: Fraction) -> str:
    return f"{at.numerator}-{at.denominator}"


def _largest_value(length: Fraction, *, dotted: bool) -> tuple[int, int]:
    """The longest note value, as denominator and dots, that is not longer than a length."""
    for value in (1, 2, 4, 8, 16, 32, 64, 128):
        if dotted and _value_length(value, 1) == length:
            return value, 1
        if Fraction(1, value) <= length:
            return value, 0
    raise NotationError(f"A length of {length} whole notes is too short to write; the shortest note is 1/128.")


def _value_length(value: int, dots: int) -> Fraction:
    return Fraction(1, value) * (Fraction(3, 2) if dots else 1)


def _merge_rests(beats: list[tuple[Item, ...]], meter: Meter, *, hidden: bool) -> tuple[tuple[Item, ...], ...]:
    """Empty beats as the longest rests that still show the middle of the bar.

    In meters of dotted quarters every empty beat has a dotted rest of its own.
    """
    empty = [all(isinstance(item, Rest) for item in beat) for beat in beats]
    if all(empty):
        return ((Rest(at=Fraction(0), length=meter.bar, value=1, hidden=hidden),),)
    merged: list[tuple[Item, ...]] = []
    i = 0
    while i < len(beats):
        start, length = meter.beat_starts[i], meter.beats[i]
        pair = i + 1 < len(beats) and empty[i] and empty[i + 1]
        if pair and length == meter.beats[i + 1] == Fraction(1, 4) and len(beats) == 4 and i % 2 == 0:
            merged.append((Rest(at=start, length=2 * length, value=2, hidden=hidden),))
            i += 2
            continue
        if empty[i]:
            value, dots = _largest_value(length, dotted=True)
            merged.append((Rest(at=start, length=length, value=value, dots=dots, hidden=hidden),))
        else:
            merged.append(beats[i])
        i += 1
    return tuple(merged)
