"""From a match to what is said of the take in numbers. Pure: the same match gives the same report.

Conventions: lags are milliseconds against the groove's own time, + late, − early; a rush is + when the fill is
faster than the groove. Means come with their spread and standard error. Grace notes count for flams and drags
and for nothing else.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise

from fillwright.listen.alignment.model import Match, Pass
from fillwright.listen.limits import limit
from fillwright.listen.onset_list import Heard
from fillwright.listen.report.measures import (
    measure_drift,
    measure_fill_unevenness,
    measure_graces,
    compare_hands,
    compare_with_taps,
    select_main_strokes,
    measure_rolls,
    summarise,
    average_by_certainty,
)
from fillwright.listen.report.model import BarReport, ExtraReport, RepetitionReport, Report, StrokeReport
from fillwright.listen.report.recognition import recognise_phrase
from fillwright.listen.written import Expected
from fillwright.music.stroke import Level

_DROWNED = ("wrong phrase", "too noisy")  # what an overdriven recording looks like


def build_report(expected: Expected, heard: Heard, match: Match) -> Report:
    """What is said of a take in numbers.

    Args:
        expected: what is written, at the tempo asked for.
        heard: what was heard.
        match: the two laid against each other.
    """
    clipped = heard.clipped_share > limit("recording.clipped_share")
    refused = match.refused or not match.passes
    bare = Report(
        refused=_reason(expected, heard, match, clipped=clipped) if refused else "",
        tempo_asked=expected.tempo,
        tempo_found=match.tempo_found,
        beat_ms=_beat_ms(expected),
        seconds=heard.seconds,
        clipped=clipped,
        share_matched=match.share_matched,
        from_midi=heard.from_midi,
    )
    if refused:
        return bare
    return recognise_phrase(_measured(bare, expected, heard, match)) or replace(bare, refused="wrong phrase")


def _measured(bare: Report, expected: Expected, heard: Heard, match: Match) -> Report:
    """A report with everything that is measured."""
    turns = list(enumerate(match.passes, start=1))
    strokes = tuple(
        stroke for turn, one in turns for stroke in _strokes(expected, one, turn, clipped=bare.clipped)
    )
    stray = [heard.onsets[index].seconds for index in match.extra]
    passes = tuple(_pass(expected, (turn, one), strokes, stray) for turn, one in turns)
    rush = average_by_certainty([(one.rush_percent, one.rush_error_percent) for one in passes])
    landings = [one.landing_lag_ms for one in passes if one.landing_lag_ms is not None]
    groove = [s.lag_ms for s in select_main_strokes(strokes) if not (s.in_fill or s.landing) and s.lag_ms is not None]
    return replace(
        bare,
        strokes=strokes,
        extra=_extras(heard, match),
        bars=tuple(bar for turn, one in turns for bar in _bars(expected, one, strokes, turn)),
        passes=passes,
        rush_percent=rush[0] if rush else None,
        rush_error_percent=rush[1] if rush else None,
        landing_ms=summarise(landings),
        groove_ms=summarise(groove),
        fill_ms=measure_fill_unevenness(strokes),
        graces=measure_graces(expected, strokes),
        rolls=measure_rolls(expected, strokes),
        accent_db=compare_with_taps(strokes, Level.ACCENT),
        ghost_db=compare_with_taps(strokes, Level.GHOST),
        hands=compare_hands(strokes),
    )


def _reason(expected: Expected, heard: Heard, match: Match, *, clipped: bool) -> str:
    """Why nothing is scored, in a word.

    What a match finds too short may be long enough and have too few strokes; an overdriven recording looks like
    noise, or like another phrase.
    """
    if clipped and match.refused in _DROWNED:
        return "clipped"
    if match.refused == "too short" and heard.seconds >= expected.strokes[-1].seconds:
        silent = len(heard.onsets) < limit("recording.silent_share") * len(expected.strokes)
        return "silence" if silent else "too few"
    return match.refused or "wrong phrase"


def _beat_ms(expected: Expected) -> float:
    """The commonest beat: in 7/8 two of three."""
    gaps = sorted(round((after - before) * 1000, 3) for before, after in pairwise(expected.beats))
    return gaps[(len(gaps) - 1) // 2] if gaps else 60_000 / expected.tempo


def _strokes(expected: Expected, one: Pass, turn: int, *, clipped: bool) -> list[StrokeReport]:
    places = _clock(expected, one)
    made = []
    for matched, place in zip(one.strokes, places, strict=True):
        written = expected.strokes[matched.written]
        main = expected.strokes[written.grace_of] if written.grace_of is not None else written
        made.append(
            StrokeReport(
                turn=turn,
                index=matched.written,
                bar=main.bar + 1,
                beat=_beat(expected, main.seconds, main.bar),
                surface=written.surface,
                hand=written.hand,
                level=written.level,
                in_fill=written.in_fill,
                landing=written.landing,
                grace=written.grace_of is not None,
                outcome=matched.outcome,
                written_seconds=place,
                played_seconds=matched.played_seconds,
                lag_ms=matched.lag_ms,
                surface_heard=matched.surface_heard,
                surface_trust=matched.surface_trust,
                level_db=None if clipped else matched.level_db,
            )
        )
    return made


def _beat(expected: Expected, seconds: float, bar: int) -> float:
    """A place as beats from 1 in its bar."""
    beats = expected.beats
    before = max(0, bisect_right(beats, seconds + 1e-6) - 1)
    first = max(0, bisect_right(beats, expected.bar_starts[bar] + 1e-6) - 1)
    later = beats[before + 1] if before + 1 < len(beats) else beats[before] + 60 / expected.tempo
    part = (seconds - beats[before]) / (later - beats[before])
    return round(before - first + 1 + part, 3)


def _clock(expected: Expected, one: Pass) -> list[float]:
    """Where each stroke of a pass is written, in seconds of the take, by the groove's own time.

    A stroke with a lag says so itself; the others go by the nearest of those at the groove's tempo.
    """
    scale = expected.tempo / one.groove_tempo if one.groove_tempo > 0 else 1.0
    known = [
        (expected.strokes[m.written].seconds, m.played_seconds - m.lag_ms / 1000)
        for m in one.strokes
        if m.played_seconds is not None and m.lag_ms is not None
    ]
    made = []
    for matched in one.strokes:
        at = expected.strokes[matched.written].seconds
        if matched.played_seconds is not None and matched.lag_ms is not None:
            made.append(matched.played_seconds - matched.lag_ms / 1000)
        elif known:
            near, place = min(known, key=lambda pair: abs(pair[0] - at))
            made.append(place + (at - near) * scale)
        else:
            made.append(matched.expected_seconds)
    return made


def _pass(
    expected: Expected, turned: tuple[int, Pass], strokes: Sequence[StrokeReport], stray: Sequence[float]
) -> RepetitionReport:
    turn, one = turned
    own = [stroke for stroke in select_main_strokes(strokes) if stroke.turn == turn]
    lags = [s.lag_ms for s in own if s.landing and s.lag_ms is not None]
    landing = summarise(lags) if _landing_is_sure(expected, one, stray) else None
    grooves = [bar.bpm for bar in _bars(expected, one, strokes, turn) if not bar.fill]
    return RepetitionReport(
        turn=turn,
        start_seconds=one.start_seconds,
        groove_bpm=one.groove_tempo,
        drift_percent=measure_drift(grooves),
        rush_percent=one.fill_rush_percent,
        rush_error_percent=one.fill_rush_error_percent,
        landing_lag_ms=landing.mean if landing else None,
    )


def _landing_is_sure(expected: Expected, one: Pass, stray: Sequence[float]) -> bool:
    """Whether what was taken for the landing is near its place, or no stroke beside it could be it as well."""
    for matched in one.strokes:
        written, place = expected.strokes[matched.written], matched.expected_seconds
        if not written.landing or written.grace_of is not None or matched.played_seconds is None:
            continue
        beat = 60 / one.groove_tempo
        far = abs(matched.played_seconds - place) * 1000 > limit("phrase.landing_ms")
        if far and any(abs(seconds - place) < beat / 2 for seconds in stray):
            return False
    return True


def _bars(expected: Expected, one: Pass, strokes: Sequence[StrokeReport], turn: int) -> list[BarReport]:
    """Bars that have a beginning and an end: the landing's has none."""
    made = []
    own = [stroke for stroke in select_main_strokes(strokes) if stroke.turn == turn]
    lengths = [after - before for before, after in pairwise(expected.bar_starts)]
    for number, (start, end) in enumerate(pairwise(one.bar_starts)):
        here = [stroke for stroke in own if stroke.bar == number + 1]
        if end <= start or not here or all(stroke.landing for stroke in here):
            continue
        made.append(
            BarReport(
                turn=turn,
                bar=number + 1,
                fill=any(stroke.in_fill for stroke in here),
                start_seconds=start,
                bpm=expected.tempo * lengths[number] / (end - start),
                lag=summarise([stroke.lag_ms for stroke in here if stroke.lag_ms is not None]),
            )
        )
    return made


def _extras(heard: Heard, match: Match) -> tuple[ExtraReport, ...]:
    made = []
    for index in match.extra:
        onset = heard.onsets[index]
        turn = max(
            (n for n, one in enumerate(match.passes, start=1) if one.bar_starts[0] <= onset.seconds), default=1
        )
        starts = match.passes[turn - 1].bar_starts
        bar = min(len(starts) - 1, max(1, bisect_right(starts, onset.seconds)))
        made.append(
            ExtraReport(
                turn=turn, bar=bar, seconds=onset.seconds, surface=onset.surface, level_db=onset.level_db
            )
        )
    return tuple(made)
