"""The reference of a take: a fill of a pack, or a written MIDI file."""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path

from fillwright import budget
from fillwright.errors import FillwrightError
from fillwright.listen.written import WrittenPhrase, write_phrase
from fillwright.music.meter import Meter
from fillwright.music.timing import check_tempo
from fillwright.pack.phrase_file import FILLS_FILE, FileFill, read_fills
from fillwright.score.parts.midi_notes import MidiNoteMap
from fillwright.take.midi import is_midi, read_bytes, read_written_midi

PACK_LIST = "pack.json"
"""File in the folder of every pack."""

_TEMPO_IN_NAME = re.compile(r"-(\d{3})$")
_DEEPEST = 4  # folders between a fill's file and its pack


@dataclass(frozen=True, slots=True, kw_only=True)
class Reference:
    """The music that a take is compared with.

    Attributes:
        title: in words.
        expected: its strokes at the target tempo.
        meter: None for a meter that Fillwright does not write.
        ladder: the tempos at which it is practised, slow to fast; empty for a MIDI file.
        fill: of a pack; None for a MIDI file.
        remarks: what was unknown in the file, a sentence each.
    """

    title: str
    expected: WrittenPhrase
    meter: Meter | None
    ladder: tuple[int, ...] = ()
    fill: FileFill | None = None
    remarks: tuple[str, ...] = ()


def find_reference(
    path: Path, note_map: MidiNoteMap, *, fill: int | None = None, tempo: float | None = None
) -> Reference:
    """Find the music that a take is compared with.

    Args:
        path: a file of a fill in a built pack, a pack's folder with the fill's number, or a MIDI file that is
            written on the grid.
        note_map: surface of each MIDI note.
        fill: number of the fill, if `path` is a pack.
        tempo: target in bpm. If None: the tempo in the name of a fill's audio file, the MIDI file's own, or the
            slowest of the fill's ladder.

    Raises:
        FillwrightError: if nothing to compare with is there, with what was found.
        TempoError: for a tempo that can't be played.
    """
    if tempo is not None:
        check_tempo(tempo)
    if not path.exists():
        raise FillwrightError(f'"{path}" does not exist. Name a file of a fill in a pack, or a MIDI file.')
    pack = _find_pack(path)
    if pack is not None:
        return build_reference(_find_fill(pack, path, fill), _parse_tempo(path) if tempo is None else tempo)
    if path.is_dir():
        raise FillwrightError(f'"{path}" is not a pack: it has no {PACK_LIST}. Name a pack or a MIDI file.')
    content = read_bytes(path, budget.MIDI_BYTES)
    if not is_midi(content):
        raise FillwrightError(
            f'"{path}" is neither in a pack nor a MIDI file. Name a file of a fill in a pack, or a MIDI file.'
        )
    if fill is not None:
        raise FillwrightError(f'"{path}" is a MIDI file, not a pack. Leave --fill out.')
    written = read_written_midi(content, f'"{path}"', note_map, tempo=tempo)
    return Reference(title=path.stem, expected=written.expected, meter=written.meter, remarks=written.remarks)


def build_reference(fill: FileFill, tempo: float | None) -> Reference:
    """Return a fill as the reference of a take.

    Args:
        fill: of a pack.
        tempo: target in bpm; the slowest of the fill's ladder if None.

    Raises:
        TempoError: for a tempo that can't be played.
    """
    target = float(fill.tempos[0] if tempo is None else tempo)
    return Reference(
        title=fill.title,
        expected=write_phrase(fill.phrase, target, fill.feel),
        meter=fill.phrase.meter,
        ladder=fill.tempos,
        fill=fill,
    )


def _find_pack(path: Path) -> Path | None:
    """Return the folder of the pack that a file or folder is in, or is; None outside packs."""
    start = path.resolve()
    return next((at for at in (start, *start.parents[:_DEEPEST]) if (at / PACK_LIST).is_file()), None)


def _find_fill(pack: Path, path: Path, number: int | None) -> FileFill:
    """Return the fill that a path in a pack belongs to, or the fill of that number.

    Raises:
        FillwrightError: for a path without a fill, an unknown number, or a number that the path contradicts.
    """
    listed = pack / FILLS_FILE
    if not listed.is_file():
        raise FillwrightError(f'The pack "{pack}" has no {FILLS_FILE}; build it again with this version.')
    fills = read_fills(read_bytes(listed, budget.FILLS_BYTES), f'"{listed}"')
    inside = path.resolve().relative_to(pack).parts
    named = [fill for fill in fills if len(inside) > 1 and inside[:2] == ("fills", fill.slug)]
    if number is None:
        if named:
            return named[0]
        raise FillwrightError(f'"{path}" has more than one fill. Choose one with {_list_numbers(fills)}.')
    chosen = [fill for fill in fills if fill.number == number]
    if not chosen:
        raise FillwrightError(
            f'The pack "{pack}" has no fill {number}. Choose one with {_list_numbers(fills)}.'
        )
    if named and named[0].number != number:
        raise FillwrightError(
            f'"{path}" belongs to fill {named[0].number}, not to fill {number}. Leave --fill out.'
        )
    return chosen[0]


def _list_numbers(fills: tuple[FileFill, ...]) -> str:
    numbers = [fill.number for fill in fills]
    return f"--fill {min(numbers)} to {max(numbers)}" if numbers else "--fill; this pack is empty"


def _parse_tempo(path: Path) -> float | None:
    """Return the tempo in the name of a fill's audio file: "03-single-stroke-four-whole-bar-090.mp3"."""
    match = _TEMPO_IN_NAME.search(path.stem)
    return float(match[1]) if match and path.suffix not in (".mid", "") else None
