"""Judges of the time: flow, landing, tempo of the fill, target tempo, swing."""

from __future__ import annotations

from fillwright.listen.limits import calculate_noticeable_ms, get_limit
from fillwright.listen.report.stored.touch_records import BreakRecord
from fillwright.listen.verdict.evidence import (
    SHOWN,
    Evidence,
    Finding,
    find_hidden,
    is_played,
    mark_not_shown,
    mark_wrong,
)
from fillwright.listen.verdict.notes import NEARER

_BAR_UNKNOWN = "The recording begins in bar {bar}. Start it before you play."


def judge_flow(evidence: Evidence) -> Finding:
    """Return a finding on the flow: no stop, nothing left out, the whole phrase in the take."""
    for flow_break in evidence.record.breaks:
        if flow_break.kind == "joined late":
            return mark_not_shown(_BAR_UNKNOWN.format(bar=flow_break.bar))
        return mark_wrong(describe_break(flow_break))
    return SHOWN


def describe_break(flow_break: BreakRecord) -> str:
    """Return a break of the flow in words."""
    if flow_break.kind == "stopped early":
        return f"You stop in bar {flow_break.bar}. Play on to the landing."
    if flow_break.kind == "left out":
        return "You left out a bar of the groove."
    beats = abs(flow_break.beats)
    amount = (
        "half a beat"
        if abs(beats - 0.5) < 0.13
        else "one beat"
        if abs(beats - 1) < 0.13
        else f"{beats:.1f} beats"
    )
    places = {
        "before the fill": "before the fill",
        "before the landing": "before the landing",
        "fill": f"in the fill, before beat {int(flow_break.beat + 0.02)}",
        "groove": f"in bar {flow_break.bar} of the groove",
    }
    place = places[flow_break.place]
    return f"You {'wait' if flow_break.beats > 0 else 'come in early by'} {amount} {place}."


def judge_landing(evidence: Evidence) -> Finding:
    """Return a finding on the landing: there, and on the player's own pulse."""
    landing = evidence.landing
    hidden = find_hidden(landing)
    missing = [
        stroke
        for position, stroke in enumerate(landing)
        if stroke.outcome == "missing" and (evidence.exact or position not in hidden)
    ]
    if missing:
        if len(missing) == len(landing):
            return mark_wrong("The landing is missing.")
        return mark_wrong(f"The {missing[0].surface_written} of the landing is missing.")
    if not any(is_played(stroke) for stroke in landing):
        return mark_not_shown(f"The landing can't be heard in this take. {NEARER}")
    lag, error = evidence.record.landing_pulse_ms, evidence.record.landing_pulse_error_ms
    if lag is None or error is None:
        return mark_not_shown("The time of the landing can't be measured in this take. Play it once more.")
    beat_ms = 60_000 / evidence.record.tempo_target
    least = max(calculate_noticeable_ms(beat_ms), get_limit("time.landing_ms"))
    if abs(lag) > least + get_limit("time.sure_errors") * error:
        return mark_wrong(f"You land {abs(lag):.0f} ms {'late' if lag > 0 else 'early'}.")
    return SHOWN


def judge_time(evidence: Evidence) -> Finding:
    """Return a finding on the tempo of the fill and its unevenness."""
    record, allowed = evidence.record, evidence.tolerance
    rush, error = record.fill_rush_percent, record.fill_rush_error_percent
    sure = get_limit("time.sure_errors") * (error or 0.0)
    if rush is not None and abs(rush) > max(allowed.most_rush_percent, sure):
        return mark_wrong(f"The fill {'rushes' if rush > 0 else 'drags'} by {abs(rush):.1f} %.")
    unevenness = record.fill_unevenness_ms
    if unevenness is not None and unevenness > allowed.most_unevenness_ms:
        return mark_wrong(f"The fill is uneven by {unevenness:.0f} ms.")
    lags = [stroke.lag_ms for stroke in evidence.fill if stroke.lag_ms is not None]
    if len(lags) * 2 < len(evidence.fill):
        return mark_not_shown(f"Too few strokes of the fill can be timed. {NEARER}")
    share = sum(abs(lag) <= allowed.on_time_ms for lag in lags) / len(lags)
    if share < allowed.on_time_share:
        return mark_wrong(
            f"{share:.0%} of the fill's strokes are on time, within {allowed.on_time_ms:g} ms. "
            f"The goal is {allowed.on_time_share:.0%}."
        )
    if record.swing == "shuffle":
        return mark_wrong("The music has straight eighths, but you swung them.")
    return SHOWN


def judge_tempo(evidence: Evidence) -> Finding:
    """Return a finding on the tempo of the groove against the target."""
    played, target = evidence.record.tempo_played, evidence.record.tempo_target
    if played is None:
        return mark_not_shown("The tempo can't be measured in this take. Play the groove before the fill.")
    if abs(played / target - 1) * 100 > evidence.tolerance.most_tempo_percent:
        return mark_wrong(f"You played at {played:.0f} bpm. The target was {target:.0f} bpm.")
    return SHOWN


def judge_swing(evidence: Evidence) -> Finding:
    """Return a finding on swung eighths."""
    if evidence.record.swing == "straight":
        return mark_wrong("The music is a shuffle, but you played straight eighths.")
    return SHOWN
