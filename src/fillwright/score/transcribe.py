"""From a phrase to written bars: its strokes as note values, tuplets, rests and abbreviated rolls."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import groupby, pairwise

from fillwright.errors import NotationError
from fillwright.music.hit import Hit
from fillwright.music.meter import Meter
from fillwright.music.phrase import Part, Phrase
from fillwright.music.stroke import Kind, Level
from fillwright.score.written import Item, Note, Rest, Tuplet, Voice, WrittenBar

_FAST = Fraction(1, 32)  # length of a stroke of a roll, in whole notes (common practice, no source)
_SLASHES = {Fraction(1, 8): 2, Fraction(1, 4): 3, Fraction(3, 8): 3}
"""Strokes through the stem that make thirty-seconds of a note, by its length (an eighth has a beam already)."""


def transcribe(phrase: Phrase, *, short_rolls: bool = False) -> tuple[WrittenBar, ...]:
    """Transcribe a phrase to notes, bar by bar.

    Args:
        phrase: what is played.
        short_rolls: True to abbreviate rolls in thirty-seconds with strokes through the stem.

    Raises:
        NotationError: for a rhythm that can't be written.
    """
    bars: list[WrittenBar] = []
    for number, bar in enumerate(phrase.bars, start=1):
        hands = [hit for hit in bar.hits if not hit.stroke.hand.is_foot]
        feet = [hit for hit in bar.hits if hit.stroke.hand.is_foot]
        slashes: dict[Fraction, int] = {}
        if short_rolls and bar.part is Part.FILL:
            hands, slashes = shorten_rolls(hands, phrase.meter)
        hand_voice = _write_voice(hands, phrase.meter, _Pen(prefix=f"b{number}h", slashes=slashes))
        foot_voice = _write_voice(feet, phrase.meter, _Pen(prefix=f"b{number}f", slashes={}, hidden=True))
        repeats = bool(bars) and bar.part is Part.GROOVE and bar.hits == bars[-1].bar.hits
        bars.append(WrittenBar(number=number, bar=bar, hands=hand_voice, feet=foot_voice, repeats=repeats))
    return tuple(bars)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Pen:
    """The values that the notes of one voice have in common."""

    prefix: str
    slashes: dict[Fraction, int]
    hidden: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class _Piece:
    """A stretch of one beat: a note where something is struck, else a rest."""

    at: Fraction
    end: Fraction
    hits: tuple[Hit, ...]


def _write_voice(hits: list[Hit], meter: Meter, pen: _Pen) -> Voice:
    by_onset: dict[Fraction, list[Hit]] = {}
    for hit in hits:
        by_onset.setdefault(hit.at, []).append(hit)
    beats: list[tuple[Item, ...]] = []
    for start, length in zip(meter.beat_starts, meter.beats, strict=True):
        pieces = _cut_beat(by_onset, start, start + length)
        beats.append(_write_pieces(pieces, start, length, pen))
    return Voice(beats=_merge_rests(beats, meter, hidden=pen.hidden))


def _cut_beat(by_onset: dict[Fraction, list[Hit]], start: Fraction, end: Fraction) -> list[_Piece]:
    """Cut a beat at every onset and at every end before the next onset."""
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


def _write_pieces(pieces: list[_Piece], start: Fraction, length: Fraction, pen: _Pen) -> tuple[Item, ...]:
    """Write pieces that fill a stretch of time, as notes, rests and tuplets."""
    inner = [piece.at - start for piece in pieces[1:]]
    if all(_is_binary(offset) for offset in inner):
        return tuple(item for piece in pieces for item in _write_piece(piece, start, Fraction(1), pen))
    parts = {offset / length for offset in inner}
    thirds = {Fraction(1, 3), Fraction(2, 3)}
    half = Fraction(1, 2)
    if parts == {Fraction(n, 6) for n in range(1, 6)}:
        return (_write_tuplet(pieces, start, (6, length), pen),)
    if half in parts and not thirds <= parts:
        cut = start + length / 2
        first = [piece for piece in pieces if piece.at < cut]
        second = [piece for piece in pieces if piece.at >= cut]
        return _write_pieces(first, start, length / 2, pen) + _write_pieces(second, cut, length / 2, pen)
    if all(_is_binary(part * 3) for part in parts):
        return (_write_tuplet(pieces, start, (3, length), pen),)
    places = ", ".join(str(part) for part in sorted(parts))
    raise NotationError(
        f"Strokes at {places} of a beat or of its half can't be written together; "
        "halves, quarters and eighths of a beat can, and so can thirds and sixths."
    )


def _write_tuplet(pieces: list[_Piece], start: Fraction, size: tuple[int, Fraction], pen: _Pen) -> Tuplet:
    """Write pieces as a tuplet of so many notes in a length of whole notes."""
    actual, length = size
    normal = 4 if actual == 6 else 2
    scale = Fraction(actual, normal)
    items = tuple(item for piece in pieces for item in _write_piece(piece, start, scale, pen))
    beamed = all(isinstance(item, Note) and item.value >= 8 for item in items)
    return Tuplet(
        actual=actual, normal=normal, value=int(1 / (length / normal)), items=items, bracket=not beamed
    )


def _is_binary(value: Fraction) -> bool:
    return value.denominator & (value.denominator - 1) == 0


def _write_piece(piece: _Piece, start: Fraction, scale: Fraction, pen: _Pen) -> Iterator[Note | Rest]:
    """Write a piece as a note with rests after it, or as rests.

    Each rest is on its own grid, so that the rests after a sixteenth fill the eighth first. `start` is
    where the beat, half or tuplet starts; `scale` is what a tuplet adds on paper.
    """
    at = piece.at
    left = (piece.end - piece.at) * scale
    if piece.hits:
        value, dots = _find_value(left, dotted=True)
        written = _measure_value(value, dots)
        yield Note(
            id=f"{pen.prefix}{_format_id(at)}",
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
        value, _ = _find_value(min(left, _find_grid((at - start) * scale)), dotted=False)
        written = Fraction(1, value)
        yield Rest(at=at, length=written / scale, value=value, hidden=pen.hidden)
        at += written / scale
        left -= written


def _find_grid(offset: Fraction) -> Fraction:
    """Find the longest note value on whose grid a place is."""
    value = Fraction(1)
    while offset % value:
        value /= 2
    return value


def _format_id(at: Fraction) -> str:
    return f"{at.numerator}-{at.denominator}"


def _find_value(length: Fraction, *, dotted: bool) -> tuple[int, int]:
    """Find the longest note value, as denominator and dots, that is not longer than a length."""
    for value in (1, 2, 4, 8, 16, 32, 64, 128):
        if dotted and _measure_value(value, 1) == length:
            return value, 1
        if Fraction(1, value) <= length:
            return value, 0
    raise NotationError(f"A length of {length} whole notes is too short to write; the shortest note is 1/128.")


def _measure_value(value: int, dots: int) -> Fraction:
    return Fraction(1, value) * (Fraction(3, 2) if dots else 1)


def _merge_rests(beats: list[tuple[Item, ...]], meter: Meter, *, hidden: bool) -> tuple[tuple[Item, ...], ...]:
    """Merge empty beats into the longest rests that still show the middle of the bar.

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
            value, dots = _find_value(length, dotted=True)
            merged.append((Rest(at=start, length=length, value=value, dots=dots, hidden=hidden),))
        else:
            merged.append(beats[i])
        i += 1
    return tuple(merged)


def shorten_rolls(hits: Iterable[Hit], meter: Meter) -> tuple[list[Hit], dict[Fraction, int]]:
    """Shorten runs of doubles in thirty-seconds on one surface, each to one note that crosses no beat.

    Args:
        hits: of the hands in one bar, ascending.
        meter: of the bar.

    Returns:
        The hits that are left to write, and the strokes through the stem by place.
    """
    kept: list[Hit] = []
    slashes: dict[Fraction, int] = {}
    for _, group in groupby(hits, key=lambda hit: _find_run(hit, meter)):
        run = list(group)
        length = sum((hit.length for hit in run), Fraction(0))
        if length in _SLASHES and _is_roll(run) and _is_on_eighth(run[0].at, meter):
            kept.append(replace(run[0], length=length))
            slashes[run[0].at] = _SLASHES[length]
        else:
            kept += run
    return kept, slashes


def _find_beat(at: Fraction, meter: Meter) -> Fraction:
    return max(start for start in meter.beat_starts if start <= at)


def _is_on_eighth(at: Fraction, meter: Meter) -> bool:
    return (at - _find_beat(at, meter)) % Fraction(1, 8) == 0


def _find_run(hit: Hit, meter: Meter) -> tuple[object, ...]:
    plain = hit.stroke.kind is Kind.SINGLE and hit.stroke.level is Level.TAP and hit.length == _FAST
    return (_find_beat(hit.at, meter), hit.surface.name) if plain else (hit.at, hit.surface.name, "alone")


def _is_roll(run: list[Hit]) -> bool:
    """Return True if hands play two strokes each, in turn and without a gap."""
    hands = [hit.stroke.hand for hit in run]
    doubles = hands[::2] == hands[1::2] and all(a is not b for a, b in pairwise(hands[::2]))
    return doubles and all(later.at - hit.at == _FAST for hit, later in pairwise(run))
