"""MIDI files round a take: what an electronic kit sent, as heard; a written file, as expected."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import log10
from pathlib import Path

from fillwright.craft.player.players import recording
from fillwright.craft.sticking.hands import Struck
from fillwright.errors import FillwrightError, UnknownNameError
from fillwright.listen.onset_list import Heard, Onset
from fillwright.listen.written import Expected
from fillwright.listen.written_midi import of_notes
from fillwright.music.meter import Meter, meter
from fillwright.music.surfaces import surfaces
from fillwright.music.timing import check_tempo
from fillwright.score.parts.cleaning import merge_retriggers, drop_crosstalk
from fillwright.score.parts.drum_midi import RawPart, read_midi
from fillwright.score.parts.drum_part import MOST_STROKES, Clock, check_size
from fillwright.score.parts.midi_notes import Pads

LARGEST_BYTES = 1_000_000
_STRENGTH_DB = 30.0  # a stroke of an electronic kit stands out from silence
_LEAST_STRENGTH_DB = 6.0
_TAIL_SECONDS = 1.0
_SAME_PLACE = 1e-6
_AT_ONCE_SECONDS = 0.002
_LOUDER = 1.5  # a grace note's main note is so much louder at least; a trigger's echo is softer than its stroke
_NEXT = 6  # a pad's next stroke is among so many

Numbered = tuple[int, Struck]
"""A stroke with its number in the file."""


@dataclass(frozen=True, slots=True, kw_only=True)
class MidiTake:
    """A take of an electronic kit.

    Attributes:
        heard: its strokes; times and surfaces are facts.
        remarks: what was merged, set aside or unknown, a sentence each.
    """

    heard: Heard
    remarks: tuple[str, ...]


def is_midi(content: bytes) -> bool:
    """Whether a file's first bytes say that it is MIDI."""
    return content.startswith(b"MThd")


def read_midi_take(content: bytes, where: str, pads: Pads) -> MidiTake:
    """What an electronic kit sent, cleaned of double triggers and crosstalk.

    A velocity stands for a level of 40 log10(v / 127) dB (General MIDI's recommended curve, from memory).

    Args:
        content: of the file.
        where: its name, for messages.
        pads: which surface each key is.

    Raises:
        FillwrightError: for a file that can't be read or has no drum notes.
    """
    raw = _raw(content, where, pads)
    struck = [
        Struck(at_seconds=raw.clock.seconds(note.quarter), surface=note.surface, velocity=note.velocity)
        for note in sorted(raw.notes, key=lambda note: note.quarter)
    ]
    once, twice = _once(list(enumerate(struck)), pads)
    clean, crosstalk = drop_crosstalk(once)
    onsets = tuple(_onset(stroke) for _, stroke in clean)
    remarks = [_remark(struck[number], what) for number, what in sorted(twice + crosstalk)]
    return MidiTake(
        heard=Heard(onsets=onsets, seconds=struck[-1].onset_seconds + _TAIL_SECONDS, from_midi=True),
        remarks=(*raw.report, *remarks),
    )


def _remark(stroke: Struck, what: str) -> str:
    done = "Merged" if what.endswith("twice") else "Set aside"
    return f"{done} at {stroke.onset_seconds:.2f} s: {what}."


def _once(struck: list[Numbered], pads: Pads) -> tuple[list[Numbered], list[tuple[int, str]]]:
    """Strokes without those that a pad sent twice, and what was merged.

    A soft one just ahead of a loud one is a tight flam's grace note, not a trigger's echo, and stays.
    """
    within = recording().double_trigger_seconds
    graces = {
        number
        for place, (number, stroke) in enumerate(struck)
        for _, later in struck[place + 1 : place + 1 + _NEXT]
        if pads.pad(later.surface) == pads.pad(stroke.surface)
        and _AT_ONCE_SECONDS < later.onset_seconds - stroke.onset_seconds <= within
        and later.velocity >= _LOUDER * stroke.velocity
    }
    once, twice = merge_retriggers([pair for pair in struck if pair[0] not in graces], pads)
    return sorted([*once, *(pair for pair in struck if pair[0] in graces)], key=_onset_of), twice


def _onset_of(pair: Numbered) -> float:
    return pair[1].onset_seconds


def _raw(content: bytes, where: str, pads: Pads) -> RawPart:
    if len(content) > LARGEST_BYTES:
        raise FillwrightError(
            f"{where} is larger than {LARGEST_BYTES // 1_000_000} MB; cut the take out of it."
        )
    raw = read_midi(content, where, pads)
    if not raw.notes:
        raise FillwrightError(f"{where} has no drum notes; notes on MIDI channel 10 are read.")
    if len(raw.notes) > MOST_STROKES:
        raise FillwrightError(f"{where} has {len(raw.notes):,} drum notes; up to {MOST_STROKES:,} are read.")
    return raw


def _onset(stroke: Struck) -> Onset:
    level_db = 40 * log10(max(1, stroke.velocity) / 127)
    return Onset(
        seconds=stroke.onset_seconds,
        strength_db=max(_LEAST_STRENGTH_DB, _STRENGTH_DB + level_db),
        level_db=level_db,
        surface=stroke.surface,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class WrittenMidi:
    """A written MIDI file.

    Attributes:
        expected: what is to be heard at the tempo asked for.
        meter: None for one that the project does not write.
        tempo: of the file, in the meter's beats a minute.
        remarks: what was unknown, a sentence each.
    """

    expected: Expected
    meter: Meter | None
    tempo: float
    remarks: tuple[str, ...]


def read_written_midi(content: bytes, where: str, pads: Pads, *, tempo: float | None = None) -> WrittenMidi:
    """What is written in a MIDI file, from the bar of its first note.

    Args:
        content: of the file.
        where: its name, for messages.
        pads: which surface each key is.
        tempo: to expect it at, in the meter's beats a minute; the file's own unless given.

    Raises:
        FillwrightError: for a file that can't be read, has no drum notes or more than 64 bars.
        TempoError: for a tempo that can't be played.
    """
    raw = _raw(content, where, pads)
    check_size(raw.notes, raw.clock, where)
    quarters = sorted(note.quarter for note in raw.notes)
    bars, beats = _grid(raw.clock, quarters[0], quarters[-1])
    known = _meter(raw.clock.meter(quarters[0]))
    unit = float(known.tempo_unit) * 4 if known else 1.0
    own = raw.clock.tempo(quarters[0]) / unit
    asked = own if tempo is None else tempo
    check_tempo(asked)
    scale = own / asked
    expected = of_notes(
        [(raw.clock.seconds(note.quarter) * scale, note.surface, note.velocity) for note in raw.notes],
        bar_starts=[raw.clock.seconds(place) * scale for place in bars],
        beats=[raw.clock.seconds(place) * scale for place in beats],
        tempo=asked,
    )
    return WrittenMidi(expected=_with_feet(expected), meter=known, tempo=own, remarks=raw.report)


def _with_feet(expected: Expected) -> Expected:
    """The strokes with the foot named where one plays; hands nobody knows."""
    feet = {name: one.foot.value for name, one in surfaces().items() if one.foot is not None}
    strokes = tuple(replace(stroke, hand=feet.get(stroke.surface, "")) for stroke in expected.strokes)
    return replace(expected, strokes=strokes)


def _grid(clock: Clock, first: float, last: float) -> tuple[list[float], list[float]]:
    """Bars from the first note's to the end of the last note's, and all beats of them, in quarters."""
    start = 0.0
    bars: list[float] = []
    beats: list[float] = []
    while start <= last + _SAME_PLACE:
        upper, lower = clock.meter(start)
        end = start + upper * 4 / lower
        if end > first + _SAME_PLACE:
            bars.append(start)
            beats += _beats((upper, lower), start)
        start = end
    return [*bars, start], beats


def _beats(signature: tuple[int, int], start: float) -> Sequence[float]:
    known = _meter(signature)
    if known:
        return [start + float(place) * 4 for place in known.beat_starts]
    upper, lower = signature
    return [start + number * 4 / lower for number in range(upper)]


def _meter(signature: tuple[int, int]) -> Meter | None:
    try:
        return meter("{}/{}".format(*signature))
    except UnknownNameError:
        return None


def read_bytes(path: Path, largest: int = LARGEST_BYTES) -> bytes:
    """A file's content, or its first bytes where it is larger than `largest`.

    Raises:
        FillwrightError: where it can't be read.
    """
    try:
        with path.open("rb") as file:
            return file.read(largest + 1)
    except (OSError, ValueError) as error:
        reason = (getattr(error, "strerror", None) or str(error)).lower()
        raise FillwrightError(f'"{path}" can\'t be read: {reason}.') from error
