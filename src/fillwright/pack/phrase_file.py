"""`fills.json`: every fill of a pack for programs to read, its phrase exact, with fractions as text."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from enum import Enum
from fractions import Fraction
from typing import Annotated, TypeVar

import msgspec
from msgspec import Meta

from fillwright import budget
from fillwright.errors import FillwrightError
from fillwright.music.hit import Hit
from fillwright.music.meter import find_meter
from fillwright.music.phrase import MAX_BARS, Bar, Part, Phrase, Span
from fillwright.music.stroke import Kind, Level, Limb, Stroke
from fillwright.music.surfaces import find_surface
from fillwright.music.timing import Feel, check_tempo
from fillwright.pack.phrase_check import check_phrase

FILLS_FILE = "fills.json"
"""Its name in a pack."""

VERSION = 1  # of the file; only this one is read
_FRACTION = re.compile(r"\d{1,6}(/[1-9]\d{0,5})?", re.ASCII)

_LONGEST_REASON = 200  # characters of a reader's own words, which may quote a value of any length; ours


@dataclass(frozen=True, slots=True, kw_only=True)
class FileFill:
    """One fill as `fills.json` holds it.

    Attributes:
        number: its place in the lesson, from 1.
        slug: its name in file names.
        title: figure and caption.
        caption: what is played, in words.
        tempos: its tempo ladder, slow to fast, in the meter's bpm.
        feel: swing and flams.
        phrase: groove, fill and landing.
        cue: the figure's own spoken words, one for each stroke; empty to count.
        counting: True if the counting line is printed.
        short_rolls: True if rolls are abbreviated on paper.
        page: "a4" or "letter".
    """

    number: int
    slug: str
    title: str
    caption: str
    tempos: tuple[int, ...]
    feel: Feel
    phrase: Phrase
    cue: tuple[str, ...] = ()
    counting: bool = True
    short_rolls: bool = False
    page: str = "a4"


_Word = Annotated[str, Meta(max_length=40)]  # characters of a name or a fraction; ours
_Text = Annotated[str, Meta(max_length=budget.TEXT_CHARACTERS)]
_Number = Annotated[int, Meta(ge=1, le=budget.FILLS)]  # of a fill, from 1
_Tempo = Annotated[int, Meta(ge=1, le=1_000)]  # bpm; the exact range is checked later


class _Feel(msgspec.Struct, kw_only=True, forbid_unknown_fields=True):
    swing: _Word
    flam_ms: float


class HitTable(msgspec.Struct, kw_only=True, omit_defaults=True, forbid_unknown_fields=True):
    """A hit as plain values; `at` counts from the start of its bar."""

    at: _Word
    length: _Word
    hand: _Word
    surface: _Word
    kind: _Word = Kind.SINGLE.value
    level: _Word = Level.TAP.value
    graces_on: _Word | None = None


class BarTable(msgspec.Struct, kw_only=True, forbid_unknown_fields=True):
    """A bar as plain values."""

    part: _Word
    hits: Annotated[list[HitTable], Meta(max_length=budget.BAR_HITS)]


class PhraseTable(msgspec.Struct, kw_only=True, forbid_unknown_fields=True):
    """A phrase as plain values; `span` is start and length of the fill, null without one."""

    meter: _Word
    bars: Annotated[list[BarTable], Meta(max_length=MAX_BARS + 1)]
    span: tuple[_Word, _Word] | None


class _Fill(msgspec.Struct, kw_only=True, forbid_unknown_fields=True):
    number: _Number
    slug: _Text
    title: _Text
    caption: _Text
    tempos: Annotated[list[_Tempo], Meta(max_length=budget.TEMPOS)]
    feel: _Feel
    phrase: PhraseTable
    cue: Annotated[list[_Text], Meta(max_length=budget.BAR_HITS)]
    counting: bool
    short_rolls: bool
    page: Annotated[str, Meta(pattern="^(a4|letter)$")]


class _File(msgspec.Struct, kw_only=True, forbid_unknown_fields=True):
    version: Annotated[int, Meta(ge=0, le=1_000_000)]
    fills: Annotated[list[_Fill], Meta(max_length=budget.FILLS)]


def encode_fills(fills: Sequence[FileFill]) -> bytes:
    """Write fills as the bytes of `fills.json`, a line for each fill."""
    lines = [msgspec.json.encode(_encode_fill(fill)) for fill in fills]
    return b'{"version":%d,"fills":[\n%b\n]}\n' % (VERSION, b",\n".join(lines))


def read_fills(content: bytes, where: str) -> tuple[FileFill, ...]:
    """Read the fills from the bytes of a `fills.json`.

    Args:
        content: of the file.
        where: its name, for messages.

    Raises:
        FillwrightError: for other bytes, or values that no fill has.
    """
    budget.check_bytes(where, len(content), budget.FILLS_BYTES)
    try:
        table = msgspec.json.decode(content, type=_File)
    except (msgspec.MsgspecError, UnicodeDecodeError, RecursionError) as error:
        reason = str(error)[:_LONGEST_REASON]
        raise FillwrightError(
            f"{where} is not the list of fills of a pack ({reason}); build the pack again."
        ) from error
    if table.version != VERSION:
        raise FillwrightError(
            f"{where} has version {table.version}; only version {VERSION} can be read, so build the pack again."
        )
    return tuple(_decode_fill(row, f"{where}, fill {row.number}") for row in table.fills)


def encode_phrase(phrase: Phrase) -> PhraseTable:
    """Return a phrase as plain values, times as fractions of a whole note in text."""
    return PhraseTable(
        meter=phrase.meter.name,
        bars=[
            BarTable(part=bar.part.value, hits=[_encode_hit(hit) for hit in bar.hits]) for bar in phrase.bars
        ],
        span=(str(phrase.span.start), str(phrase.span.length)) if phrase.span else None,
    )


def decode_phrase(table: PhraseTable, where: str) -> Phrase:
    """Read a phrase from plain values: the inverse of `encode_phrase`.

    Raises:
        FillwrightError: for values that no phrase has, saying where.
    """
    if not 1 <= len(table.bars) <= MAX_BARS + 1:
        raise FillwrightError(f"{where}: the phrase has {len(table.bars)} bars; 1 to {MAX_BARS} are possible.")
    try:
        phrase = Phrase(
            meter=find_meter(table.meter),
            bars=tuple(
                Bar(part=_find_word(Part, bar.part), hits=tuple(_decode_hit(hit) for hit in bar.hits))
                for bar in table.bars
            ),
            span=_decode_span(table.span) if table.span else None,
        )
        check_phrase(phrase)
        return phrase
    except FillwrightError as error:
        raise FillwrightError(f"{where}: {str(error).rstrip('.')}; build the pack again.") from error


def _encode_fill(fill: FileFill) -> _Fill:
    return _Fill(
        number=fill.number,
        slug=fill.slug,
        title=fill.title,
        caption=fill.caption,
        tempos=list(fill.tempos),
        feel=_Feel(swing=str(fill.feel.swing), flam_ms=fill.feel.flam_ms),
        phrase=encode_phrase(fill.phrase),
        cue=list(fill.cue),
        counting=fill.counting,
        short_rolls=fill.short_rolls,
        page=fill.page,
    )


def _encode_hit(hit: Hit) -> HitTable:
    return HitTable(
        at=str(hit.at),
        length=str(hit.length),
        hand=hit.stroke.hand.value,
        kind=hit.stroke.kind.value,
        level=hit.stroke.level.value,
        surface=hit.surface.name,
        graces_on=hit.graces_on.name if hit.graces_on else None,
    )


def _decode_fill(row: _Fill, where: str) -> FileFill:
    if not row.tempos:
        raise FillwrightError(f"{where}: it has no tempo; build the pack again.")
    for tempo in row.tempos:
        check_tempo(tempo)
    return FileFill(
        number=row.number,
        slug=row.slug,
        title=row.title,
        caption=row.caption,
        tempos=tuple(row.tempos),
        feel=Feel(swing=_read_fraction(row.feel.swing), flam_ms=row.feel.flam_ms),
        phrase=decode_phrase(row.phrase, where),
        cue=tuple(row.cue),
        counting=row.counting,
        short_rolls=row.short_rolls,
        page=row.page,
    )


def _decode_span(table: tuple[str, str]) -> Span:
    return Span(start=_read_fraction(table[0]), length=_read_fraction(table[1]))


def _decode_hit(table: HitTable) -> Hit:
    return Hit(
        at=_read_fraction(table.at),
        length=_read_fraction(table.length),
        stroke=Stroke(
            hand=_find_word(Limb, table.hand),
            kind=_find_word(Kind, table.kind),
            level=_find_word(Level, table.level),
        ),
        surface=find_surface(table.surface),
        graces_on=find_surface(table.graces_on) if table.graces_on else None,
    )


Word = TypeVar("Word", bound=Enum)


def _find_word(words: type[Word], text: str) -> Word:
    """Return the member of an enumeration that a text names.

    Raises:
        FillwrightError: naming the list.
    """
    known = {word.value: word for word in words}
    if text not in known:
        raise FillwrightError(f'"{text[:20]}" is not one of {", ".join(known)}')
    return known[text]


def _read_fraction(text: str) -> Fraction:
    """Read a length in whole notes: "1/16".

    Raises:
        FillwrightError: for anything else.
    """
    if not _FRACTION.fullmatch(text):
        raise FillwrightError(f'"{text[:20]}" is not a length in whole notes such as 1/16')
    return Fraction(text)
