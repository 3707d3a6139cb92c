"""Praise for a take: the measure that is furthest inside its limit."""

from __future__ import annotations

from fillwright.listen.limits import calculate_noticeable_ms, get_limit
from fillwright.listen.report.facts import measure_flam_gap
from fillwright.listen.report.faults import is_rush_noticeable
from fillwright.listen.report.measures import select_main_strokes
from fillwright.listen.report.model import Report
from fillwright.listen.report.values.statistics import Statistics

_LEAST_STROKES = 8  # fewer don't show that someone plays evenly, or everything; ours
_COMPLETE = 0.35  # completeness is the least that is expected, so anything finer comes first; ours


def choose_praise(report: Report) -> str:
    """Return the key of the sentence, in `sentences.toml` under [good]."""
    margins = {
        "landing": _rate_landing(report),
        "fill_time": _rate_fill_time(report),
        "groove": _rate_evenness(report.groove_ms, get_limit("time.steady_ms")),
        "even": _rate_evenness(report.fill_ms, get_limit("time.steady_ms")),
        "flams": _rate_flams(report),
        "accents": _rate_accents(report),
        "complete": _rate_completeness(report),
    }
    key = max(margins, key=lambda name: margins[name])
    if margins[key] <= 0:
        return "most"
    exact = {
        "landing": report.landing_ms is not None and round(report.landing_ms.mean) == 0,
        "fill_time": report.rush_percent is not None and round(report.rush_percent, 1) == 0,
        "groove": _is_under_1_ms(report.groove_ms),
        "even": _is_under_1_ms(report.fill_ms),
    }
    return f"{key}_exact" if exact.get(key) else key


def _is_under_1_ms(lag: Statistics | None) -> bool:
    return lag is not None and lag.deviation is not None and lag.deviation < 1


def _rate_landing(report: Report) -> float:
    """Return how far the landing is inside what is noticed, 0 to 1; below 0 outside."""
    if report.landing_ms is None:
        return 0.0
    return 1 - abs(report.landing_ms.mean) / min(
        calculate_noticeable_ms(report.beat_ms), get_limit("time.landing_ms")
    )


def _rate_fill_time(report: Report) -> float:
    if report.rush_percent is None or is_rush_noticeable(report):
        return 0.0
    return 0.9 * (1 - abs(report.rush_percent) / get_limit("time.rush_percent"))


def _rate_evenness(lag: Statistics | None, most: float) -> float:
    if lag is None or lag.deviation is None or lag.count < _LEAST_STROKES:
        return 0.0
    return 1 - lag.deviation / most


def _rate_flams(report: Report) -> float:
    gap = measure_flam_gap(report)
    if gap is None or gap.deviation is None or gap.count < 3:
        return 0.0
    inside = get_limit("flam.narrow_ms") <= gap.mean <= get_limit("flam.wide_ms")
    return 1 - gap.deviation / get_limit("flam.alike_ms") if inside else 0.0


def _rate_accents(report: Report) -> float:
    if report.accent_db is None:
        return 0.0
    clear = get_limit("level.clear_accent_db")
    return min(0.8, (report.accent_db - clear) / clear)


def _rate_completeness(report: Report) -> float:
    mains = select_main_strokes(report.strokes)
    return _COMPLETE if len(mains) >= _LEAST_STROKES and all(stroke.played for stroke in mains) else 0.0
