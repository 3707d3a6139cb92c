"""Judges of the touch: grace notes and accents."""

from __future__ import annotations

from statistics import fmean, stdev
from typing import Literal

from fillwright.listen.limits import get_limit
from fillwright.listen.verdict.evidence import (
    SHOWN,
    Evidence,
    Finding,
    is_played,
    mark_not_shown,
    mark_wrong,
)

# Ours, not measured.
_PLAYED_SHARE = 0.75  # of grace notes that must be there, where all would be recorded
_AUDIBLE_SHARE = 0.5  # of grace notes that must be audible in a recording
_CLEAR_DB = 2.5  # of accents above taps that are shown; below the limit for flat ones they are wrong


def judge_flams(evidence: Evidence) -> Finding:
    """Return a finding on the flams of the fill: there, and neither flat nor wide."""
    return _judge_graces(evidence, "flam")


def judge_drags(evidence: Evidence) -> Finding:
    """Return a finding on the drags of the fill."""
    return _judge_graces(evidence, "drag")


def _judge_graces(evidence: Evidence, kind: Literal["flam", "drag"]) -> Finding:
    places = [(stroke.repetition, stroke.bar, stroke.beat) for stroke in evidence.graces]
    graces = [
        stroke
        for stroke, place in zip(evidence.graces, places, strict=True)
        if (places.count(place) == 1) == (kind == "flam")
    ]
    if not graces:
        return SHOWN
    played = sum(is_played(stroke) for stroke in graces)
    share = played / len(graces)
    if evidence.exact and share < _PLAYED_SHARE:
        return mark_wrong(f"{len(graces) - played} of {len(graces)} grace notes are missing.")
    if kind == "flam":
        gaps = [flam.gap_ms for flam in evidence.record.flams if flam.kind == "flam"]
        wrong = _check_gaps(gaps)
        if wrong:
            return mark_wrong(wrong)
    if not evidence.exact and share < _AUDIBLE_SHARE:
        return mark_not_shown(
            f"Only {played} of {len(graces)} grace notes can be heard. Play them a little earlier than the "
            "main stroke, and move the microphone nearer to the snare."
        )
    return SHOWN


def _check_gaps(gaps: list[float]) -> str:
    """Return a sentence on flams that are surely flat or wide, else ""."""
    if len(gaps) < 2:
        return ""
    mean, error = fmean(gaps), stdev(gaps) / len(gaps) ** 0.5
    margin = get_limit("time.sure_errors") * error
    if mean + margin < get_limit("flam.narrow_ms"):
        return f"Your flams are flat, only {mean:.0f} ms wide."
    if mean - margin > get_limit("flam.wide_ms"):
        return f"Your flams fall apart, {mean:.0f} ms wide."
    return ""


def judge_accents(evidence: Evidence) -> Finding:
    """Return a finding on the accents of the fill against its taps."""
    accents = evidence.record.fill_accent_db
    if accents is None:
        return mark_not_shown("Your accents can't be compared with your taps in this take. Play it once more.")
    if accents < get_limit("level.flat_accent_db"):
        return mark_wrong("Your accents hardly stand out from your taps. Play the taps lower.")
    if accents < _CLEAR_DB:
        return mark_not_shown(
            f"Your accents are only {accents:.0f} dB louder than your taps. Play the taps lower."
        )
    return SHOWN
