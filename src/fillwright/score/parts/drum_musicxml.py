"""The drum notes of a MusicXML document."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, field
from xml.etree.ElementTree import Element, TreeBuilder
from xml.parsers import expat

from fillwright import budget
from fillwright.errors import FillwrightError
from fillwright.music.stroke import GRACE_VELOCITY, Level
from fillwright.music.surfaces import load_surfaces
from fillwright.music.timing import FLAM_MS
from fillwright.score.parts.drum_midi import RawPart
from fillwright.score.parts.drum_part import (
    Clock,
    RawNote,
    check_changes,
    check_meter,
    check_part_tempo,
    check_place,
)
from fillwright.score.parts.midi_notes import UNKNOWN_GOES_TO, MidiNoteMap

_STEPS = "CDEFGAB"
_BOTTOM_LINE = 4 * 7 + _STEPS.index("E")  # steps of the bottom line above C0, as in the treble clef
_FORTE = 90  # the velocity that MusicXML counts as 100 % of its loudness (MusicXML 4.0, dynamics of note)
_GRACE_SPACING = (
    1.2  # between grace notes of a drag or ruff, as a share of a flam's distance (ours, not measured)
)
# Quarters in a note value (MusicXML 4.0, note-type-value).
_QUARTERS = {"whole": 4.0, "half": 2.0, "quarter": 1.0, "eighth": 0.5, "16th": 0.25}
_LOUDEST_PERCENT = 1_000.0  # of MusicXML's loudness; more is as loud as can be (ours)
_LONGEST_NAME = 10  # characters of a place on the staff that a sentence quotes (ours)


def read_musicxml(content: bytes, where: str, pads: MidiNoteMap) -> RawPart:
    """Read the unpitched notes of a partwise score; grace notes come before their note.

    Args:
        content: of the file.
        where: its name, for messages.
        pads: which surface each key is.

    Raises:
        FillwrightError: for content that is not MusicXML, is damaged, or declares entities of its own.
    """
    root = parse_xml(content, where)
    if root.tag != "score-partwise":
        raise FillwrightError(
            f'{where} is XML of the kind "{root.tag[:30]}"; export it as score-partwise MusicXML.'
        )
    reader = _Reader(where=where, pads=pads, keys=_read_instruments(root))
    for part in root.findall("part"):
        reader.read_part(part)
    notes = sorted(reader.notes, key=lambda note: note.quarter)
    clock = Clock(
        tempos=tuple(sorted({0.0: 120.0, **reader.tempos}.items())),
        meters=tuple(sorted({0.0: (4, 4), **reader.meters}.items())),
    )
    return RawPart(
        notes=tuple(notes), clock=clock, recorded=False, report=budget.limit_remarks(reader.remarks())
    )


def parse_xml(content: bytes, where: str) -> Element:
    """Parse an XML document without entities of its own: none is fetched and none can grow.

    Raises:
        FillwrightError: for one that is damaged, declares entities or nests without end.
    """
    builder = TreeBuilder()
    depth = elements = 0

    def start(tag: str, attributes: dict[str, str]) -> None:
        nonlocal depth, elements
        depth += 1
        elements += 1
        if depth > budget.XML_NESTING:
            raise FillwrightError(
                f"{where} nests its elements more than {budget.XML_NESTING} deep; use a MusicXML file."
            )
        budget.check_count(where, elements, budget.XML_ELEMENTS, "or more XML elements")
        builder.start(tag, attributes)

    def end(tag: str) -> None:
        nonlocal depth
        depth -= 1
        builder.end(tag)

    def entity(*_: object) -> None:
        raise FillwrightError(f"{where} declares XML entities; export it as MusicXML without them.")

    parser = expat.ParserCreate()
    parser.buffer_text = True
    parser.StartElementHandler = start
    parser.EndElementHandler = end
    parser.CharacterDataHandler = builder.data
    parser.EntityDeclHandler = entity
    try:
        parser.Parse(content, True)
        return builder.close()
    except (expat.ExpatError, ValueError, LookupError) as error:
        raise FillwrightError(f"{where} is cut short or damaged: it can't be read as XML.") from error


def _read_instruments(root: Element) -> dict[str, int]:
    """Read the MIDI note of each instrument."""
    notes = {}
    for sound in root.iter("midi-instrument"):
        key = _parse_number(sound.findtext("midi-unpitched"))
        if key is not None and 1 <= key <= 128:
            notes[sound.get("id", "")] = int(key) - 1
    return notes


@dataclass(slots=True, kw_only=True)
class _Reader:
    """A reader that goes through parts and keeps notes, tempos and meters."""

    where: str
    pads: MidiNoteMap
    keys: dict[str, int]
    notes: list[RawNote] = field(default_factory=list)
    tempos: dict[float, float] = field(default_factory=dict)
    meters: dict[float, tuple[int, int]] = field(default_factory=dict)
    unknown: dict[str, int] = field(default_factory=dict)
    rolls: int = 0
    repeats: int = 0

    def remarks(self) -> Iterator[str]:
        """Yield a sentence for everything that isn't plain."""
        for name, count in self.unknown.items():
            yield (
                f"{name} is unknown; {count} taken as a hand on the {UNKNOWN_GOES_TO} (--midi-notes names it)."
            )
        if self.rolls:
            yield f"Abbreviated rolls are read as one stroke each: {self.rolls}."
        if self.repeats:
            yield "Repeats are read once."

    def read_part(self, part: Element) -> None:
        """Read every measure of a part, one after the other."""
        start, divisions = 0.0, 1.0
        for measure in part.findall("measure"):
            length, divisions = self._read_measure(measure, start, divisions)
            start += length
            check_changes(max(len(self.tempos), len(self.meters)), self.where)

    def _read_measure(self, measure: Element, start: float, divisions: float) -> tuple[float, float]:
        """Read one measure and return its length in quarters and the divisions of a quarter after it."""
        here = before = furthest = start
        graces: list[Element] = []
        for item in measure:
            if item.tag == "attributes":
                divisions = self._read_attributes(item, here, divisions)
            elif item.tag in ("backup", "forward"):
                moved = self._read_duration(item, divisions)
                here = max(start, here + (moved if item.tag == "forward" else -moved))
            elif item.tag in ("direction", "sound"):
                self._read_tempo(item, here)
            elif item.tag == "barline":
                self.repeats += item.find("repeat") is not None
            elif item.tag == "note" and item.find("grace") is not None:
                graces.append(item)
                budget.check_count(self.where, len(graces), budget.GRACE_NOTES, "grace notes before one note")
            elif item.tag == "note":
                if item.find("chord") is None:
                    before = here
                    here += self._read_duration(item, divisions)
                self._read_note(item, before)
                self._read_graces(graces, before)
                graces = []
            furthest = max(furthest, check_place(here, self.where))
        self._read_graces(graces, here)
        return furthest - start, divisions

    def _read_attributes(self, item: Element, here: float, divisions: float) -> float:
        divisions_text = item.findtext("divisions")
        if divisions_text is not None:
            number = _parse_number(divisions_text)
            if number is None or not 0 < number <= 1_000_000:
                raise FillwrightError(
                    f"{self.where} divides a quarter into {divisions_text[:20]}; use a whole number from 1."
                )
            divisions = number
        time = item.find("time")
        if time is not None:
            upper = [_parse_number(text) for text in time.findtext("beats", "").split("+")]
            lower = _parse_number(time.findtext("beat-type"))
            if lower and lower >= 1 and all(part is not None and part >= 1 for part in upper):
                beats = sum(part for part in upper if part)
                self.meters[here] = check_meter(round(min(beats, 1e6)), round(min(lower, 1e6)), self.where)
        return divisions

    def _read_duration(self, item: Element, divisions: float) -> float:
        text = item.findtext("duration", "0")
        number = _parse_number(text)
        if number is None or number < 0:
            raise FillwrightError(f'{self.where} has a duration "{text[:20]}"; use numbers from 0.')
        return number / divisions

    def _read_tempo(self, item: Element, here: float) -> None:
        sound = item if item.tag == "sound" else item.find("sound")
        text = None if sound is None else sound.get("tempo")
        if text is not None:
            number = _parse_number(text)
            self.tempos[here] = check_part_tempo(math.nan if number is None else number, self.where)
            return
        mark = item.find("direction-type/metronome")
        number = None if mark is None else _parse_number(mark.findtext("per-minute"))
        if mark is not None and number is not None:
            unit = _QUARTERS.get(mark.findtext("beat-unit", "quarter"), 1.0)
            dotted = 2.0 - 0.5 ** len(mark.findall("beat-unit-dot"))
            self.tempos[here] = check_part_tempo(number * unit * dotted, self.where)

    def _read_note(self, item: Element, at: float) -> None:
        if not _is_struck(item):
            return
        self.rolls += item.find("notations/ornaments/tremolo") is not None
        loud = _parse_number(item.get("dynamics"))
        usual = Level.ACCENT if item.find("notations/articulations/accent") is not None else Level.TAP
        if loud is None:
            velocity = usual.velocity
        else:
            velocity = min(127, max(1, round(min(max(loud, 0.0), _LOUDEST_PERCENT) * _FORTE / 100)))
        self.notes.append(RawNote(quarter=at, surface=self._find_surface(item), velocity=velocity))

    def _read_graces(self, graces: list[Element], at: float) -> None:
        """Add grace notes, the last one a flam's distance before the note."""
        struck = [item for item in graces if _is_struck(item)]
        spacing = FLAM_MS / 1000 * (1.0 if len(struck) == 1 else _GRACE_SPACING)
        for number, item in enumerate(struck):
            ahead = spacing * (len(struck) - number)
            name = self._find_surface(item)
            self.notes.append(RawNote(quarter=at, surface=name, velocity=GRACE_VELOCITY, ahead_seconds=ahead))

    def _find_surface(self, item: Element) -> str:
        instrument = item.find("instrument")
        key = None if instrument is None else self.keys.get(instrument.get("id", ""))
        if key is not None:
            return self.pads.find(key, recorded=False) or self._count_unknown(f"MIDI note {key}")
        step, octave = item.findtext("unpitched/display-step"), item.findtext("unpitched/display-octave")
        head = item.findtext("notehead") or ""
        return _find_at_place(step, octave, head) or self._count_unknown(
            f"Staff position {(step or '?')[:_LONGEST_NAME]}{(octave or '?')[:_LONGEST_NAME]}"
        )

    def _count_unknown(self, name: str) -> str:
        self.unknown[name] = self.unknown.get(name, 0) + 1
        return UNKNOWN_GOES_TO


def _is_struck(item: Element) -> bool:
    """Return True if a note is a stroke: unpitched, no cue, not tied to the note before."""
    if item.find("unpitched") is None or item.find("cue") is not None:
        return False
    return all(tie.get("type") != "stop" for tie in item.findall("tie"))


def _find_at_place(step: str | None, octave: str | None, head: str) -> str | None:
    """Find the surface whose note head is there: of that shape if there is one, else the nearest in kind."""
    number = _parse_number(octave)
    if step is None or len(step) != 1 or step not in _STEPS or number is None:
        return None
    loc = int(number) * 7 + _STEPS.index(step) - _BOTTOM_LINE
    surfaces_there = [surface for surface in load_surfaces().values() if surface.loc == loc]
    same = [surface for surface in surfaces_there if surface.head == head]
    crossed = [surface for surface in surfaces_there if bool(surface.head) == (head not in ("", "normal"))]
    candidates = same or crossed or surfaces_there
    return candidates[0].name if candidates else None


def _parse_number(text: str | None) -> float | None:
    try:
        number = float(text) if text is not None and len(text) <= 40 else None
    except ValueError:
        return None
    return number if number is not None and math.isfinite(number) else None
