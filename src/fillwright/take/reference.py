"""What a take is laid against: a fill of a pack, or a written MIDI file."""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path

from fillwright.errors import FillwrightError
from fillwright.listen.written import Expected, of_phrase
from fillwright.music.meter import Meter
from fillwright.music.timing import check_tempo
from fillwright.pack.phrase_file import FILLS_FILE, FileFill, read_fills
from fillwright.score.parts.midi_notes import Pads
from fillwright.take.midi import is_midi, read_written_midi, read_bytes

PACK_LIST = "pack.json"
_LARGEST_LIST_BYTES = 16_000_000
_LARGEST_OTHER_BYTES = 1_000_000
_TEMPO_IN_NAME = re.compile(r"-(\d{3})$")
_DEEPEST = 4  # folders between a fill's file and its pack


@dataclass(frozen=True, slots=True, kw_only=True)
class Reference:
    """What a take is laid against.

    Attributes:
        title: in words.
        expected: its strokes at the tempo asked for.
        meter: None for one that the project does not write.
        ladder: the tempos at which it is practised; empty for a MIDI file.
        fill: of a pack; None for a MIDI file.
        remarks: what was unknown in the file, a sentence each.
    """

    title: str
    expected: Expected
    meter: Meter | None
    ladder: tuple[int, ...] = ()
    fill: FileFill | None = None
    remarks: tuple[str, ...] = ()


def find_reference(what: Path, pads: Pads, *, fill: int | None = None, tempo: float | None = None) -> Reference:
    """Find what a take is laid against.

    Args:
        what: a file of a fill in a built pack, a pack's folder with the fill's number, or a MIDI file that is
            written on the grid.
        pads: which surface each key of a MIDI file is.
        fill: number of the fill, where `what` is a pack.
        tempo: in the meter's beats a minute. Unless given: the tempo in the name of a fill's audio file, the
            MIDI file's own, or the slowest at which the fill is practised.

    Raises:
        FillwrightError: where there is nothing to lay a take against, saying what was found.
        TempoError: for a tempo that can't be played.
    """
    if tempo is not None:
        check_tempo(tempo)
    if not what.exists():
        raise FillwrightError(f'There is nothing at "{what}"; name a file of a fill in a pack, or a MIDI file.')
    pack = _pack_above(what)
    if pack is not None:
        found = _fill_of(pack, what, fill)
        return build_reference(found, _named_tempo(what) if tempo is None else tempo)
    if what.is_dir():
        raise FillwrightError(
            f'"{what}" is no pack: there is no {PACK_LIST} in it; name a pack or a MIDI file.'
        )
    content = read_bytes(what, _LARGEST_OTHER_BYTES)
    if not is_midi(content):
        raise FillwrightError(
            f'"{what}" is neither in a pack nor a MIDI file; a take is laid against one of them.'
        )
    if fill is not None:
        raise FillwrightError(f'"{what}" is a MIDI file and no pack; leave --fill out.')
    written = read_written_midi(content, f'"{what}"', pads, tempo=tempo)
    return Reference(title=what.stem, expected=written.expected, meter=written.meter, remarks=written.remarks)


def build_reference(fill: FileFill, tempo: float | None) -> Reference:
    """A fill at a tempo, the slowest of its ladder by default.

    Raises:
        TempoError: for a tempo that can't be played.
    """
    asked = float(fill.tempos[0] if tempo is None else tempo)
    return Reference(
        title=fill.title,
        expected=of_phrase(fill.phrase, asked, fill.feel),
        meter=fill.phrase.meter,
        ladder=fill.tempos,
        fill=fill,
    )


def _pack_above(what: Path) -> Path | None:
    """The pack that a file or folder is in, or is."""
    place = what.resolve()
    return next((at for at in (place, *place.parents[:_DEEPEST]) if (at / PACK_LIST).is_file()), None)


def _fill_of(pack: Path, what: Path, number: int | None) -> FileFill:
    """The fill that a path below a pack belongs to, or the one of that number."""
    listed = pack / FILLS_FILE
    if not listed.is_file():
        raise FillwrightError(f'The pack "{pack}" has no {FILLS_FILE}; build it anew with this version.')
    fills = read_fills(read_bytes(listed, _LARGEST_LIST_BYTES), f'"{listed}"')
    inside = what.resolve().relative_to(pack).parts
    own = [one for one in fills if len(inside) > 1 and inside[:2] == ("fills", one.slug)]
    if number is None:
        if own:
            return own[0]
        raise FillwrightError(f'"{what}" belongs to no one fill of its pack; name the fill, {_numbers(fills)}.')
    chosen = [one for one in fills if one.number == number]
    if not chosen:
        raise FillwrightError(f'The pack "{pack}" has no fill {number}; it has {_numbers(fills)}.')
    if own and own[0].number != number:
        raise FillwrightError(
            f'"{what}" belongs to fill {own[0].number}, not to fill {number}; leave --fill out.'
        )
    return chosen[0]


def _numbers(fills: tuple[FileFill, ...]) -> str:
    numbers = [one.number for one in fills]
    return f"--fill {min(numbers)} to {max(numbers)}" if numbers else "but there is none"


def _named_tempo(what: Path) -> float | None:
    """The tempo in the name of a fill's audio file: "03-single-stroke-four-whole-bar-090.mp3"."""
    match = _TEMPO_IN_NAME.search(what.stem)
    return float(match[1]) if match and what.suffix not in (".mid", "") else None
