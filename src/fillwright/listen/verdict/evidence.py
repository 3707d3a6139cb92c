"""The evidence that criteria are judged by, taken from a stored report."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import Enum

from fillwright.listen.report.stored.schema import ReportRecord
from fillwright.listen.report.stored.stroke_records import StrokeRecord
from fillwright.listen.verdict.criteria import Tolerance


class State(Enum):
    """Results of a criterion: what a take shows."""

    SHOWN = "shown"
    NOT_SHOWN = "not shown"
    WRONG = "wrong"


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """Result of one criterion; `words` say why not, and what to do."""

    state: State
    words: str = ""


SHOWN = Finding(state=State.SHOWN)


def mark_wrong(words: str) -> Finding:
    """Return a finding that something is wrong."""
    return Finding(state=State.WRONG, words=words)


def mark_not_shown(words: str) -> Finding:
    """Return a finding that the take can't show something."""
    return Finding(state=State.NOT_SHOWN, words=words)


@dataclass(frozen=True, slots=True, kw_only=True)
class Evidence:
    """A report with its strokes sorted by what they are for.

    Attributes:
        record: the report.
        tolerance: how far it may be from what is written.
        fill: main strokes of the fill, of all repetitions.
        landing: main strokes of the landing.
        groove: main strokes before the fill.
        graces: grace notes of the fill.
    """

    record: ReportRecord
    tolerance: Tolerance
    fill: tuple[StrokeRecord, ...]
    landing: tuple[StrokeRecord, ...]
    groove: tuple[StrokeRecord, ...]
    graces: tuple[StrokeRecord, ...]

    @property
    def repetitions(self) -> int:
        """Number of repetitions, at least 1."""
        return max(1, len(self.record.repetitions))

    @property
    def exact(self) -> bool:
        """True for a take from an electronic kit, whose strokes and drums are exact."""
        return self.record.drums_from == "electronic kit"


def gather_evidence(record: ReportRecord, tolerance: Tolerance) -> Evidence:
    """Return the strokes of a report sorted by what they are for."""
    mains = [stroke for stroke in record.strokes if not stroke.grace]
    return Evidence(
        record=record,
        tolerance=tolerance,
        fill=tuple(stroke for stroke in mains if stroke.fill),
        landing=tuple(stroke for stroke in mains if stroke.landing),
        groove=tuple(stroke for stroke in mains if not (stroke.fill or stroke.landing)),
        graces=tuple(stroke for stroke in record.strokes if stroke.grace and stroke.fill),
    )


def is_played(stroke: StrokeRecord) -> bool:
    """Return True if a stroke was detected."""
    return stroke.outcome in ("played", "timing uncertain")


def find_hidden(strokes: Sequence[StrokeRecord]) -> set[int]:
    """Return the positions of missing strokes that another one of their moment may hide."""
    played = {(stroke.repetition, stroke.bar, stroke.beat) for stroke in strokes if is_played(stroke)}
    return {
        position
        for position, stroke in enumerate(strokes)
        if stroke.outcome == "missing" and (stroke.repetition, stroke.bar, stroke.beat) in played
    }


def locate(stroke: StrokeRecord) -> str:
    """Return the place of a stroke in words: "beat 3 of bar 4"."""
    beat = int(stroke.beat + 0.02)
    before = "" if stroke.beat - beat < 0.02 else "just after "
    return f"{before}beat {beat} of bar {stroke.bar}"
