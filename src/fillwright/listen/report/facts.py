"""The numbers of a report as the sentences print them."""

from __future__ import annotations

from collections import Counter
from statistics import fmean

import numpy as np
import numpy.typing as npt

from fillwright.listen.alignment.model import Outcome
from fillwright.listen.limits import get_limit
from fillwright.listen.report.measures import select_main_strokes, summarise
from fillwright.listen.report.mention import select_extra, select_missing
from fillwright.listen.report.model import Report
from fillwright.listen.report.values.statistics import Statistics
from fillwright.listen.report.values.strokes import StrokeReport

_SIDES = {True: ("right", "left"), False: ("left", "right")}
_SAME_BEAT = 0.02  # parts of a beat: rounding, and far below a 32nd note; ours
_NEAR_BEATS = 0.13  # parts of a beat: a player who waits half a beat waits about that; ours
_LEAST_TURNING = 8  # strokes of a fill that can show where its tempo goes wrong; ours
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
    return (
        values
        | _gather_counts(report)
        | _gather_times(report)
        | _gather_loudness(report)
        | _gather_breaks(report)
    )


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


def find_missing_drum(report: Report) -> str:
    """Return a drum or cymbal that is missing from the groove; "" if there is none."""
    total, missing = Counter[str](), Counter[str]()
    for stroke in select_main_strokes(report.strokes):
        if not (stroke.in_fill or stroke.landing):
            total[stroke.surface] += 1
            missing[stroke.surface] += stroke.outcome is Outcome.MISSING
    share = get_limit("missing.drum_share")
    names = [name for name, count in total.items() if count > 1 and missing[name] >= share * count]
    return names[0] if names and len(names) < len(total) else ""


def find_route_drum(report: Report) -> str:
    """Return the drum on which a fill stayed that goes round the kit; "" if it did not."""
    fill = [stroke for stroke in select_main_strokes(report.strokes) if stroke.in_fill]
    wrong = Counter(stroke.surface_played for stroke in fill if stroke.on_wrong_drum)
    for name, count in wrong.most_common(1):
        away = sum(stroke.surface != name for stroke in fill)
        if count > 2 and count >= get_limit("missing.route_share") * away:
            return name
    return ""


def find_turning_beat(report: Report) -> int:
    """Return the beat of the fill from which its tempo goes wrong; 0 if it does so from the start, or nowhere.

    A line through the lags that bends at that beat must explain them much better than a straight one.
    """
    points = [
        (stroke.bar, stroke.beat, stroke.lag_ms)
        for stroke in select_main_strokes(report.strokes)
        if stroke.in_fill and stroke.lag_ms is not None
    ]
    bars = {bar for bar, _, _ in points}
    if len(bars) != 1 or len(points) < _LEAST_TURNING:
        return 0
    beats = np.array([beat for _, beat, _ in points])
    lags = np.array([lag for _, _, lag in points])
    start = float(beats.min())
    straight = _measure_residual(beats - start, lags)
    best, turning = get_limit("time.turning_share") * straight, 0
    for beat in range(int(start) + 1, int(beats.max()) + 1):
        bent = _measure_residual(np.maximum(beats - beat, 0.0), lags)
        if bent < best:
            best, turning = bent, beat
    return turning


def _measure_residual(places: npt.NDArray[np.float64], values: npt.NDArray[np.float64]) -> float:
    """Return the sum of squares that a line leaves of some values."""
    design = np.column_stack([np.ones(len(places)), places])
    fitted = design @ np.linalg.lstsq(design, values, rcond=None)[0]
    return float(np.square(values - fitted).sum())


def describe_beats(beats: float) -> str:
    """Return a number of beats in words: "half a beat", "one beat", "1.3 beats".

    >>> describe_beats(0.52), describe_beats(-1.0), describe_beats(1.31)
    ('half a beat', 'one beat', '1.3 beats')
    """
    size = abs(beats)
    for value, words in ((0.5, "half a beat"), (1.0, "one beat"), (2.0, "two beats")):
        if abs(size - value) < _NEAR_BEATS:
            return words
    return f"{size:.1f} beats"


def _gather_breaks(report: Report) -> dict[str, str]:
    values = {"drum": find_missing_drum(report), "route_drum": find_route_drum(report)}
    fill = [stroke for stroke in select_main_strokes(report.strokes) if stroke.in_fill]
    away = [stroke.surface for stroke in fill if stroke.surface != values["route_drum"]]
    values |= {
        "route": " and ".join(dict.fromkeys(away)),
        "fill_strokes": str(len(fill)),
        "fill_played": str(sum(stroke.played for stroke in fill)),
        "turning": str(find_turning_beat(report)),
        "heard_graces": str(sum(stroke.played for stroke in report.strokes if stroke.grace)),
    }
    if report.breaks:
        first = report.breaks[0]
        place = f"in bar {first.bar}{_describe_repetition(report, first.repetition)}"
        if first.before_fill:
            place = "before the fill"
        elif first.before_landing:
            place = "before the landing"
        values |= {
            "break": describe_beats(first.beats),
            "break_place": place,
            "break_bar": str(first.bar),
            "break_beat": str(int(first.beat + _SAME_BEAT)),
        }
    return values


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
    if report.pulse is not None:
        values["pulse"] = f"{abs(report.pulse.lag_ms):.0f}"
        values["pulse_side"] = "late" if report.pulse.lag_ms > 0 else "early"
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
    accents = report.fill_accent_db if report.fill_accent_db is not None else report.accent_db
    if accents is not None:
        values["accent"] = f"{accents:.0f}"
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
