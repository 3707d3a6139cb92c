"""The numbers of a report as the sentences print them."""

from __future__ import annotations

from statistics import fmean

from fillwright.listen.report.measures import select_main_strokes, summarise
from fillwright.listen.report.mention import select_extra, select_missing
from fillwright.listen.report.model import Report, Statistics, StrokeReport

_SIDES = {True: ("right", "left"), False: ("left", "right")}
_SAME_BEAT = 0.02  # parts of a beat: rounding, and far below a 32nd note; ours
_COUNTS = {0.25: "e", 0.5: "&", 0.75: "a"}
"""Names of the sixteenths by part of the beat, as the trade counts them."""

_ORDINALS = ("first", "second", "third", "fourth", "fifth", "sixth", "seventh", "eighth", "ninth", "tenth")


def gather_values(report: Report) -> dict[str, str]:
    """Return the values for the gaps of a sentence, by name; unknown ones are left out."""
    values = {"target_tempo": f"{report.tempo_target:.0f}"}
    if report.tempo_found is not None:
        values["found_tempo"] = f"{report.tempo_found:.0f}"
    if report.tempo_played is not None:
        values["played_tempo"] = f"{report.tempo_played:.0f}"
    return values | _gather_counts(report) | _gather_times(report) | _gather_loudness(report)


def describe_place(report: Report, stroke: StrokeReport) -> str:
    """Return where a stroke is as it is counted: "on beat 2 of bar 4", "on the & of 2 in bar 4"."""
    beat = int(stroke.beat + _SAME_BEAT)
    part = stroke.beat - beat
    repetition = _describe_repetition(report, stroke.repetition)
    for part_of_count, count in _COUNTS.items():
        if abs(part - part_of_count) < _SAME_BEAT:
            return f"on the {count} of {beat} in bar {stroke.bar}{repetition}"
    return f"{'on' if part < _SAME_BEAT else 'just after'} beat {beat} of bar {stroke.bar}{repetition}"


def _describe_repetition(report: Report, repetition: int) -> str:
    if len(report.repetitions) < 2:
        return ""
    if repetition <= len(_ORDINALS):
        return f", {_ORDINALS[repetition - 1]} repetition"
    return f", repetition {repetition}"


def describe_stroke(stroke: StrokeReport) -> str:
    """Return a stroke in words: "the left hand on the snare"."""
    if stroke.grace:
        return f"the grace note on the {stroke.surface}"
    if stroke.hand in ("R", "L"):
        return f"the {'right' if stroke.hand == 'R' else 'left'} hand on the {stroke.surface}"
    return f"the {stroke.surface}"


def measure_flam_gap(report: Report) -> Statistics | None:
    """Return the width of the flams, in ms; None without flams."""
    return summarise([grace.gap_ms for grace in report.graces if grace.kind == "flam"])


def measure_tap_unevenness(report: Report) -> float | None:
    """Return the standard deviation of the loudness of taps in even rows, in dB; None without such rows."""
    deviations = [
        roll.loudness_db.deviation
        for roll in report.rolls
        if roll.loudness_db and roll.loudness_db.deviation is not None
    ]
    return fmean(deviations) if deviations else None


def _gather_counts(report: Report) -> dict[str, str]:
    mains = select_main_strokes(report.strokes)
    missing, extra = select_missing(report), select_extra(report)
    graces = [stroke for stroke in report.strokes if stroke.grace]
    values = {
        "strokes": str(len(mains)),
        "played": str(sum(stroke.played for stroke in mains)),
        "missing": str(len(missing)),
        "extra": str(len(extra)),
        "wrong": str(len(report.wrong_surface)),
        "graces": str(len(graces)),
        "missing_graces": str(sum(stroke.grace for stroke in report.missing)),
    }
    if missing:
        values |= {"stroke": describe_stroke(missing[0]), "place": describe_place(report, missing[0])}
    if report.wrong_surface:
        wrong = report.wrong_surface[0]
        values |= {
            "played_drum": wrong.surface_played,
            "written_drum": wrong.surface,
            "wrong_place": describe_place(report, wrong),
        }
    if extra:
        repetition = _describe_repetition(report, extra[0].repetition)
        values["extra_place"] = f"in bar {extra[0].bar}{repetition}"
    return values


def _gather_times(report: Report) -> dict[str, str]:
    values = {}
    if report.rush_percent is not None:
        values["rush"] = _percent(report.rush_percent)
    if report.landing_ms is not None:
        values["landing"] = f"{abs(report.landing_ms.mean):.0f}"
        values["landing_side"] = "late" if report.landing_ms.mean > 0 else "early"
    if report.drift_percent is not None:
        values["drift"] = _percent(report.drift_percent)
    if report.groove_ms is not None and report.groove_ms.deviation is not None:
        values["groove"] = f"{report.groove_ms.deviation:.0f}"
    if report.fill_ms is not None and report.fill_ms.deviation is not None:
        values["fill"] = f"{report.fill_ms.deviation:.0f}"
    flam = measure_flam_gap(report)
    if flam is not None:
        values["flam"] = f"{flam.mean:.0f}"
    return values


def _gather_loudness(report: Report) -> dict[str, str]:
    values = {}
    if report.accent_db is not None:
        values["accent"] = f"{report.accent_db:.0f}"
    taps = measure_tap_unevenness(report)
    if taps is not None:
        values["taps"] = f"{taps:.0f}"
    if report.hands is not None and report.hands.lag_ms is not None:
        lag = report.hands.lag_ms.value
        values["late_hand"], values["early_hand"] = _SIDES[lag > 0]
        values["hand_lag"] = f"{abs(lag):.0f}"
    if report.hands is not None and report.hands.loudness_db is not None:
        difference = report.hands.loudness_db.value
        values["loud_hand"], values["soft_hand"] = _SIDES[difference > 0]
        values["hand_loudness"] = f"{abs(difference):.0f}"
    return values


def _percent(value: float) -> str:
    """Return the size of a percentage without its sign: "3", "2.5"."""
    return f"{abs(value):.1f}".removesuffix(".0")
