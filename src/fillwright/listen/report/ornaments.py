"""Measures of grace notes and rolls."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from itertools import pairwise

from fillwright.listen.alignment.model import Outcome
from fillwright.listen.limits import get_limit
from fillwright.listen.report.measures import _SAME_INTERVAL_SECONDS, select_main_strokes, summarise
from fillwright.listen.report.values.strokes import StrokeReport
from fillwright.listen.report.values.touch import (
    GraceReport,
    RollReport,
)
from fillwright.listen.written import WrittenPhrase
from fillwright.music.stroke import Level


def measure_graces(phrase: WrittenPhrase, strokes: Sequence[StrokeReport]) -> tuple[GraceReport, ...]:
    """Return how far ahead each grace note was played, for those detected with their main note."""
    graces_of: dict[int, list[int]] = defaultdict(list)
    for index, written in enumerate(phrase.strokes):
        if written.grace_of is not None:
            graces_of[written.grace_of].append(index)
    by_index = {(stroke.repetition, stroke.index): stroke for stroke in strokes}
    reports = []
    for repetition in dict.fromkeys(stroke.repetition for stroke in strokes):
        for main_index, indices in graces_of.items():
            main = by_index.get((repetition, main_index))
            in_order = sorted(indices, key=lambda index: phrase.strokes[index].seconds)
            for number, index in enumerate(in_order, start=1):
                gap_ms = _measure_gap(by_index.get((repetition, index)), main)
                if main is None or gap_ms is None:
                    continue
                ahead = phrase.strokes[main_index].seconds - phrase.strokes[index].seconds
                reports.append(
                    GraceReport(
                        repetition=repetition,
                        bar=main.bar,
                        beat=main.beat,
                        surface=main.surface,
                        kind="flam" if len(indices) == 1 else "drag",
                        number=number,
                        written_gap_ms=ahead * 1000,
                        gap_ms=gap_ms,
                    )
                )
    return tuple(reports)


def _measure_gap(grace: StrokeReport | None, main: StrokeReport | None) -> float | None:
    """Return how far ahead of its main note a grace note was played, in ms; None if either is uncertain."""
    if grace is None or main is None or not grace.outcome is main.outcome is Outcome.PLAYED:
        return None
    if grace.played_seconds is None or main.played_seconds is None:
        return None
    return (main.played_seconds - grace.played_seconds) * 1000


def measure_rolls(phrase: WrittenPhrase, strokes: Sequence[StrokeReport]) -> tuple[RollReport, ...]:
    """Return the rows of the fill's strokes at one written interval, with how evenly they were played."""
    reports = []
    for repetition in dict.fromkeys(stroke.repetition for stroke in strokes):
        in_hands = [
            stroke
            for stroke in select_main_strokes(strokes)
            if stroke.repetition == repetition and stroke.in_fill and not stroke.hand.endswith("foot")
        ]
        for row in _cut_rows(phrase, in_hands):
            interval = summarise(_gaps_ms(row))
            if interval is None or interval.count + 1 < get_limit("roll.strokes"):
                continue
            taps = [
                stroke.loudness_db
                for stroke in row
                if stroke.level is Level.TAP and stroke.loudness_db is not None
            ]
            reports.append(
                RollReport(
                    repetition=repetition,
                    bar=row[0].bar,
                    strokes=len(row),
                    interval_ms=interval,
                    loudness_db=summarise(taps) if len(taps) >= get_limit("level.least_strokes") else None,
                )
            )
    return tuple(reports)


def _gaps_ms(row: Sequence[StrokeReport]) -> list[float]:
    """Return the played gaps between neighbours whose timing is certain, in ms."""
    return [
        (after.played_seconds - before.played_seconds) * 1000
        for before, after in pairwise(row)
        if before.lag_ms is not None and after.lag_ms is not None
        if before.played_seconds is not None and after.played_seconds is not None
    ]


def _cut_rows(phrase: WrittenPhrase, strokes: Sequence[StrokeReport]) -> list[list[StrokeReport]]:
    """Cut strokes into rows of one written interval each; two at once don't belong to a row."""
    rows: list[list[StrokeReport]] = []
    gap = -1.0
    for before, after in pairwise(strokes):
        now = phrase.strokes[after.index].seconds - phrase.strokes[before.index].seconds
        if rows and gap > 0 and abs(now - gap) < _SAME_INTERVAL_SECONDS:
            rows[-1].append(after)
        else:
            rows.append([before, after] if now > 0 else [])
            gap = now
    return [row for row in rows if len(row) >= get_limit("roll.strokes")]
