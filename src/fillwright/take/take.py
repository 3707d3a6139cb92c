"""A student's take: detected, aligned with what is written, and put into words."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from fillwright.listen.alignment.align import align_take
from fillwright.listen.calibration import Calibration
from fillwright.listen.detected_take import DetectedTake
from fillwright.listen.onsets.decode import read_take
from fillwright.listen.onsets.detect import detect_onsets
from fillwright.listen.report.build import build_report
from fillwright.listen.report.confidence import ConfidenceNote, rate_confidence
from fillwright.listen.report.model import Report
from fillwright.listen.report.records import TakeOrigin, record_report
from fillwright.listen.report.schema import ReportRecord
from fillwright.listen.report.sentences import Sentences, write_sentences
from fillwright.score.parts.midi_notes import MidiNoteMap
from fillwright.take.midi import is_midi, read_bytes, read_midi_take
from fillwright.take.reference import Reference


@dataclass(frozen=True, slots=True, kw_only=True)
class AssessedTake:
    """A take with everything that is reported about it.

    Attributes:
        name: of its file.
        reference: what was to be played.
        report: the numbers.
        sentences: what was good, what to fix first, which tempo comes next.
        confidence: how far to trust the numbers.
        remarks: what was merged, skipped or unknown in MIDI files, a sentence each.
    """

    name: str
    reference: Reference
    report: Report
    sentences: Sentences
    confidence: ConfidenceNote
    remarks: tuple[str, ...] = ()


def assess_take(
    path: Path, reference: Reference, *, note_map: MidiNoteMap, calibration: Calibration | None = None
) -> AssessedTake:
    """Compare a take with what was to be played.

    Args:
        path: a recording, or a MIDI file from an electronic kit; the file's content shows which it is.
        reference: what was to be played.
        note_map: surface of each MIDI note.
        calibration: sound of each drum of the kit.

    Raises:
        FillwrightError: for a take that can't be read.
    """
    detected, remarks = detect_take(path, note_map)
    alignment = align_take(reference.expected, detected, calibration=calibration)
    report = build_report(reference.expected, detected, alignment)
    return AssessedTake(
        name=path.name,
        reference=reference,
        report=report,
        sentences=write_sentences(report, ladder=reference.ladder),
        confidence=rate_confidence(report, detected, calibrated=calibration is not None),
        remarks=reference.remarks + remarks,
    )


def detect_take(path: Path, note_map: MidiNoteMap) -> tuple[DetectedTake, tuple[str, ...]]:
    """Return the onsets of a take, and a sentence for everything merged, skipped or unknown.

    Raises:
        FillwrightError: for a take that can't be read.
    """
    if is_midi(read_bytes(path, 4)):
        take = read_midi_take(read_bytes(path), f'"{path}"', note_map)
        return take.detected, take.remarks
    samples, rate = read_take(path)
    return detect_onsets(samples, rate), ()


def record_take(take: AssessedTake) -> ReportRecord:
    """Return the report on a take as it is stored and exported."""
    fill = take.reference.fill
    origin = TakeOrigin(
        take=take.name,
        against=take.reference.title,
        fill=fill.number if fill else None,
        remarks=take.remarks,
    )
    return record_report(origin, take.report, take.sentences, take.confidence)
