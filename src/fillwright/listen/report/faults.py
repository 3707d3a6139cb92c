"""The first thing to fix: notes before time, time before touch, and only what a listener can hear."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from enum import Enum

from fillwright.listen.alignment.model import BreakKind, Outcome
from fillwright.listen.limits import calculate_noticeable_ms, get_limit
from fillwright.listen.report.facts import (
    find_missing_drum,
    find_route_drum,
    find_turning_beat,
    measure_flam_gap,
    measure_tap_unevenness,
)
from fillwright.listen.report.measures import select_main_strokes
from fillwright.listen.report.mention import select_extra, select_missing
from fillwright.listen.report.model import Report
from fillwright.listen.report.values.statistics import Statistics, Swing
from fillwright.listen.report.values.touch import HandDifference


class Severity(Enum):
    """Severity of a fault: the tempo it asks for, the same or slower."""

    NONE = "nothing to fix"
    DETAIL = "same tempo"
    SOME = "slower"
    MUCH = "much slower"


Fault = tuple[str, Severity]
"""Key of the sentence, in `sentences.toml` under [fix], and its severity."""


def find_first_fault(report: Report) -> Fault:
    """Return the first thing to fix, or "nothing"."""
    fault = next((fault for find in _ORDER for fault in find(report)), ("nothing", Severity.NONE))
    heavy = fault[1] is Severity.SOME and _needs_much(report)
    return (fault[0], Severity.MUCH) if heavy else fault


def is_rush_noticeable(report: Report) -> bool:
    """Return True if the fill surely rushes or drags, and by enough to be noticed where it ends."""
    rush, error = report.rush_percent, report.rush_error_percent
    if rush is None:
        return False
    sure = max(get_limit("time.rush_percent"), get_limit("time.sure_errors") * (error or 0.0))
    shift_ms = abs(rush) / 100 * _measure_fill_length(report)
    return abs(rush) > sure and shift_ms > calculate_noticeable_ms(report.beat_ms)


def _measure_fill_length(report: Report) -> float:
    """Return the time from the first stroke of the fill to the landing, or to its last stroke, in ms."""
    mains = select_main_strokes(report.strokes)
    times = [s.written_seconds for s in mains if s.repetition == 1 and (s.in_fill or s.landing)]
    return (max(times) - min(times)) * 1000 if times else 0.0


def _needs_much(report: Report) -> bool:
    mains = select_main_strokes(report.strokes)
    missing = sum(not stroke.grace for stroke in report.missing)
    rush = abs(report.rush_percent or 0.0)
    many = missing > get_limit("tempo.much_missing") * len(mains)
    return many or rush >= get_limit("tempo.much_rush_percent")


def _find_swing(report: Report) -> Iterator[Fault]:
    if report.swing is Swing.STRAIGHT:
        yield "straight", Severity.DETAIL
    elif report.swing is Swing.SHUFFLE:
        yield "shuffled", Severity.DETAIL


def _find_breaks(report: Report) -> Iterator[Fault]:
    """Yield a place where the flow breaks, or an end of the phrase that is not in the take."""
    for flow_break in report.breaks:
        if flow_break.kind is BreakKind.STOPPED_EARLY:
            yield "stopped_early", Severity.SOME
        elif flow_break.kind is BreakKind.LEFT_OUT:
            yield "bar_left_out", Severity.DETAIL
        elif flow_break.kind is BreakKind.JOINED_LATE:
            yield "joined_late", Severity.DETAIL
        elif flow_break.in_fill:
            yield "stumbled", Severity.SOME
        elif flow_break.kind is BreakKind.CAME_EARLY:
            yield "came_early", Severity.SOME
        else:
            yield "waited", Severity.SOME


def _find_other_fill(report: Report) -> Iterator[Fault]:
    """Yield a fill of which too little is there, after a groove that is."""
    mains = select_main_strokes(report.strokes)
    fill = [stroke for stroke in mains if stroke.in_fill]
    groove = [stroke for stroke in mains if not (stroke.in_fill or stroke.landing)]
    absent = sum(stroke.outcome is Outcome.MISSING for stroke in fill)
    lost = sum(stroke.outcome is Outcome.MISSING for stroke in groove)
    much = absent >= get_limit("missing.other_fill_share") * len(fill)
    if fill and much and lost <= get_limit("missing.groove_share") * len(groove):
        yield "other_fill", Severity.SOME


def _find_missing_drum(report: Report) -> Iterator[Fault]:
    if find_missing_drum(report):
        yield "missing_drum", Severity.SOME


def _find_missing_many(report: Report) -> Iterator[Fault]:
    """Yield a missing landing, or more missing strokes than one in each repetition."""
    missing = select_missing(report)
    landings = [stroke for stroke in select_main_strokes(report.strokes) if stroke.landing]
    if landings and not report.doubtful and all(stroke in missing for stroke in landings):
        yield "missing_landing", Severity.SOME
    elif len(missing) > len(report.repetitions):
        yield "missing_some", Severity.SOME


def _find_wrong_drums(report: Report) -> Iterator[Fault]:
    count = len(report.wrong_surface)
    if find_route_drum(report):
        yield "wrong_route", Severity.SOME
    if count:
        yield "wrong_one" if count == 1 else "wrong_some", Severity.SOME


def _find_rush(report: Report) -> Iterator[Fault]:
    if not is_rush_noticeable(report) or report.rush_percent is None:
        return
    rushes = report.rush_percent > 0
    key = "rush" if rushes else "drag"
    if find_turning_beat(report):
        yield f"{key}_from", Severity.SOME
    landing = report.landing_ms.mean if report.landing_ms else 0.0
    same_way = landing < 0 if rushes else landing > 0
    noticeable = abs(landing) > calculate_noticeable_ms(report.beat_ms)
    yield key if same_way and noticeable else f"{key}_only", Severity.SOME


def _find_landing(report: Report) -> Iterator[Fault]:
    """Yield a landing off the player's own pulse, by more than is noticed and more than the error explains."""
    if report.pulse is None:
        return
    least_ms = max(calculate_noticeable_ms(report.beat_ms), get_limit("time.landing_ms"))
    if abs(report.pulse.lag_ms) > least_ms + get_limit("time.sure_errors") * report.pulse.error_ms:
        yield "landing_off", Severity.SOME


def _find_missing_one(report: Report) -> Iterator[Fault]:
    count = len(select_missing(report))
    if count:
        yield "missing_one" if count == 1 else "missing_some", Severity.SOME


def _find_extra(report: Report) -> Iterator[Fault]:
    count = len(select_extra(report))
    if count:
        yield "extra_one" if count == 1 else "extra_some", Severity.SOME


def _find_drift(report: Report) -> Iterator[Fault]:
    drift = report.drift_percent
    if drift is not None and abs(drift) > get_limit("time.drift_percent"):
        yield "drift_up" if drift > 0 else "drift_down", Severity.SOME


def _find_unevenness(report: Report) -> Iterator[Fault]:
    if _is_uneven(report.fill_ms):
        yield "uneven", Severity.SOME
    if _is_uneven(report.groove_ms):
        yield "groove_uneven", Severity.SOME


def _find_missing_graces(report: Report) -> Iterator[Fault]:
    graces = [stroke for stroke in report.strokes if stroke.grace]
    missing = sum(stroke.grace for stroke in report.missing)
    if missing >= get_limit("flam.least_missing") and missing * 2 >= len(graces):
        yield "missing_graces", Severity.DETAIL
    lost = sum(not stroke.played for stroke in graces)
    if lost >= get_limit("flam.least_missing") and lost > get_limit("flam.lost_share") * len(graces):
        yield "graces_not_heard", Severity.DETAIL


def _find_flams(report: Report) -> Iterator[Fault]:
    gap = measure_flam_gap(report)
    if gap is None or gap.error is None:
        return
    margin = get_limit("time.sure_errors") * gap.error
    if gap.mean + margin < get_limit("flam.narrow_ms"):
        yield "flams_narrow", Severity.DETAIL
    elif gap.mean - margin > get_limit("flam.wide_ms"):
        yield "flams_wide", Severity.DETAIL


def _find_dynamics(report: Report) -> Iterator[Fault]:
    accents = report.fill_accent_db if report.fill_accent_db is not None else report.accent_db
    if accents is not None and accents < get_limit("level.flat_accent_db"):
        yield "accents_upside" if accents < get_limit("level.heard_db") else "accents_flat", Severity.DETAIL
    taps = measure_tap_unevenness(report)
    if taps is not None and taps > get_limit("level.uneven_db"):
        yield "taps_uneven", Severity.DETAIL


def _find_hands(report: Report) -> Iterator[Fault]:
    hands = report.hands
    if hands is None or not hands.pooled:
        return
    if _is_noticeable(hands.lag_ms, get_limit("time.shift_least_ms")):
        yield "hand_lag", Severity.DETAIL
    if _is_noticeable(hands.loudness_db, get_limit("level.hands_db")):
        yield "hand_loudness", Severity.DETAIL


def _is_noticeable(difference: HandDifference | None, least: float) -> bool:
    """Return True if a difference of the hands is above a limit, and sure."""
    if difference is None:
        return False
    return abs(difference.value) > max(least, get_limit("time.sure_errors") * difference.error)


def _is_uneven(lag: Statistics | None) -> bool:
    return lag is not None and lag.deviation is not None and lag.deviation > get_limit("time.uneven_ms")


_ORDER: tuple[Callable[[Report], Iterator[Fault]], ...] = (
    _find_swing,
    _find_breaks,
    _find_other_fill,
    _find_missing_drum,
    _find_missing_many,
    _find_wrong_drums,
    _find_rush,
    _find_landing,
    _find_missing_one,
    _find_extra,
    _find_drift,
    _find_unevenness,
    _find_missing_graces,
    _find_flams,
    _find_dynamics,
    _find_hands,
)
"""Faults in the order in which they are fixed."""
