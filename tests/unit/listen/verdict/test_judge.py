"""Verdicts on simulated takes: what is wrong, what is not shown, and what a teacher may loosen."""

from dataclasses import replace

import pytest

from fillwright.listen.alignment.model import Outcome, SurfaceSource
from fillwright.listen.report.build import build_report
from fillwright.listen.report.confidence import rate_confidence
from fillwright.listen.report.stored.records import TakeOrigin, record_report
from fillwright.listen.verdict.criteria import (
    Tolerance,
    derive_criteria,
    list_recorded_notes,
    list_written_notes,
)
from fillwright.listen.verdict.judge import judge


@pytest.fixture
def record(expected, perform):
    """The stored report of a take of an electronic kit, or of a recording without evidence for drums."""

    def of(*, drums=SurfaceSource.ELECTRONIC_KIT, **how):
        detected, alignment = perform(**how)
        detected = replace(detected, from_midi=drums is SurfaceSource.ELECTRONIC_KIT)
        report = build_report(expected, detected, replace(alignment, surfaces_from=drums))
        confidence = rate_confidence(report, detected)
        return record_report(TakeOrigin(take="a", against="b"), report, ("", "", ""), confidence)

    return of


def list_keys(findings):
    return [finding.key for finding in findings]


def test_a_good_take_passes(record):
    verdict = judge(record())
    assert verdict.passed is True
    assert set(verdict.shown) == set(list_keys(verdict.asked))


def test_the_same_is_asked_before_and_after_the_take(expected, record):
    after = derive_criteria(list_recorded_notes(record()), expected.tempo)
    assert derive_criteria(list_written_notes(expected), expected.tempo) == after
    assert {"strokes", "drums", "flams", "landing"} <= set(list_keys(after))


def test_a_recording_without_evidence_for_drums_is_not_passed(record):
    verdict = judge(record(drums=SurfaceSource.NONE))
    assert verdict.passed is None
    assert list_keys(verdict.not_shown) == ["drums", "groove"]


def test_another_drum_is_wrong(record):
    verdict = judge(record(surface=lambda stroke: "rim" if stroke.in_fill else stroke.surface))
    assert verdict.passed is False
    assert list_keys(verdict.wrong) == ["drums"]


def test_not_audible_is_never_passed(expected, record):
    fill = {index for index, stroke in enumerate(expected.strokes) if stroke.in_fill}
    verdict = judge(record(missing=fill, outcome=Outcome.NOT_AUDIBLE, drums=SurfaceSource.NONE))
    assert verdict.passed is None
    assert "strokes" in list_keys(verdict.not_shown)


def test_a_missing_stroke_is_wrong_unless_a_teacher_allows_one(expected, record):
    stroke = next(
        i for i, s in enumerate(expected.strokes) if s.in_fill and s.level.value == "tap" and s.grace_of is None
    )
    missing = record(missing={stroke})
    assert list_keys(judge(missing).wrong) == ["strokes"]
    assert judge(missing, Tolerance(most_missing=1)).passed is True


def test_an_extra_stroke_is_wrong_unless_extra_strokes_are_not_asked_about(record):
    extra = record(extra_seconds=(5.0,))
    assert list_keys(judge(extra).wrong) == ["extra"]
    loose = judge(extra, Tolerance(not_asked=frozenset({"extra"})))
    assert loose.passed is True
    assert "extra" not in list_keys(loose.asked)


def test_a_landing_off_the_pulse_is_wrong(record):
    late = record(lag_ms=lambda stroke: 60.0 if stroke.landing else 0.0)
    assert list_keys(judge(late).wrong) == ["landing"]
