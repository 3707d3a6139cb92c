"""From the alignment of a take to the report in numbers. Pure: the same alignment gives the same report.

Conventions: lags are milliseconds against the groove's own tempo, + late, − early. A rush is + if the fill is
faster than the groove. Means come with standard deviation and standard error. Grace notes count for flams and
drags only.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise

from fillwright.listen.alignment.model import Alignment, Repetition
from fillwright.listen.detected_take import DetectedTake
from fillwright.listen.limits import get_limit
from fillwright.listen.report.hands import compare_hands, compare_with_taps
from fillwright.listen.report.measures import (
    average_by_certainty,
    measure_drift,
    measure_fill_unevenness,
    select_main_strokes,
    summarise,
)
from fillwright.listen.report.model import RepetitionReport, Report
from fillwright.listen.report.ornaments import measure_graces, measure_rolls
from fillwright.listen.report.pulse import average_pulse, measure_pulse
from fillwright.listen.report.recognition import recognise_phrase
from fillwright.listen.report.values.strokes import BarReport, ExtraReport, StrokeReport
from fillwright.listen.report.values.touch import BreakReport
from fillwright.listen.written import WrittenPhrase
from fillwright.music.stroke import Level

_DROWNED = ("wrong phrase", "too noisy")  # what an overdriven recording looks like

Numbered = tuple[int, Repetition]
"""A repetition with its number, from 1."""


def build_report(phrase: WrittenPhrase, detected: DetectedTake, alignment: Alignment) -> Report:
    """Return the report on a take in numbers.

    Args:
        phrase: the written strokes, at the target tempo.
        detected: the onsets of the recording.
        alignment: the alignment of the two.
    """
    clipped = detected.clipped_share > get_limit("recording.clipped_share")
    refused = alignment.refused or not alignment.repetitions
    empty = Report(
        refused=_name_refusal(phrase, detected, alignment, clipped=clipped) if refused else "",
        tempo_target=phrase.tempo,
        tempo_found=alignment.tempo_found,
        beat_ms=_beat_ms(phrase),
        seconds=detected.seconds,
        clipped=clipped,
        share_matched=alignment.share_matched,
        from_midi=detected.from_midi,
        surfaces_from=alignment.surfaces_from,
    )
    if refused:
        return empty
    return recognise_phrase(_measure(empty, phrase, detected, alignment)) or replace(
        empty, refused="wrong phrase"
    )


def _measure(empty: Report, phrase: WrittenPhrase, detected: DetectedTake, alignment: Alignment) -> Report:
    """Return the report with everything measured."""
    numbered: list[Numbered] = list(enumerate(alignment.repetitions, start=1))
    strokes = tuple(
        stroke for pair in numbered for stroke in _report_strokes(phrase, pair, clipped=empty.clipped)
    )
    stray = [detected.onsets[index].seconds for index in alignment.extra]
    repetitions = tuple(_report_repetition(phrase, pair, strokes, stray) for pair in numbered)
    rush = average_by_certainty(
        [(repetition.rush_percent, repetition.rush_error_percent) for repetition in repetitions]
    )
    landings = [
        repetition.landing_lag_ms for repetition in repetitions if repetition.landing_lag_ms is not None
    ]
    groove = [
        stroke.lag_ms
        for stroke in select_main_strokes(strokes)
        if not (stroke.in_fill or stroke.landing) and stroke.lag_ms is not None
    ]
    return replace(
        empty,
        strokes=strokes,
        extra=_report_extra(detected, alignment),
        bars=tuple(bar for pair in numbered for bar in _report_bars(phrase, pair, strokes)),
        repetitions=repetitions,
        rush_percent=rush[0] if rush else None,
        rush_error_percent=rush[1] if rush else None,
        landing_ms=summarise(landings),
        groove_ms=summarise(groove),
        fill_ms=measure_fill_unevenness(strokes),
        graces=measure_graces(phrase, strokes),
        rolls=measure_rolls(phrase, strokes),
        accent_db=compare_with_taps(strokes, Level.ACCENT),
        ghost_db=compare_with_taps(strokes, Level.GHOST),
        hands=compare_hands(strokes),
        pulse=average_pulse(repetition.pulse for repetition in repetitions),
        breaks=tuple(flow_break for pair in numbered for flow_break in _report_breaks(phrase, pair)),
        fill_accent_db=compare_with_taps([stroke for stroke in strokes if stroke.in_fill], Level.ACCENT),
    )


def _name_refusal(phrase: WrittenPhrase, detected: DetectedTake, alignment: Alignment, *, clipped: bool) -> str:
    """Return why nothing is scored, in a word.

    A take that the alignment calls too short may be long enough and have too few strokes. An overdriven
    recording looks like noise, or like another phrase.
    """
    if clipped and alignment.refused in _DROWNED:
        return "clipped"
    if alignment.refused == "too short" and detected.seconds >= phrase.strokes[-1].seconds:
        silent = len(detected.onsets) < get_limit("recording.silent_share") * len(phrase.strokes)
        return "silence" if silent else "too few"
    return alignment.refused or "wrong phrase"


def _beat_ms(phrase: WrittenPhrase) -> float:
    """Return the length of the commonest beat: in 7/8 two beats of three have it."""
    gaps = sorted(round((after - before) * 1000, 3) for before, after in pairwise(phrase.beats))
    return gaps[(len(gaps) - 1) // 2] if gaps else 60_000 / phrase.tempo


def _report_strokes(phrase: WrittenPhrase, numbered: Numbered, *, clipped: bool) -> list[StrokeReport]:
    number, repetition = numbered
    reports = []
    for matched, written_seconds in zip(repetition.strokes, _time_strokes(phrase, repetition), strict=True):
        written = phrase.strokes[matched.written]
        main = phrase.strokes[written.grace_of] if written.grace_of is not None else written
        reports.append(
            StrokeReport(
                repetition=number,
                index=matched.written,
                bar=main.bar + 1,
                beat=_count_beat(phrase, main.seconds, main.bar),
                surface=written.surface,
                hand=written.hand,
                level=written.level,
                in_fill=written.in_fill,
                landing=written.landing,
                grace=written.grace_of is not None,
                outcome=matched.outcome,
                written_seconds=written_seconds,
                played_seconds=matched.played_seconds,
                lag_ms=matched.lag_ms,
                surface_played=matched.surface_played,
                surface_confidence=matched.surface_confidence,
                loudness_db=None if clipped else matched.loudness_db,
            )
        )
    return reports


def _count_beat(phrase: WrittenPhrase, seconds: float, bar: int) -> float:
    """Return the beat at a time of the phrase, from 1 in its bar."""
    beats = phrase.beats
    before = max(0, bisect_right(beats, seconds + 1e-6) - 1)
    first = max(0, bisect_right(beats, phrase.bar_starts[bar] + 1e-6) - 1)
    later = beats[before + 1] if before + 1 < len(beats) else beats[before] + 60 / phrase.tempo
    part = (seconds - beats[before]) / (later - beats[before])
    return round(before - first + 1 + part, 3)


def _time_strokes(phrase: WrittenPhrase, repetition: Repetition) -> list[float]:
    """Return the time of each written stroke of a repetition, in seconds of the take, by the groove's tempo.

    A stroke with a lag gives its own time. The others go by the nearest of those, at the groove's tempo.
    """
    scale = phrase.tempo / repetition.groove_tempo if repetition.groove_tempo > 0 else 1.0
    known = [
        (phrase.strokes[matched.written].seconds, matched.played_seconds - matched.lag_ms / 1000)
        for matched in repetition.strokes
        if matched.played_seconds is not None and matched.lag_ms is not None
    ]
    times = []
    for matched in repetition.strokes:
        at = phrase.strokes[matched.written].seconds
        if matched.played_seconds is not None and matched.lag_ms is not None:
            times.append(matched.played_seconds - matched.lag_ms / 1000)
        elif known:
            near, near_seconds = min(known, key=lambda pair: abs(pair[0] - at))
            times.append(near_seconds + (at - near) * scale)
        else:
            times.append(matched.expected_seconds)
    return times


def _report_repetition(
    phrase: WrittenPhrase, numbered: Numbered, strokes: Sequence[StrokeReport], stray: Sequence[float]
) -> RepetitionReport:
    number, repetition = numbered
    landings = [
        stroke.lag_ms
        for stroke in select_main_strokes(strokes)
        if stroke.repetition == number and stroke.landing and stroke.lag_ms is not None
    ]
    sure = _is_landing_sure(phrase, repetition, stray)
    landing = summarise(landings) if sure else None
    last_break = max((flow_break.written_seconds for flow_break in repetition.breaks), default=-1.0)
    own = [stroke for stroke in strokes if stroke.repetition == number]
    grooves = [bar.bpm for bar in _report_bars(phrase, numbered, strokes) if not bar.fill]
    return RepetitionReport(
        repetition=number,
        start_seconds=repetition.start_seconds,
        groove_bpm=repetition.groove_tempo,
        drift_percent=measure_drift(grooves),
        rush_percent=repetition.fill_rush_percent,
        rush_error_percent=repetition.fill_rush_error_percent,
        landing_lag_ms=landing.mean if landing else None,
        pulse=measure_pulse(phrase, own, last_break) if sure else None,
    )


def _report_breaks(phrase: WrittenPhrase, numbered: Numbered) -> list[BreakReport]:
    """Return the breaks of a repetition's flow, each at the stroke after it."""
    number, repetition = numbered
    mains = [stroke for stroke in phrase.strokes if stroke.grace_of is None]
    fill = [stroke.seconds for stroke in mains if stroke.in_fill]
    reports = []
    for flow_break in repetition.breaks:
        at = next(
            (stroke for stroke in mains if stroke.seconds >= flow_break.written_seconds - 1e-6), mains[-1]
        )
        starts_fill = bool(fill) and abs(at.seconds - fill[0]) < 1e-6
        reports.append(
            BreakReport(
                repetition=number,
                bar=at.bar + 1,
                beat=_count_beat(phrase, at.seconds, at.bar),
                kind=flow_break.kind,
                beats=flow_break.seconds * repetition.groove_tempo / 60,
                in_fill=at.in_fill and not starts_fill,
                before_fill=starts_fill,
                before_landing=at.landing,
            )
        )
    return reports


def _is_landing_sure(phrase: WrittenPhrase, repetition: Repetition, stray: Sequence[float]) -> bool:
    """Return True if the landing is near its place, or no stray stroke next to it could be it as well."""
    for matched in repetition.strokes:
        written = phrase.strokes[matched.written]
        if not written.landing or written.grace_of is not None or matched.played_seconds is None:
            continue
        at = matched.expected_seconds
        beat = 60 / repetition.groove_tempo
        far = abs(matched.played_seconds - at) * 1000 > get_limit("phrase.landing_ms")
        if far and any(abs(seconds - at) < beat / 2 for seconds in stray):
            return False
    return True


def _report_bars(phrase: WrittenPhrase, numbered: Numbered, strokes: Sequence[StrokeReport]) -> list[BarReport]:
    """Return the bars that have a beginning and an end; the landing's bar has no end."""
    number, repetition = numbered
    reports = []
    mains = [stroke for stroke in select_main_strokes(strokes) if stroke.repetition == number]
    lengths = [after - before for before, after in pairwise(phrase.bar_starts)]
    for bar, (start, end) in enumerate(pairwise(repetition.bar_starts)):
        here = [stroke for stroke in mains if stroke.bar == bar + 1]
        if end <= start or not here or all(stroke.landing for stroke in here):
            continue
        reports.append(
            BarReport(
                repetition=number,
                bar=bar + 1,
                fill=any(stroke.in_fill for stroke in here),
                start_seconds=start,
                bpm=phrase.tempo * lengths[bar] / (end - start),
                lag=summarise([stroke.lag_ms for stroke in here if stroke.lag_ms is not None]),
            )
        )
    return reports


def _report_extra(detected: DetectedTake, alignment: Alignment) -> tuple[ExtraReport, ...]:
    reports = []
    for index in alignment.extra:
        onset = detected.onsets[index]
        first_bars = [repetition.bar_starts[0] for repetition in alignment.repetitions]
        number = max(1, bisect_right(first_bars, onset.seconds))
        starts = alignment.repetitions[number - 1].bar_starts
        bar = min(len(starts) - 1, max(1, bisect_right(starts, onset.seconds)))
        reports.append(
            ExtraReport(
                repetition=number,
                bar=bar,
                seconds=onset.seconds,
                surface=onset.surface,
                loudness_db=onset.loudness_db,
            )
        )
    return tuple(reports)
