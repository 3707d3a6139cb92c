"""The numbers of a report as a short table in words, for a page or a terminal."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from statistics import fmean

from fillwright.listen.report.facts import describe_place
from fillwright.listen.report.measures import select_main_strokes, summarise
from fillwright.listen.report.mention import select_missing
from fillwright.listen.report.model import Report
from fillwright.listen.report.stored.types import Row
from fillwright.listen.report.values.statistics import Statistics
from fillwright.listen.report.values.strokes import StrokeReport
from fillwright.listen.report.values.touch import HandDifference, HandsReport

_MOST_PLACES = 3  # missing strokes listed with their place; ours, so that the table stays short


def list_numbers(report: Report) -> tuple[Row, ...]:
    """Return the measured numbers line by line; nothing for a take that is not scored."""
    if report.refused:
        return ()
    parts = (_list_notes, _list_times, _list_touch, _list_hands)
    return tuple(row for list_part in parts for row in list_part(report))


def _list_notes(report: Report) -> Iterator[Row]:
    mains = select_main_strokes(report.strokes)
    yield "Strokes played", f"{sum(stroke.played for stroke in mains)} of {len(mains)}"
    missing = select_missing(report)
    if missing:
        yield "Missing", _list_places(report, missing)
    unsure = [stroke for stroke in report.missing if not stroke.grace and stroke not in missing]
    if unsure:
        yield "Perhaps missing", _list_places(report, unsure)
    graces = [stroke for stroke in report.strokes if stroke.grace]
    if graces:
        yield "Grace notes played", f"{sum(stroke.played for stroke in graces)} of {len(graces)}"
    not_audible = [stroke for stroke in report.not_audible if not stroke.grace]
    if not_audible:
        yield "Not audible", f"{len(not_audible)}, covered by louder strokes"
    if report.extra:
        first = f"bar {report.extra[0].bar}"
        yield (
            "Extra",
            f"1, in {first}" if len(report.extra) == 1 else f"{len(report.extra)}, the first in {first}",
        )
    wrong = report.wrong_surface
    if wrong:
        first = f"{wrong[0].surface_played} for {wrong[0].surface} {describe_place(report, wrong[0])}"
        yield "On another drum", first if len(wrong) == 1 else f"{len(wrong)}, the first: {first}"


def _list_places(report: Report, strokes: Sequence[StrokeReport]) -> str:
    places = [f"{stroke.surface} {describe_place(report, stroke)}" for stroke in strokes[:_MOST_PLACES]]
    more = len(strokes) - _MOST_PLACES
    return " – ".join(places) + (f" – and {more} more" if more > 0 else "")


def _list_times(report: Report) -> Iterator[Row]:
    if report.tempo_played is not None:
        yield "Tempo of the groove", f"{report.tempo_played:.1f} bpm, target {report.tempo_target:g} bpm"
    if report.drift_percent is not None:
        yield "End of the groove", _compare_tempo(report.drift_percent, "its start")
    if report.rush_percent is not None:
        yield "Tempo of the fill", _compare_tempo(report.rush_percent, "the groove")
    if report.landing_ms is not None:
        yield "Landing", _describe_lag(report.landing_ms.mean)
    if report.groove_ms is not None and report.groove_ms.deviation is not None:
        yield "Groove", f"uneven by {_ms(report.groove_ms.deviation)}"
    if report.fill_ms is not None and report.fill_ms.deviation is not None:
        yield "Fill", f"uneven by {_ms(report.fill_ms.deviation)}"
    if report.rolls:
        longest = max((roll.interval_ms for roll in report.rolls), key=lambda interval: interval.count)
        yield (
            "Longest run of strokes",
            f"{longest.count + 1} strokes, {longest.mean:.0f} ms apart{_uneven_by(longest)}",
        )


def _compare_tempo(percent: float, other: str) -> str:
    """Return a difference of tempo in words."""
    if round(percent, 1) == 0:
        return f"same tempo as {other}"
    return f"{abs(percent):.1f} % {'faster' if percent > 0 else 'slower'} than {other}"


def _describe_lag(lag_ms: float) -> str:
    if round(lag_ms) == 0:
        return "on the beat"
    return f"{abs(lag_ms):.0f} ms {'late' if lag_ms > 0 else 'early'}"


def _ms(deviation_ms: float) -> str:
    return f"{deviation_ms:.0f} ms" if deviation_ms >= 1 else "less than 1 ms"


def _uneven_by(statistics: Statistics) -> str:
    return f", uneven by {_ms(statistics.deviation)}" if statistics.deviation is not None else ""


def _list_touch(report: Report) -> Iterator[Row]:
    for kind, number, name in (
        ("flam", 1, "Flams"),
        ("drag", 1, "Drags, first grace note"),
        ("drag", 2, "Drags, second grace note"),
    ):
        graces = [grace for grace in report.graces if (grace.kind, grace.number) == (kind, number)]
        gap = summarise([grace.gap_ms for grace in graces])
        if gap is not None:
            written = fmean(grace.written_gap_ms for grace in graces)
            yield name, f"{gap.mean:.0f} ms ahead (written: {written:.0f} ms){_uneven_by(gap)}"
    if report.accent_db is not None:
        yield "Accents", _compare_loudness(report.accent_db, "taps")
    if report.ghost_db is not None:
        yield "Ghost notes", _compare_loudness(report.ghost_db, "taps")


def _compare_loudness(difference_db: float, other: str) -> str:
    """Return a difference of loudness in words."""
    if round(difference_db, 1) == 0:
        return f"as loud as the {other}"
    return f"{abs(difference_db):.1f} dB {'louder' if difference_db > 0 else 'softer'} than the {other}"


def _list_hands(report: Report) -> Iterator[Row]:
    hands = report.hands
    if hands is None:
        return
    if hands.lag_ms is not None:
        yield "Right hand", _compare_lags(hands.lag_ms, hands)
    if hands.loudness_db is not None:
        sure = hands.pooled or abs(hands.loudness_db.value) < _SAME_DB
        words = _compare_loudness(hands.loudness_db.value, "left hand")
        yield "Right-hand loudness", words if sure else f"{words}{_IN_THIS_TAKE}"
    for name, hand in (("Right hand alone", hands.right), ("Left hand alone", hands.left)):
        if hand and hand.lag_ms.deviation is not None:
            yield name, f"uneven by {_ms(hand.lag_ms.deviation)}"


_SAME_DB = 0.05  # printed as 0.0 dB
_IN_THIS_TAKE = " in this take"
"""Added to a difference of the hands that a single take can't show to be a habit."""


def _compare_lags(lag: HandDifference, hands: HandsReport) -> str:
    """Return which hand is later, in words."""
    if abs(lag.value) < 1:
        return "less than 1 ms from the left hand"
    words = f"{abs(lag.value):.0f} ms {'after' if lag.value > 0 else 'before'} the left hand"
    return words if hands.pooled else f"{words}{_IN_THIS_TAKE}"
