"""Criteria of a fill: what a take of it must show, derived from the written strokes alone."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

from fillwright.listen.report.stored.schema import ReportRecord
from fillwright.listen.report.stored.types import CriterionKey
from fillwright.listen.report.stored.verdict_records import CriterionRecord
from fillwright.listen.written import WrittenPhrase
from fillwright.music.stroke import Level

LEAST_DYNAMICS = 2
"""Accents, and taps of the same drum, from which accents are asked for; ours."""

_SWUNG = (0.58, 0.76)  # places in the beat that count as a swung eighth; ours, as in `report.recognition`
_TRIPLET = (0.28, 0.4)  # places of a triplet's second note, which is not a swung eighth; ours
_LEAST_SWUNG = 2  # swung eighths of the groove, from which swing is asked for; ours


@dataclass(frozen=True, slots=True, kw_only=True)
class WrittenNote:
    """A written main note, as far as criteria need it.

    Attributes:
        surface: drum or cymbal.
        level: accent, tap or ghost.
        graces: number of grace notes before it.
        beat: in its bar, from 1.
        fill: True for a note of the fill.
        landing: True for a note of the landing.
    """

    surface: str
    level: str
    graces: int
    beat: float
    fill: bool
    landing: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Tolerance:
    """Largest differences allowed between a take and what is written.

    The defaults are ours, not measured: a patient teacher's.

    Attributes:
        most_missing: strokes of the fill that may be missing, in each repetition.
        most_extra: extra strokes allowed, in each repetition.
        on_time_ms: largest lag of a stroke that is on time, either way.
        on_time_share: part of the fill's strokes that must be on time, 0 to 1.
        most_unevenness_ms: of the fill, against its own tempo.
        most_rush_percent: between fill and groove, either way.
        most_tempo_percent: between the groove and the target tempo, either way.
        not_asked: criteria that a teacher leaves out.
    """

    most_missing: int = 0
    most_extra: int = 0
    on_time_ms: float = 30.0
    on_time_share: float = 0.9
    most_unevenness_ms: float = 20.0
    most_rush_percent: float = 2.5
    most_tempo_percent: float = 4.0
    not_asked: frozenset[CriterionKey] = field(default_factory=frozenset)


def list_written_notes(written: WrittenPhrase) -> list[WrittenNote]:
    """Return the main notes of a written phrase."""
    graces = [stroke.grace_of for stroke in written.strokes if stroke.grace_of is not None]
    return [
        WrittenNote(
            surface=stroke.surface,
            level=stroke.level.value,
            graces=graces.count(index),
            beat=_count_beat(written, stroke.seconds),
            fill=stroke.in_fill,
            landing=stroke.landing,
        )
        for index, stroke in enumerate(written.strokes)
        if stroke.grace_of is None
    ]


def _count_beat(written: WrittenPhrase, seconds: float) -> float:
    """Return the number of beats from the start of the phrase, from 1."""
    beats = written.beats
    number = max(0, bisect_right(beats, seconds + 1e-6) - 1)
    later = beats[number + 1] if number + 1 < len(beats) else beats[number] + 60 / written.tempo
    return number + 1 + (seconds - beats[number]) / (later - beats[number])


def list_recorded_notes(record: ReportRecord) -> list[WrittenNote]:
    """Return the main notes of the phrase that a stored report is about."""
    once = [stroke for stroke in record.strokes if stroke.repetition == 1]
    graces = [(stroke.bar, stroke.beat) for stroke in once if stroke.grace]
    return [
        WrittenNote(
            surface=stroke.surface_written,
            level=stroke.dynamics,
            graces=graces.count((stroke.bar, stroke.beat)),
            beat=stroke.beat,
            fill=stroke.fill,
            landing=stroke.landing,
        )
        for stroke in once
        if not stroke.grace
    ]


def derive_criteria(
    notes: Sequence[WrittenNote], tempo: float, tolerance: Tolerance | None = None
) -> tuple[CriterionRecord, ...]:
    """Return what a take of a fill must show, in the order of importance, as a student reads it.

    Args:
        notes: of the phrase.
        tempo: target tempo in bpm.
        tolerance: a teacher's; criteria in its `not_asked` are left out.
    """
    left_out = tolerance.not_asked if tolerance else frozenset()
    criteria = [*_ask_for_notes(notes), *_ask_for_touch(notes), *_ask_for_time(notes, tempo)]
    return tuple(CriterionRecord(key=key, words=words) for key, words in criteria if key not in left_out)


Asked = tuple[CriterionKey, str]
"""Key of a criterion, and what it asks for."""


def _ask_for_notes(notes: Sequence[WrittenNote]) -> Iterator[Asked]:
    fill = [note for note in notes if note.fill]
    groove = [note for note in notes if not (note.fill or note.landing)]
    if fill:
        yield "strokes", f"All {len(fill)} strokes of the fill."
        yield "drums", f"The fill on its drums: {name_surfaces(fill)}."
    if groove:
        yield "groove", f"The groove before the fill: {name_surfaces(groove)}."


def _ask_for_touch(notes: Sequence[WrittenNote]) -> Iterator[Asked]:
    fill = [note for note in notes if note.fill]
    if any(note.graces == 1 for note in fill):
        yield "flams", "Flams: a soft stroke just before the main stroke."
    if any(note.graces > 1 for note in fill):
        yield "drags", "Drags: two soft strokes just before the main stroke."
    if find_contrast(fill):
        yield "accents", "Accents clearly louder than the taps."
    yield "extra", "No extra strokes."


def _ask_for_time(notes: Sequence[WrittenNote], tempo: float) -> Iterator[Asked]:
    yield "flow", "No stop: groove, fill and landing in one go."
    landing = [note for note in notes if note.landing]
    if landing:
        yield "landing", f"The landing on beat 1: {name_surfaces(landing)}."
    if any(note.fill for note in notes):
        yield "time", "The fill in the groove's tempo, evenly."
    yield "tempo", f"The tempo: {tempo:g} bpm."
    if _is_swung(notes):
        yield "swing", "Swung eighths."


def find_contrast(fill: Sequence[WrittenNote]) -> bool:
    """Return True if a drum has accents and taps enough to compare."""
    counts: dict[tuple[str, str], int] = {}
    for note in fill:
        counts[note.surface, note.level] = counts.get((note.surface, note.level), 0) + 1
    accents = [name for name, level in counts if level == Level.ACCENT.value]
    return any(
        min(counts[name, Level.ACCENT.value], counts.get((name, Level.TAP.value), 0)) >= LEAST_DYNAMICS
        for name in accents
    )


def _is_swung(notes: Sequence[WrittenNote]) -> bool:
    parts = [note.beat % 1 for note in notes if not (note.fill or note.landing)]
    swung = sum(_SWUNG[0] <= part <= _SWUNG[1] for part in parts)
    sixteenths = sum(abs(part - 0.75) < 0.02 or abs(part - 0.5) < 0.02 for part in parts)
    triplets = sum(_TRIPLET[0] <= part <= _TRIPLET[1] for part in parts)
    return swung >= _LEAST_SWUNG and not sixteenths and not triplets


def name_surfaces(notes: Sequence[WrittenNote]) -> str:
    """Return the drums and cymbals of notes in words, each once: "snare, high tom and kick"."""
    names = list(dict.fromkeys(note.surface for note in notes))
    return " and ".join([", ".join(names[:-1]), names[-1]] if len(names) > 1 else names)
