"""MIDI files: a take from an electronic kit as onsets, and a written file as the strokes to play."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import log10
from pathlib import Path

from fillwright import budget
from fillwright.craft.player.players import load_trigger_thresholds
from fillwright.craft.sticking.hands import UnassignedStroke
from fillwright.errors import FillwrightError, UnknownNameError
from fillwright.listen.detected_take import DetectedTake, Onset
from fillwright.listen.written import WrittenPhrase
from fillwright.listen.written_midi import infer_phrase
from fillwright.music.meter import Meter, find_meter
from fillwright.music.surfaces import load_surfaces
from fillwright.music.timing import check_tempo
from fillwright.score.parts.cleaning import Removal, drop_crosstalk, merge_retriggers
from fillwright.score.parts.drum_midi import RawPart, read_midi
from fillwright.score.parts.drum_part import Clock, check_density, check_size
from fillwright.score.parts.midi_notes import MidiNoteMap

_STRENGTH_DB = 30.0  # of the loudest stroke above silence, as a quiet room gives it; ours
_LEAST_STRENGTH_DB = 6.0  # of the softest; ours, far above what counts as faint
_TAIL_SECONDS = 1.0  # added after the last stroke, so that it rings out; ours
_SAME_QUARTER = 1e-6  # places this near are the same, in quarter notes: rounding only
_AT_ONCE_SECONDS = 0.002  # strokes nearer than this are at once, not a flam; ours
_LOUDER = 1.5  # least ratio of the velocities of a main note and its grace note; an echo is softer; ours
_NEXT = 6  # strokes looked ahead for the next one of a pad; ours

Numbered = tuple[int, UnassignedStroke]
"""A stroke with its number in the file."""


@dataclass(frozen=True, slots=True, kw_only=True)
class MidiTake:
    """A take of an electronic kit.

    Attributes:
        detected: its strokes; times and surfaces are exact.
        remarks: what was merged, skipped or unknown, a sentence each.
    """

    detected: DetectedTake
    remarks: tuple[str, ...]


def is_midi(content: bytes) -> bool:
    """Return True if a file's first bytes are those of a MIDI file."""
    return content.startswith(b"MThd")


def read_midi_take(content: bytes, where: str, note_map: MidiNoteMap) -> MidiTake:
    """Read a take from an electronic kit, without double triggers and crosstalk.

    A velocity v becomes a loudness of 40 log10(v / 127) dB (General MIDI's recommended curve, from memory).

    Args:
        content: of the file.
        where: its name, for messages.
        note_map: surface of each MIDI note.

    Raises:
        FillwrightError: for a file that can't be read or has no drum notes.
    """
    raw = _read_notes(content, where, note_map)
    struck = [
        UnassignedStroke(
            at_seconds=raw.clock.seconds(note.quarter), surface=note.surface, velocity=note.velocity
        )
        for note in sorted(raw.notes, key=lambda note: note.quarter)
    ]
    budget.check_seconds(where, struck[-1].onset_seconds, budget.TAKE_SECONDS)
    check_density((stroke.onset_seconds for stroke in struck), where)
    once, retriggers = _merge_retriggers(list(enumerate(struck)), note_map)
    clean, crosstalk = drop_crosstalk(once)
    onsets = tuple(_onset(stroke) for _, stroke in clean)
    remarks = [
        f"{removal.action} at {struck[removal.number].onset_seconds:.2f} s: {removal.reason}."
        for removal in sorted([*retriggers, *crosstalk])
    ]
    return MidiTake(
        detected=DetectedTake(onsets=onsets, seconds=struck[-1].onset_seconds + _TAIL_SECONDS, from_midi=True),
        remarks=budget.limit_remarks((*raw.report, *remarks)),
    )


def name_as_written(detected: DetectedTake, expected: WrittenPhrase, note_map: MidiNoteMap) -> DetectedTake:
    """Return a take with the written name of every surface that a MIDI note has two names for.

    An electronic kit sends the edge of a crash as a note that a written file reads as a splash.

    Args:
        detected: the take.
        expected: the written phrase.
        note_map: surface of each MIDI note.
    """
    written = {stroke.surface for stroke in expected.strokes}
    names: dict[str, str] = {}
    for note, electronic in note_map.electronic.items():
        name = note_map.notes.get(note)
        if name is not None and electronic not in written and name in written:
            names[electronic] = name
        elif name is not None and name not in written and electronic in written:
            names[name] = electronic
    if not detected.from_midi or not names:
        return detected
    onsets = tuple(replace(onset, surface=names.get(onset.surface, onset.surface)) for onset in detected.onsets)
    return replace(detected, onsets=onsets)


def _merge_retriggers(struck: list[Numbered], note_map: MidiNoteMap) -> tuple[list[Numbered], list[Removal]]:
    """Merge strokes that a pad sent twice; return the strokes that are left and the removed ones.

    A soft stroke just ahead of a loud one is the grace note of a tight flam, not an echo, and stays.
    """
    within = load_trigger_thresholds().double_trigger_seconds
    graces = {
        number
        for index, (number, stroke) in enumerate(struck)
        for _, later in struck[index + 1 : index + 1 + _NEXT]
        if note_map.find_instrument(later.surface) == note_map.find_instrument(stroke.surface)
        and _AT_ONCE_SECONDS < later.onset_seconds - stroke.onset_seconds <= within
        and later.velocity >= _LOUDER * stroke.velocity
    }
    once, retriggers = merge_retriggers([pair for pair in struck if pair[0] not in graces], note_map)
    return sorted([*once, *(pair for pair in struck if pair[0] in graces)], key=_onset_seconds), retriggers


def _onset_seconds(pair: Numbered) -> float:
    return pair[1].onset_seconds


def _read_notes(content: bytes, where: str, note_map: MidiNoteMap) -> RawPart:
    raw = read_midi(content, where, note_map)
    if not raw.notes:
        raise FillwrightError(f"{where} has no drum notes. Only MIDI channel 10 is read.")
    budget.check_count(where, len(raw.notes), budget.STROKES, "drum notes")
    return raw


def _onset(stroke: UnassignedStroke) -> Onset:
    loudness_db = 40 * log10(max(1, stroke.velocity) / 127)
    return Onset(
        seconds=stroke.onset_seconds,
        strength_db=max(_LEAST_STRENGTH_DB, _STRENGTH_DB + loudness_db),
        loudness_db=loudness_db,
        surface=stroke.surface,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class WrittenMidi:
    """A written MIDI file.

    Attributes:
        expected: its strokes at the target tempo.
        meter: None for a meter that Fillwright does not write.
        tempo: of the file, in bpm.
        remarks: what was unknown, a sentence each.
    """

    expected: WrittenPhrase
    meter: Meter | None
    tempo: float
    remarks: tuple[str, ...]


def read_written_midi(
    content: bytes, where: str, note_map: MidiNoteMap, *, tempo: float | None = None
) -> WrittenMidi:
    """Read a written MIDI file from the bar of its first note.

    Args:
        content: of the file.
        where: its name, for messages.
        note_map: surface of each MIDI note.
        tempo: target tempo in bpm; the file's own if None.

    Raises:
        FillwrightError: for a file that can't be read, has no drum notes or more than 64 bars.
        TempoError: for a tempo that can't be played.
    """
    raw = _read_notes(content, where, note_map)
    check_size(raw.notes, raw.clock, where)
    quarters = sorted(note.quarter for note in raw.notes)
    seconds = raw.clock.seconds(quarters[-1]) - raw.clock.seconds(quarters[0])
    budget.check_seconds(where, seconds, budget.TAKE_SECONDS)
    bars, beats = _list_bars(raw.clock, quarters[0], quarters[-1])
    known = _find_meter(raw.clock.meter(quarters[0]))
    unit = float(known.tempo_unit) * 4 if known else 1.0
    file_tempo = raw.clock.tempo(quarters[0]) / unit
    target = file_tempo if tempo is None else tempo
    check_tempo(target)
    scale = file_tempo / target
    expected = infer_phrase(
        [(raw.clock.seconds(note.quarter) * scale, note.surface, note.velocity) for note in raw.notes],
        bar_starts=[raw.clock.seconds(quarter) * scale for quarter in bars],
        beats=[raw.clock.seconds(quarter) * scale for quarter in beats],
        tempo=target,
    )
    return WrittenMidi(expected=_name_feet(expected), meter=known, tempo=file_tempo, remarks=raw.report)


def _name_feet(expected: WrittenPhrase) -> WrittenPhrase:
    """Return the phrase with the foot named where one plays; the hands are unknown."""
    feet = {name: surface.foot.value for name, surface in load_surfaces().items() if surface.foot is not None}
    strokes = tuple(replace(stroke, hand=feet.get(stroke.surface, "")) for stroke in expected.strokes)
    return replace(expected, strokes=strokes)


def _list_bars(clock: Clock, first: float, last: float) -> tuple[list[float], list[float]]:
    """Return the bar starts and beats from the first note's bar to the end of the last note's, in quarters."""
    bars = clock.list_bars(first + _SAME_QUARTER, last + _SAME_QUARTER)
    beats = [beat for start in bars[:-1] for beat in _list_beats(clock.meter(start), start)]
    return bars, beats


def _list_beats(signature: tuple[int, int], start: float) -> Sequence[float]:
    known = _find_meter(signature)
    if known:
        return [start + float(beat) * 4 for beat in known.beat_starts]
    upper, lower = signature
    return [start + number * 4 / lower for number in range(upper)]


def _find_meter(signature: tuple[int, int]) -> Meter | None:
    try:
        return find_meter("{}/{}".format(*signature))
    except UnknownNameError:
        return None


def read_bytes(path: Path, largest: int = budget.MIDI_BYTES) -> bytes:
    """Read a file, or one byte more than `largest` if it is larger.

    Raises:
        FillwrightError: where it can't be read.
    """
    try:
        with path.open("rb") as file:
            return file.read(largest + 1)
    except (OSError, ValueError) as error:
        reason = (getattr(error, "strerror", None) or str(error)).lower()
        raise FillwrightError(f'"{path}" can\'t be read: {reason}.') from error
