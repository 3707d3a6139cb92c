"""The verdict on a take: every criterion of its fill is shown, not shown, or wrong.

Not audible is never passed: a criterion that the take can't show is "not shown", and the words say what to do.
Pure: the same report and tolerance give the same verdict, so that a stored report can be judged again.
"""

from __future__ import annotations

from collections.abc import Callable

from fillwright.listen.report.stored.schema import ReportRecord
from fillwright.listen.report.stored.types import CriterionKey
from fillwright.listen.report.stored.verdict_records import CriterionRecord, VerdictRecord
from fillwright.listen.verdict.criteria import Tolerance, derive_criteria, list_recorded_notes
from fillwright.listen.verdict.evidence import Evidence, Finding, State, gather_evidence
from fillwright.listen.verdict.notes import (
    judge_drums,
    judge_extra,
    judge_groove,
    judge_strokes,
)
from fillwright.listen.verdict.time import (
    judge_flow,
    judge_landing,
    judge_swing,
    judge_tempo,
    judge_time,
)
from fillwright.listen.verdict.touch import judge_accents, judge_drags, judge_flams

_JUDGES: dict[CriterionKey, Callable[[Evidence], Finding]] = {
    "strokes": judge_strokes,
    "drums": judge_drums,
    "groove": judge_groove,
    "flams": judge_flams,
    "drags": judge_drags,
    "accents": judge_accents,
    "extra": judge_extra,
    "flow": judge_flow,
    "landing": judge_landing,
    "time": judge_time,
    "tempo": judge_tempo,
    "swing": judge_swing,
}


def judge(
    record: ReportRecord, tolerance: Tolerance | None = None, *, asked: tuple[CriterionRecord, ...] = ()
) -> VerdictRecord:
    """Return the verdict on a take.

    Args:
        record: the report on the take.
        tolerance: how far it may be from what is written; the defaults without one.
        asked: the criteria, for a take that is not scored, whose report has no strokes.
    """
    allowed = tolerance or Tolerance()
    if record.refused:
        return _judge_refusal(record, asked)
    asked = derive_criteria(list_recorded_notes(record), record.tempo_target, allowed)
    evidence = gather_evidence(record, allowed)
    findings = {criterion.key: _JUDGES[criterion.key](evidence) for criterion in asked}
    not_shown = _select(findings, State.NOT_SHOWN)
    wrong = _select(findings, State.WRONG)
    return VerdictRecord(
        passed=False if wrong else _can_pass(record, not_shown),
        asked=asked,
        shown=tuple(key for key, finding in findings.items() if finding.state is State.SHOWN),
        not_shown=not_shown,
        wrong=wrong,
    )


def _can_pass(record: ReportRecord, not_shown: tuple[CriterionRecord, ...]) -> bool | None:
    """Return True for a take with nothing wrong, None if it can't be judged."""
    return None if not_shown or record.doubtful or record.confidence.level == "low" else True


def _select(findings: dict[CriterionKey, Finding], state: State) -> tuple[CriterionRecord, ...]:
    return tuple(
        CriterionRecord(key=key, words=finding.words)
        for key, finding in findings.items()
        if finding.state is state
    )


def choose_remark(verdict: VerdictRecord) -> str:
    """Return the sentence for a take without a fault that is not passed; "" if only drums are unknown.

    Which drum was struck is a question of the recording, not of the playing, so it is left to the verdict.
    """
    reasons = [finding.words for finding in verdict.wrong]
    reasons += [finding.words for finding in verdict.not_shown if finding.key not in ("drums", "groove")]
    return reasons[0] if reasons and verdict.passed is not True else ""


def _judge_refusal(record: ReportRecord, asked: tuple[CriterionRecord, ...]) -> VerdictRecord:
    """Return the verdict on a take that is not scored: wrong only if the tempo is the reason."""
    if record.refused == "tempo":
        wrong = CriterionRecord(key="tempo", words=record.words[0])
        rest = tuple(criterion for criterion in asked if criterion.key != "tempo")
        return VerdictRecord(passed=False, asked=asked, shown=(), not_shown=rest, wrong=(wrong,))
    return VerdictRecord(passed=None, asked=asked, shown=(), not_shown=asked, wrong=())
