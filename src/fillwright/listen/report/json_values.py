"""A report as plain values, as `--json` and report.json give it; docs/listening.md describes every key.

Numbers are rounded to what they are worth: times to a tenth of a millisecond, lags and levels to a tenth,
tempos and rushes to a hundredth.
"""

from __future__ import annotations

from collections.abc import Sequence
from statistics import fmean
from typing import Any

from fillwright.listen.report.confidence import ConfidenceNote
from fillwright.listen.report.model import (
    BarReport,
    HandDifference,
    GraceReport,
    HandReport,
    HandsReport,
    RepetitionReport,
    Report,
    RollReport,
    Statistics,
    StrokeReport,
)

Plain = dict[str, Any]


def plain(report: Report, words: Sequence[str], trusted: ConfidenceNote) -> Plain:
    """A report with its words and limits as numbers, texts, lists and tables."""
    drifts = [one.drift_percent for one in report.passes if one.drift_percent is not None]
    return {
        "refused": report.refused,
        "tempo_asked": _rounded(report.tempo_asked, 2),
        "tempo_found": _rounded(report.tempo_found, 2),
        "tempo_played": _rounded(report.tempo_played, 2),
        "seconds": _rounded(report.seconds, 3),
        "share_matched": _rounded(report.share_matched, 3),
        "strokes_written": len(report.strokes),
        "onsets_matched": sum(stroke.played for stroke in report.strokes),
        "missing": [_place(stroke) for stroke in report.missing],
        "unheard": [_place(stroke) for stroke in report.unheard],
        "extra": [
            {
                "time_s": _rounded(extra.seconds, 4),
                "pass": extra.turn,
                "bar": extra.bar,
                "surface": extra.surface,
                "level_db": _rounded(extra.level_db, 1),
            }
            for extra in report.extra
        ],
        "wrong_surface": [
            _place(stroke) | {"surface_heard": stroke.surface_heard, "sure": _rounded(stroke.surface_trust, 2)}
            for stroke in report.wrong_surface
        ],
        "strokes": [_stroke(stroke) for stroke in report.strokes],
        "bars": [_bar(bar) for bar in report.bars],
        "passes": [_pass(one) for one in report.passes],
        "drift_percent": _rounded(fmean(drifts), 2) if drifts else None,
        "fill_rush_percent": _rounded(report.rush_percent, 2),
        "fill_rush_error_percent": _rounded(report.rush_error_percent, 2),
        "landing_lag_ms": _mean(report.landing_ms),
        "landing_spread_ms": _deviation(report.landing_ms),
        "groove_spread_ms": _deviation(report.groove_ms),
        "fill_spread_ms": _deviation(report.fill_ms),
        "flams": [_grace(grace) for grace in report.graces],
        "rolls": [_roll(roll) for roll in report.rolls],
        "accent_db": _rounded(report.accent_db, 1),
        "ghost_db": _rounded(report.ghost_db, 1),
        "hands": _hands(report.hands),
        "words": list(words),
        "trust": {"level": trusted.level, "limits": list(trusted.limits)},
    }


def _rounded(value: float | None, places: int) -> float | None:
    return None if value is None else round(float(value), places) + 0.0  # no -0.0


def _mean(found: Statistics | None) -> float | None:
    return _rounded(found.mean, 1) if found else None


def _deviation(found: Statistics | None) -> float | None:
    return _rounded(found.deviation, 1) if found else None


def _place(stroke: StrokeReport) -> Plain:
    return {
        "time_s": _rounded(stroke.written_seconds, 4),
        "pass": stroke.turn,
        "bar": stroke.bar,
        "beat": _rounded(stroke.beat, 3),
        "surface": stroke.surface,
        "hand": stroke.hand,
        "grace": stroke.grace,
    }


def _stroke(stroke: StrokeReport) -> Plain:
    return {
        "pass": stroke.turn,
        "bar": stroke.bar,
        "beat": _rounded(stroke.beat, 3),
        "written_s": _rounded(stroke.written_seconds, 4),
        "played_s": _rounded(stroke.played_seconds, 4),
        "lag_ms": _rounded(stroke.lag_ms, 1),
        "outcome": stroke.outcome.value,
        "surface_written": stroke.surface,
        "surface_heard": stroke.surface_heard,
        "surface_sure": _rounded(stroke.surface_trust, 2),
        "hand": stroke.hand,
        "level": stroke.level.value,
        "level_db": _rounded(stroke.level_db, 1),
        "grace": stroke.grace,
        "fill": stroke.in_fill,
        "landing": stroke.landing,
    }


def _bar(bar: BarReport) -> Plain:
    return {
        "pass": bar.turn,
        "bar": bar.bar,
        "fill": bar.fill,
        "start_s": _rounded(bar.start_seconds, 4),
        "bpm": _rounded(bar.bpm, 2),
        "lag_ms": _mean(bar.lag),
        "spread_ms": _deviation(bar.lag),
    }


def _pass(one: RepetitionReport) -> Plain:
    return {
        "pass": one.turn,
        "start_s": _rounded(one.start_seconds, 4),
        "groove_bpm": _rounded(one.groove_bpm, 2),
        "drift_percent": _rounded(one.drift_percent, 2),
        "fill_rush_percent": _rounded(one.rush_percent, 2),
        "fill_rush_error_percent": _rounded(one.rush_error_percent, 2),
        "landing_lag_ms": _rounded(one.landing_lag_ms, 1),
    }


def _grace(grace: GraceReport) -> Plain:
    return {
        "pass": grace.turn,
        "bar": grace.bar,
        "beat": _rounded(grace.beat, 3),
        "surface": grace.surface,
        "kind": grace.kind,
        "place": grace.place,
        "written_gap_ms": _rounded(grace.written_gap_ms, 1),
        "gap_ms": _rounded(grace.gap_ms, 1),
    }


def _roll(roll: RollReport) -> Plain:
    return {
        "pass": roll.turn,
        "bar": roll.bar,
        "strokes": roll.strokes,
        "interval_ms": _mean(roll.interval_ms),
        "interval_spread_ms": _deviation(roll.interval_ms),
        "level_spread_db": _deviation(roll.level_db),
    }


def _hands(hands: HandsReport | None) -> Plain | None:
    if hands is None:
        return None
    return {
        "right": _hand(hands.right),
        "left": _hand(hands.left),
        "right_less_left": {
            **_difference("lag", "ms", hands.lag_ms),
            **_difference("level", "db", hands.level_db),
        },
        "pooled": hands.pooled,
    }


def _difference(what: str, unit: str, found: HandDifference | None) -> Plain:
    return {
        f"{what}_{unit}": _rounded(found.value, 1) if found else None,
        f"{what}_error_{unit}": _rounded(found.error, 1) if found else None,
    }


def _hand(hand: HandReport | None) -> Plain | None:
    if hand is None:
        return None
    level = hand.level_db
    return {
        "strokes": hand.lag_ms.count,
        "lag_ms": _mean(hand.lag_ms),
        "lag_error_ms": _rounded(hand.lag_ms.error, 1),
        "spread_ms": _deviation(hand.lag_ms),
        "level_db": _mean(level),
        "level_error_db": _rounded(level.error, 1) if level else None,
    }
