"""A drum part from a MIDI or MusicXML file: strokes in time, without hands."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

from fillwright.craft.sticking.hands import UnassignedStroke
from fillwright.errors import FillwrightError
from fillwright.score.parts.cleaning import drop_crosstalk, merge_retriggers
from fillwright.score.parts.drum_midi import RawPart, read_midi
from fillwright.score.parts.drum_musicxml import read_musicxml
from fillwright.score.parts.drum_part import Clock, DrumPart, PartStroke, check_size
from fillwright.score.parts.midi_notes import Pads, default_pads

LARGEST_MIDI_BYTES = 1_000_000
LARGEST_XML_BYTES = 8_000_000


def read_drum_part(path: Path, pads: Pads | None = None) -> DrumPart:
    """Read the drum part of a file; what kind of file it is stands in its first bytes.

    Args:
        path: a Standard MIDI File of format 0 or 1, or an uncompressed partwise MusicXML document.
        pads: which surface each key is; the project's own table unless given.

    Raises:
        FillwrightError: for a file that can't be read, has no drums, or more than 64 bars.
    """
    where = f'"{path}"'
    content = _content(path, where)
    table = pads or default_pads()
    if content.startswith(b"MThd"):
        raw = read_midi(_at_most(content, LARGEST_MIDI_BYTES, where), where, table)
    elif _is_xml(content):
        raw = read_musicxml(_at_most(content, LARGEST_XML_BYTES, where), where, table)
    elif not content:
        raise FillwrightError(f"{where} is empty; a MIDI or MusicXML file is read.")
    elif content.startswith(b"PK"):
        raise FillwrightError(f"{where} is compressed; export it as uncompressed MusicXML or as MIDI.")
    else:
        raise FillwrightError(
            f"{where} is neither a MIDI file nor MusicXML; export the drum part as one of them."
        )
    return _part(raw, table, where)


def _content(path: Path, where: str) -> bytes:
    try:
        with path.open("rb") as file:
            return file.read(LARGEST_XML_BYTES + 1)
    except (OSError, ValueError) as error:
        reason = (getattr(error, "strerror", None) or str(error)).lower()
        raise FillwrightError(f"{where} can't be read: {reason}.") from error


def _at_most(content: bytes, largest: int, where: str) -> bytes:
    if len(content) > largest:
        raise FillwrightError(f"{where} is larger than {largest // 1_000_000} MB; cut the drum part out of it.")
    return content


def _is_xml(content: bytes) -> bool:
    start = content[:200].removeprefix(b"\xef\xbb\xbf").lstrip()
    return start.startswith((b"<", b"\xff\xfe<", b"\xfe\xff\x00<"))


def _part(raw: RawPart, pads: Pads, where: str) -> DrumPart:
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
    heard, twice = merge_retriggers([(number, stroke) for number, (_, stroke) in enumerate(notes)], pads)
    gone: list[tuple[int, str]] = twice
    if raw.recorded:
        heard, crosstalk = drop_crosstalk(heard)
        gone = sorted(twice + crosstalk)
    strokes = tuple(_placed(stroke, quarters[number], raw.clock) for number, stroke in heard)
    return DrumPart(
        strokes=strokes,
        tempo=raw.clock.tempo(quarters[0]),
        meter="{}/{}".format(*raw.clock.meter(quarters[0])),
        recorded=raw.recorded,
        report=(*raw.report, *_told(gone, quarters, raw.clock)),
    )


def _placed(stroke: UnassignedStroke, quarter: float, clock: Clock) -> PartStroke:
    bar, beat = clock.place(quarter)
    return PartStroke(struck=stroke, bar=bar, beat=beat)


def _told(gone: Iterable[tuple[int, str]], quarters: list[float], clock: Clock) -> Iterable[str]:
    for number, what in gone:
        bar, beat = clock.place(quarters[number])
        verb = "merged" if what.endswith("twice") else "set aside"
        yield f"{verb.capitalize()} at bar {bar}, beat {beat:.2f}: {what}."
