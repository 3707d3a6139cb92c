"""The drum notes of a Standard MIDI File."""

from __future__ import annotations

import io
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from typing import TypeVar

import mido

from fillwright import budget
from fillwright.errors import FillwrightError
from fillwright.score.parts.drum_part import (
    Clock,
    RawNote,
    check_changes,
    check_meter,
    check_part_tempo,
    check_place,
)
from fillwright.score.parts.midi_notes import UNKNOWN_GOES_TO, MidiNoteMap

_DRUMS = 9
"""Channel 10, counted from 0."""

_GRIDS = (48, 64)
"""Parts of a quarter: written music is on one of these, to the tick; playing is so by chance (ours)."""

_SHARE_OFF = 0.3
"""Share of notes off the grid from which a file is a recording; flams and swing are off it too (ours)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RawPart:
    """The drum notes of a file.

    Attributes:
        notes: in order.
        clock: tempos and meters.
        recorded: True if they are where a player played them, off the grid.
        report: a sentence for everything that isn't plain.
    """

    notes: tuple[RawNote, ...]
    clock: Clock
    recorded: bool
    report: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Note:
    tick: int
    channel: int
    key: int
    velocity: int


def read_midi(content: bytes, where: str, pads: MidiNoteMap) -> RawPart:
    """Read the drum notes of a file: channel 10 if there is a note on it, else every channel.

    Args:
        content: of the file.
        where: its name, for messages.
        pads: which surface each key is.

    Raises:
        FillwrightError: for a file that is not MIDI, is broken, or has no single timeline.
    """
    file = _parse_file(content, where)
    notes, tempos, meters = _collect_events(file, where)
    report: list[str] = []
    if any(note.channel == _DRUMS for note in notes):
        notes = [note for note in notes if note.channel == _DRUMS]
    elif notes:
        channels = sorted({note.channel + 1 for note in notes})
        report.append(f"No note on channel 10; channel {', '.join(map(str, channels))} is read as drums.")
    quarter = file.ticks_per_beat
    recorded = _is_recorded([note.tick for note in notes], quarter)
    raw, unknown = _find_surfaces(notes, quarter, pads, recorded=recorded)
    report += unknown
    clock = Clock(tempos=_list_changes(tempos, quarter, 120.0), meters=_list_changes(meters, quarter, (4, 4)))
    return RawPart(notes=raw, clock=clock, recorded=recorded, report=budget.limit_remarks(report))


def _parse_file(content: bytes, where: str) -> mido.MidiFile:
    budget.check_bytes(where, len(content), budget.MIDI_BYTES)
    try:
        file = mido.MidiFile(file=io.BytesIO(content), clip=True)
    except Exception as error:  # the library raises whatever a damaged byte leads to
        raise FillwrightError(f"{where} is cut short or damaged: it can't be read as a MIDI file.") from error
    if file.type not in (0, 1):
        raise FillwrightError(f"{where} is a MIDI file of format {file.type}; use format 0 or 1.")
    if file.ticks_per_beat <= 0:
        raise FillwrightError(f"{where} counts time in frames; export it with ticks per quarter.")
    if not file.tracks:
        raise FillwrightError(f"{where} has no track; use a file with a drum part.")
    budget.check_count(where, len(file.tracks), budget.MIDI_TRACKS, "tracks")
    budget.check_count(where, sum(map(len, file.tracks)), budget.MIDI_EVENTS, "MIDI events")
    return file


def _collect_events(
    file: mido.MidiFile, where: str
) -> tuple[list[_Note], dict[int, float], dict[int, tuple[int, int]]]:
    """Collect notes in order, and by tick the tempos and meters of all tracks."""
    notes: list[_Note] = []
    tempos: dict[int, float] = {}
    meters: dict[int, tuple[int, int]] = {}
    for track in file.tracks:
        tick = 0
        for message in track:
            tick += message.time
            check_place(tick / file.ticks_per_beat, where)
            if message.type == "note_on" and message.velocity:
                notes.append(
                    _Note(tick=tick, channel=message.channel, key=message.note, velocity=message.velocity)
                )
            elif message.type == "set_tempo":
                tempos[tick] = check_part_tempo(60e6 / message.tempo if message.tempo else 0.0, where)
            elif message.type == "time_signature" and message.numerator:
                meters[tick] = check_meter(message.numerator, message.denominator, where)
    check_changes(max(len(tempos), len(meters)), where)
    return sorted(notes, key=lambda note: (note.tick, note.key)), tempos, meters


Value = TypeVar("Value")


def _list_changes(changes: dict[int, Value], quarter: int, usual: Value) -> tuple[tuple[float, Value], ...]:
    """List changes by their place in quarters, the usual value before the first."""
    return tuple((tick / quarter, value) for tick, value in sorted({0: usual, **changes}.items()))


def _is_recorded(ticks: list[int], quarter: int) -> bool:
    """Return True if so many notes are off every grid of written music that a player must have played them."""
    off = sum(all((tick * grid) % quarter for grid in _GRIDS) for tick in ticks)
    return off > len(ticks) * _SHARE_OFF


def _find_surfaces(
    notes: list[_Note], quarter: int, pads: MidiNoteMap, *, recorded: bool
) -> tuple[tuple[RawNote, ...], list[str]]:
    unknown: Counter[int] = Counter()
    other: Counter[int] = Counter()

    def surfaces() -> Iterator[RawNote]:
        for note in notes:
            name = pads.find(note.key, recorded=recorded)
            if name is None:
                unknown[note.key] += 1
            elif recorded and note.key in pads.electronic:
                other[note.key] += 1
            yield RawNote(quarter=note.tick / quarter, surface=name or UNKNOWN_GOES_TO, velocity=note.velocity)

    raw = tuple(surfaces())
    report = [
        f"MIDI note {key} is unknown; {_format_times(count)} taken as a hand on the {UNKNOWN_GOES_TO} "
        "(--midi-notes names it)."
        for key, count in sorted(unknown.items())
    ]
    report += [
        f"MIDI note {key} is read as an electronic kit sends it: {pads.electronic[key]}, "
        f"{_format_times(count)}."
        for key, count in sorted(other.items())
    ]
    return raw, report


def _format_times(count: int) -> str:
    return "once" if count == 1 else f"{count} times"
