"""The numbers of a report as a sentence says them."""

from __future__ import annotations

from statistics import fmean

from fillwright.listen.limits import limit
from fillwright.listen.report import mention as mentioned
from fillwright.listen.report.measures import select_main_strokes, summarise
from fillwright.listen.report.model import Report, Statistics, StrokeReport

_SIDES = {True: ("right", "left"), False: ("left", "right")}
_SAME_PLACE = 0.02
_COUNTS = {0.25: "e", 0.5: "&", 0.75: "a"}
_TURNS = ("first", "second", "third", "fourth", "fifth", "sixth", "seventh", "eighth", "ninth", "tenth")


def gather_values(report: Report) -> dict[str, str]:
    """Values for the gaps of a sentence, by name; what is unknown is left out."""
    asked = report.tempo_asked
    values = {"asked_tempo": f"{asked:.0f}", "slow_tempo": f"{asked * limit('tempo.much'):.0f}"}
    if report.tempo_found is not None:
        values["found_tempo"] = f"{report.tempo_found:.0f}"
    if report.tempo_played is not None:
        values["played_tempo"] = f"{report.tempo_played:.0f}"
    return values | _counts(report) | _times(report) | _levels(report)


def describe_place(report: Report, stroke: StrokeReport) -> str:
    """Where a stroke stands as it is counted: "on beat 2 of bar 4", "on the & of 2 in bar 4"."""
    beat = int(stroke.beat + _SAME_PLACE)
    part = stroke.beat - beat
    turn = _turn(report, stroke.turn)
    for place_of, word in _COUNTS.items():
        if abs(part - place_of) < _SAME_PLACE:
            return f"on the {word} of {beat} in bar {stroke.bar}{turn}"
    return f"{'on' if part < _SAME_PLACE else 'after'} beat {beat} of bar {stroke.bar}{turn}"


def _turn(report: Report, turn: int) -> str:
    if len(report.passes) < 2:
        return ""
    return f", the {_TURNS[turn - 1]} time" if turn <= len(_TURNS) else f", time {turn}"


def describe_stroke(stroke: StrokeReport) -> str:
    """A stroke in words: "the left hand's stroke on the snare"."""
    if stroke.grace:
        return f"the grace note on the {stroke.surface}"
    if stroke.hand in ("R", "L"):
        return f"the {'right' if stroke.hand == 'R' else 'left'} hand's stroke on the {stroke.surface}"
    return f"the stroke on the {stroke.surface}"


def measure_flam_gap(report: Report) -> Statistics | None:
    """Width of the flams."""
    return summarise([grace.gap_ms for grace in report.graces if grace.kind == "flam"])


def measure_tap_unevenness(report: Report) -> float | None:
    """How far the taps of even rows spread."""
    spreads = [
        roll.level_db.deviation
        for roll in report.rolls
        if roll.level_db and roll.level_db.deviation is not None
    ]
    return fmean(spreads) if spreads else None


def _counts(report: Report) -> dict[str, str]:
    own = select_main_strokes(report.strokes)
    missing, extra = mentioned.select_missing(report), mentioned.select_extra(report)
    graces = [stroke for stroke in report.strokes if stroke.grace]
    values = {
        "strokes": str(len(own)),
        "played": str(sum(stroke.played for stroke in own)),
        "missing": str(len(missing)),
        "extra": str(len(extra)),
        "wrong": str(len(report.wrong_surface)),
        "graces": str(len(graces)),
        "missing_graces": str(sum(stroke.grace for stroke in report.missing)),
    }
    if missing:
        values |= {"stroke": describe_stroke(missing[0]), "place": describe_place(report, missing[0])}
    for wrong in report.wrong_surface[:1]:
        values |= {"heard": wrong.surface_heard, "written": wrong.surface, "wrong_place": describe_place(report, wrong)}
    for first in extra[:1]:
        values["extra_place"] = f"in bar {first.bar}{_turn(report, first.turn)}"
    return values


def _times(report: Report) -> dict[str, str]:
    values = {}
    if report.rush_percent is not None:
        values["rush_abs"] = f"{abs(report.rush_percent):.1f}".removesuffix(".0")
    if report.landing_ms is not None:
        values["landing"] = f"{abs(report.landing_ms.mean):.0f}"
        values["landing_side"] = "late" if report.landing_ms.mean > 0 else "early"
    drifts = [one.drift_percent for one in report.passes if one.drift_percent is not None]
    if drifts:
        values["drift"] = f"{abs(fmean(drifts)):.1f}".removesuffix(".0")
    if report.groove_ms is not None and report.groove_ms.deviation is not None:
        values["groove"] = f"{report.groove_ms.deviation:.0f}"
    if report.fill_ms is not None and report.fill_ms.deviation is not None:
        values["scatter"] = f"{report.fill_ms.deviation:.0f}"
    flam = measure_flam_gap(report)
    if flam is not None:
        values["flam"] = f"{flam.mean:.0f}"
        if flam.deviation is not None:
            values["flam_spread"] = f"{flam.deviation:.0f}" if flam.deviation >= 1 else "less than 1"
    return values


def _levels(report: Report) -> dict[str, str]:
    values = {}
    if report.accent_db is not None:
        values["accent"] = f"{report.accent_db:.0f}"
    taps = measure_tap_unevenness(report)
    if taps is not None:
        values["tap_spread"] = f"{taps:.0f}"
    if report.hands is not None and report.hands.lag_ms is not None:
        lag = report.hands.lag_ms.value
        values["late_hand"], values["early_hand"] = _SIDES[lag > 0]
        values["hand_lag"] = f"{abs(lag):.0f}"
    if report.hands is not None and report.hands.level_db is not None:
        level = report.hands.level_db.value
        values["loud_hand"], values["soft_hand"] = _SIDES[level > 0]
        values["hand_level"] = f"{abs(level):.0f}"
    return values
