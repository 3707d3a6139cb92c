"""What to fix first: notes before time, time before touch, and nothing that no ear can hear."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from enum import Enum
from statistics import fmean

from fillwright.listen.limits import limit, noticed_ms
from fillwright.listen.report import mention as mentioned
from fillwright.listen.report.facts import measure_flam_gap, measure_tap_unevenness
from fillwright.listen.report.measures import select_main_strokes
from fillwright.listen.report.model import HandDifference, Report, Statistics, Swing


class Severity(Enum):
    """How much a fault asks of the tempo to go on at."""

    NONE = "nothing to fix"
    DETAIL = "to be minded at the same tempo"
    SOME = "slower"
    MUCH = "much slower"


Fault = tuple[str, Severity]
"""Key of the sentence, in `sentences.toml` under [fix], and its weight."""


def find_first_fault(report: Report) -> Fault:
    """The first thing to fix, or "nothing"."""
    fault = next((fault for find in _ORDER for fault in find(report)), ("nothing", Severity.NONE))
    heavy = fault[1] is Severity.SOME and _much(report)
    return (fault[0], Severity.MUCH) if heavy else fault


def is_rush_noticeable(report: Report) -> bool:
    """Whether the fill rushes or drags: surely, and by enough to be noticed where it ends."""
    rush, error = report.rush_percent, report.rush_error_percent
    if rush is None:
        return False
    sure = max(limit("time.rush_percent"), limit("time.sure_errors") * (error or 0.0))
    shift_ms = abs(rush) / 100 * _fill_ms(report)
    return abs(rush) > sure and shift_ms > noticed_ms(report.beat_ms)


def _fill_ms(report: Report) -> float:
    """How long the fill lasts up to the landing, or up to its last stroke."""
    places = [s.written_seconds for s in select_main_strokes(report.strokes) if s.turn == 1 and (s.in_fill or s.landing)]
    return (max(places) - min(places)) * 1000 if places else 0.0


def _much(report: Report) -> bool:
    own = select_main_strokes(report.strokes)
    missing = sum(not stroke.grace for stroke in report.missing)
    rush = abs(report.rush_percent or 0.0)
    return missing > limit("tempo.much_missing") * len(own) or rush >= limit("tempo.much_rush_percent")


def _swing(report: Report) -> Iterator[Fault]:
    if report.swing is Swing.STRAIGHT:
        yield "straight", Severity.DETAIL
    elif report.swing is Swing.SHUFFLE:
        yield "shuffled", Severity.DETAIL


def _missing_many(report: Report) -> Iterator[Fault]:
    """The landing, or more strokes than one."""
    missing = mentioned.select_missing(report)
    landings = [stroke for stroke in select_main_strokes(report.strokes) if stroke.landing]
    if landings and not report.doubtful and all(stroke in missing for stroke in landings):
        yield "missing_landing", Severity.SOME
    elif len(missing) > len(report.passes):
        yield "missing_some", Severity.SOME


def _wrong(report: Report) -> Iterator[Fault]:
    count = len(report.wrong_surface)
    if count:
        yield "wrong_one" if count == 1 else "wrong_some", Severity.SOME


def _rush(report: Report) -> Iterator[Fault]:
    if not is_rush_noticeable(report) or report.rush_percent is None:
        return
    rushes = report.rush_percent > 0
    key = "rush" if rushes else "drag"
    landing = report.landing_ms.mean if report.landing_ms else 0.0
    same_way = landing < 0 if rushes else landing > 0
    heard = abs(landing) > noticed_ms(report.beat_ms)
    yield key if same_way and heard else f"{key}_only", Severity.SOME


def _landing(report: Report) -> Iterator[Fault]:
    if report.landing_ms is None:
        return
    off = abs(report.landing_ms.mean)
    if off > max(noticed_ms(report.beat_ms), limit("time.landing_ms")) and _is_sure(report.landing_ms):
        yield "landing_off", Severity.SOME


def _missing_one(report: Report) -> Iterator[Fault]:
    count = len(mentioned.select_missing(report))
    if count:
        yield "missing_one" if count == 1 else "missing_some", Severity.SOME


def _extra(report: Report) -> Iterator[Fault]:
    count = len(mentioned.select_extra(report))
    if count:
        yield "extra_one" if count == 1 else "extra_some", Severity.SOME


def _drift(report: Report) -> Iterator[Fault]:
    drifts = [one.drift_percent for one in report.passes if one.drift_percent is not None]
    if drifts and abs(fmean(drifts)) > limit("time.drift_percent"):
        yield "drift_up" if fmean(drifts) > 0 else "drift_down", Severity.SOME


def _uneven(report: Report) -> Iterator[Fault]:
    if _scatters(report.fill_ms):
        yield "uneven", Severity.SOME
    if _scatters(report.groove_ms):
        yield "groove_uneven", Severity.SOME


def _graces(report: Report) -> Iterator[Fault]:
    graces = [stroke for stroke in report.strokes if stroke.grace]
    missing = sum(stroke.grace for stroke in report.missing)
    if missing >= limit("flam.least_missing") and missing * 2 >= len(graces):
        yield "missing_graces", Severity.DETAIL


def _flams(report: Report) -> Iterator[Fault]:
    gap = measure_flam_gap(report)
    if gap is None or gap.error is None:
        return
    chance = limit("time.sure_errors") * gap.error
    if gap.mean + chance < limit("flam.narrow_ms"):
        yield "flams_narrow", Severity.DETAIL
    elif gap.mean - chance > limit("flam.wide_ms"):
        yield "flams_wide", Severity.DETAIL


def _levels(report: Report) -> Iterator[Fault]:
    accents = report.accent_db
    if accents is not None and accents < limit("level.flat_accent_db"):
        yield "accents_upside" if accents < limit("level.heard_db") else "accents_flat", Severity.DETAIL
    taps = measure_tap_unevenness(report)
    if taps is not None and taps > limit("level.uneven_db"):
        yield "levels_uneven", Severity.DETAIL


def _hands(report: Report) -> Iterator[Fault]:
    hands = report.hands
    if hands is None or not hands.pooled:
        return
    if _is_told(hands.lag_ms, limit("time.shift_least_ms")):
        yield "hand_lag", Severity.DETAIL
    if _is_told(hands.level_db, limit("level.hands_db")):
        yield "hand_level", Severity.DETAIL


def _is_told(found: HandDifference | None, least: float) -> bool:
    """Whether a difference of the hands is heard, and sure."""
    return found is not None and abs(found.value) > max(least, limit("time.sure_errors") * found.error)


def _is_sure(found: Statistics) -> bool:
    """Whether a mean is no chance; of one value nobody knows, and it is told as it is."""
    return found.error is None or abs(found.mean) > limit("time.sure_errors") * found.error


def _scatters(scatter: Statistics | None) -> bool:
    return scatter is not None and scatter.deviation is not None and scatter.deviation > limit("time.uneven_ms")


_ORDER: tuple[Callable[[Report], Iterator[Fault]], ...] = (
    _swing,
    _missing_many,
    _wrong,
    _rush,
    _landing,
    _missing_one,
    _extra,
    _drift,
    _uneven,
    _graces,
    _flams,
    _levels,
    _hands,
)
