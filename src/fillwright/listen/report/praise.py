"""What was good in a take: of everything that was, what stands furthest inside its limit."""

from __future__ import annotations

from fillwright.listen.limits import limit, noticed_ms
from fillwright.listen.report.facts import measure_flam_gap
from fillwright.listen.report.faults import is_rush_noticeable
from fillwright.listen.report.measures import select_main_strokes
from fillwright.listen.report.model import Report, Statistics

_LEAST_STROKES = 8
_COMPLETE = 0.35  # it is what is asked for; a finer thing is said first where there is one


def choose_praise(report: Report) -> str:
    """The key of the sentence, in `sentences.toml` under [good]."""
    found = {
        "landing": _landing(report),
        "fill_time": _fill_time(report),
        "groove": _within(report.groove_ms, limit("time.steady_ms")),
        "even": _within(report.fill_ms, limit("time.steady_ms")),
        "flams": _flams(report),
        "accents": _accents(report),
        "complete": _complete(report),
    }
    key = max(found, key=lambda name: found[name])
    if found[key] <= 0:
        return "most"
    exact = {
        "landing": report.landing_ms is not None and round(report.landing_ms.mean) == 0,
        "fill_time": report.rush_percent is not None and round(report.rush_percent, 1) == 0,
        "groove": _under_1_ms(report.groove_ms),
        "even": _under_1_ms(report.fill_ms),
    }
    return f"{key}_exact" if exact.get(key) else key


def _under_1_ms(scatter: Statistics | None) -> bool:
    return scatter is not None and scatter.deviation is not None and scatter.deviation < 1


def _landing(report: Report) -> float:
    """How far inside what is noticed, 0 to 1; below 0 outside."""
    if report.landing_ms is None:
        return 0.0
    return 1 - abs(report.landing_ms.mean) / min(noticed_ms(report.beat_ms), limit("time.landing_ms"))


def _fill_time(report: Report) -> float:
    if report.rush_percent is None or is_rush_noticeable(report):
        return 0.0
    return 0.9 * (1 - abs(report.rush_percent) / limit("time.rush_percent"))


def _within(scatter: Statistics | None, most: float) -> float:
    if scatter is None or scatter.deviation is None or scatter.count < _LEAST_STROKES:
        return 0.0
    return 1 - scatter.deviation / most


def _flams(report: Report) -> float:
    gap = measure_flam_gap(report)
    if gap is None or gap.deviation is None or gap.count < 3:
        return 0.0
    inside = limit("flam.narrow_ms") <= gap.mean <= limit("flam.wide_ms")
    return 1 - gap.deviation / limit("flam.alike_ms") if inside else 0.0


def _accents(report: Report) -> float:
    if report.accent_db is None:
        return 0.0
    clear = limit("level.clear_accent_db")
    return min(0.8, (report.accent_db - clear) / clear)


def _complete(report: Report) -> float:
    own = select_main_strokes(report.strokes)
    return _COMPLETE if len(own) >= _LEAST_STROKES and all(stroke.played for stroke in own) else 0.0
