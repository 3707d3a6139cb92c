"""A drum part from a MIDI or MusicXML file: strokes in time, without hands."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

from fillwright import budget
from fillwright.craft.sticking.hands import UnassignedStroke
from fillwright.errors import FillwrightError
from fillwright.score.parts.cleaning import Removal, drop_crosstalk, merge_retriggers
from fillwright.score.parts.drum_midi import RawPart, read_midi
from fillwright.score.parts.drum_musicxml import read_musicxml
from fillwright.score.parts.drum_part import Clock, DrumPart, PartStroke, check_size
from fillwright.score.parts.midi_notes import MidiNoteMap, get_default_notes


def read_drum_part(path: Path, pads: MidiNoteMap | None = None) -> DrumPart:
    """Read the drum part of a file; what kind of file it is stands in its first bytes.

    Args:
        path: a Standard MIDI File of format 0 or 1, or an uncompressed partwise MusicXML document.
        pads: which surface each key is; the project's own table unless given.

    Raises:
        FillwrightError: for a file that can't be read, has no drums, or more than 64 bars.
    """
    where = f'"{path}"'
    content = _read_content(path, where)
    table = pads or get_default_notes()
    if content.startswith(b"MThd"):
        raw = read_midi(_check_bytes(content, budget.MIDI_BYTES, where), where, table)
    elif _is_xml(content):
        raw = read_musicxml(_check_bytes(content, budget.XML_BYTES, where), where, table)
    elif not content:
        raise FillwrightError(f"{where} is empty; use a MIDI or MusicXML file.")
    elif content.startswith(b"PK"):
        raise FillwrightError(f"{where} is compressed; export it as uncompressed MusicXML or as MIDI.")
    else:
        raise FillwrightError(
            f"{where} is neither a MIDI file nor MusicXML; export the drum part as one of them."
        )
    return _build_part(raw, table, where)


def _read_content(path: Path, where: str) -> bytes:
    try:
        with path.open("rb") as file:
            return file.read(budget.XML_BYTES + 1)
    except (OSError, ValueError) as error:
        reason = (getattr(error, "strerror", None) or str(error)).lower()
        raise FillwrightError(f"{where} can't be read: {reason}.") from error


def _check_bytes(content: bytes, largest: int, where: str) -> bytes:
    if len(content) > largest:
        raise FillwrightError(f"{where} is larger than {largest // 1_000_000} MB; cut the drum part out of it.")
    return content


def _is_xml(content: bytes) -> bool:
    start = content[:200].removeprefix(b"\xef\xbb\xbf").lstrip()
    return start.startswith((b"<", b"\xff\xfe<", b"\xfe\xff\x00<"))


def _build_part(raw: RawPart, pads: MidiNoteMap, where: str) -> DrumPart:
    check_size(raw.notes, raw.clock, where)
    notes = [
        (
            note.quarter,
            UnassignedStroke(
                at_seconds=raw.clock.seconds(note.quarter),
                surface=note.surface,
                velocity=note.velocity,
                ahead_seconds=note.ahead_seconds,
            ),
        )
        for note in raw.notes
    ]
    notes.sort(key=lambda note: note[1].onset_seconds)
    quarters = [quarter for quarter, _ in notes]
    left, twice = merge_retriggers([(number, stroke) for number, (_, stroke) in enumerate(notes)], pads)
    removed = twice
    if raw.recorded:
        left, crosstalk = drop_crosstalk(left)
        removed = sorted(twice + crosstalk)
    strokes = tuple(_locate_stroke(stroke, quarters[number], raw.clock) for number, stroke in left)
    return DrumPart(
        strokes=strokes,
        tempo=raw.clock.tempo(quarters[0]),
        meter="{}/{}".format(*raw.clock.meter(quarters[0])),
        recorded=raw.recorded,
        report=budget.limit_remarks((*raw.report, *_report_removed(removed, quarters, raw.clock))),
    )


def _locate_stroke(stroke: UnassignedStroke, quarter: float, clock: Clock) -> PartStroke:
    bar, beat = clock.locate(quarter)
    return PartStroke(struck=stroke, bar=bar, beat=beat)


def _report_removed(removed: Iterable[Removal], quarters: list[float], clock: Clock) -> Iterable[str]:
    for removal in removed:
        bar, beat = clock.locate(quarters[removal.number])
        yield f"{removal.action} at bar {bar}, beat {beat:.2f}: {removal.reason}."
