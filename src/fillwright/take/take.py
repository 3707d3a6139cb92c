"""A student's take: read, laid against what is written, and what is said of it."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

from fillwright.listen.alignment.align import match
from fillwright.listen.calibration import Calibration
from fillwright.listen.onset_list import Heard
from fillwright.listen.onsets.decode import read_take
from fillwright.listen.onsets.detect import hear
from fillwright.listen.report.build import build_report
from fillwright.listen.report.confidence import ConfidenceNote, rate_confidence
from fillwright.listen.report.json_values import plain
from fillwright.listen.report.model import Report
from fillwright.listen.report.sentences import Sentences, write_sentences
from fillwright.score.parts.midi_notes import Pads
from fillwright.take.midi import is_midi, read_midi_take, read_bytes
from fillwright.take.reference import Reference


@dataclass(frozen=True, slots=True, kw_only=True)
class AssessedTake:
    """A take and what is said of it.

    Attributes:
        name: of its file.
        against: what it is laid against.
        report: the numbers.
        words: three sentences.
        trust: how far to trust them.
        remarks: what was merged, set aside or unknown in MIDI files, a sentence each.
    """

    name: str
    against: Reference
    build_report: Report
    write_sentences: Sentences
    rate_confidence: ConfidenceNote
    remarks: tuple[str, ...] = ()


def assess_take(path: Path, against: Reference, *, pads: Pads, calibration: Calibration | None = None) -> AssessedTake:
    """Listen to a take.

    Args:
        path: a recording, or a MIDI file of an electronic kit; what a file holds says which it is.
        against: what it is laid against.
        pads: which surface each key of a MIDI file is.
        calibration: how the drums of the kit sound.

    Raises:
        FillwrightError: for a take that can't be read.
    """
    heard, remarks = detect_onsets(path, pads)
    found = match(against.expected, heard, calibration=calibration)
    said = build_report(against.expected, heard, found)
    return AssessedTake(
        name=path.name,
        against=against,
        report=said,
        words=write_sentences(said, ladder=against.ladder),
        trust=rate_confidence(said, heard, calibrated=calibration is not None),
        remarks=against.remarks + remarks,
    )


def detect_onsets(path: Path, pads: Pads) -> tuple[Heard, tuple[str, ...]]:
    """What is heard in a take, and what was merged, set aside or unknown.

    Raises:
        FillwrightError: for a take that can't be read.
    """
    if is_midi(read_bytes(path, 4)):
        taken = read_midi_take(read_bytes(path), f'"{path}"', pads)
        return taken.heard, taken.remarks
    samples, rate = read_take(path)
    return hear(samples, rate), ()


def as_json(taken: AssessedTake) -> dict[str, Any]:
    """A take as `--json` and report.json give it; docs/listening.md describes every key."""
    fill = taken.against.fill
    return {
        "take": taken.name,
        "against": taken.against.title,
        "fill": fill.number if fill else None,
        **plain(taken.report, taken.words, taken.trust),
        "remarks": list(taken.remarks),
    }
