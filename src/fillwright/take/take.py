"""A student's take: detected, aligned with what is written, and put into words."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

import msgspec

from fillwright.listen.alignment.align import align_take
from fillwright.listen.calibration import Calibration
from fillwright.listen.detected_take import DetectedTake
from fillwright.listen.dropouts import count_dropouts
from fillwright.listen.onsets.decode import decode_take
from fillwright.listen.onsets.detect import detect_onsets
from fillwright.listen.report.build import build_report
from fillwright.listen.report.confidence import ConfidenceNote, rate_confidence
from fillwright.listen.report.model import Report
from fillwright.listen.report.sentences import Sentences, write_sentences
from fillwright.listen.report.stored.records import TakeOrigin, record_report
from fillwright.listen.report.stored.schema import ReportRecord
from fillwright.listen.report.stored.verdict_records import VerdictRecord
from fillwright.listen.verdict.criteria import derive_criteria, list_written_notes
from fillwright.listen.verdict.judge import choose_remark, judge
from fillwright.score.parts.midi_notes import MidiNoteMap
from fillwright.take.midi import is_midi, name_as_written, read_bytes, read_midi_take
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
        verdict: what was asked, and what the take shows of it.
        remarks: what was merged, skipped or unknown in MIDI files, a sentence each.
    """

    name: str
    reference: Reference
    report: Report
    sentences: Sentences
    confidence: ConfidenceNote
    verdict: VerdictRecord
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
    detected = name_as_written(detected, reference.expected, note_map)
    alignment = align_take(reference.expected, detected, calibration=calibration)
    report = build_report(reference.expected, detected, alignment)
    confidence = rate_confidence(report, detected, calibrated=calibration is not None)
    verdict = _judge_report(reference, report, confidence)
    return AssessedTake(
        name=path.name,
        reference=reference,
        report=report,
        sentences=write_sentences(report, ladder=reference.ladder, remark=choose_remark(verdict)),
        confidence=confidence,
        verdict=verdict,
        remarks=reference.remarks + remarks,
    )


def _judge_report(reference: Reference, report: Report, confidence: ConfidenceNote) -> VerdictRecord:
    """Return the verdict on a take; the sentences of a refused one are part of it."""
    sentences = write_sentences(report, ladder=reference.ladder)
    record = record_report(TakeOrigin(take="", against=reference.title), report, sentences, confidence)
    asked = derive_criteria(list_written_notes(reference.expected), reference.expected.tempo)
    return judge(record, asked=asked)


def detect_take(path: Path, note_map: MidiNoteMap) -> tuple[DetectedTake, tuple[str, ...]]:
    """Return the onsets of a take, and a sentence for everything merged, skipped or unknown.

    Raises:
        FillwrightError: for a take that can't be read.
    """
    if is_midi(read_bytes(path, 4)):
        take = read_midi_take(read_bytes(path), f'"{path.name}"', note_map)
        return take.detected, take.remarks
    decoded = decode_take(path)
    samples = [decoded.take_samples()]  # the detector frees them as soon as it can
    dropouts = count_dropouts(samples[0], decoded.rate)
    detected = detect_onsets(samples.pop(), decoded.rate)
    return replace(detected, dropouts=dropouts), decoded.remarks


def record_take(take: AssessedTake) -> ReportRecord:
    """Return the report on a take as it is stored and exported."""
    fill = take.reference.fill
    origin = TakeOrigin(
        take=take.name,
        against=take.reference.title,
        fill=fill.number if fill else None,
        remarks=take.remarks,
    )
    record = record_report(origin, take.report, take.sentences, take.confidence)
    return msgspec.structs.replace(record, verdict=take.verdict)
