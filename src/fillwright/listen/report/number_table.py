"""The numbers of a report as a short table of words, for a page or a terminal."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from statistics import fmean

from fillwright.listen.report.facts import describe_place
from fillwright.listen.report.measures import select_main_strokes, summarise
from fillwright.listen.report.model import HandDifference, Report, Statistics, StrokeReport

_MOST_PLACES = 3

Row = tuple[str, str]
"""What is measured, and its value in words."""


def list_numbers(report: Report) -> tuple[Row, ...]:
    """What was measured, line by line; nothing of a take that is not scored."""
    if report.refused:
        return ()
    return tuple(row for find in (_notes, _time, _touch, _hands) for row in find(report))


def _notes(report: Report) -> Iterator[Row]:
    own = select_main_strokes(report.strokes)
    yield "Strokes", f"{sum(stroke.played for stroke in own)} of {len(own)} heard"
    missing = [stroke for stroke in report.missing if not stroke.grace]
    if missing:
        yield "Missing", _places(report, missing)
    graces = [stroke for stroke in report.strokes if stroke.grace]
    if graces:
        yield "Grace notes", f"{sum(stroke.played for stroke in graces)} of {len(graces)} heard"
    unheard = [stroke for stroke in report.unheard if not stroke.grace]
    if unheard:
        yield "Can't be heard", f"{len(unheard)}, too soft beside the others in this recording"
    if report.extra:
        yield "Not written", f"{len(report.extra)}, first in bar {report.extra[0].bar}"
    wrong = report.wrong_surface
    if wrong:
        told = f"{wrong[0].surface_heard} for {wrong[0].surface} {describe_place(report, wrong[0])}"
        yield "On another drum", told if len(wrong) == 1 else f"{len(wrong)}, first {told}"


def _places(report: Report, strokes: Sequence[StrokeReport]) -> str:
    told = [f"{stroke.surface} {describe_place(report, stroke)}" for stroke in strokes[:_MOST_PLACES]]
    more = f"; {len(strokes) - _MOST_PLACES} more" if len(strokes) > _MOST_PLACES else ""
    return "; ".join(told) + more


def _time(report: Report) -> Iterator[Row]:
    if report.tempo_played is not None:
        yield "Tempo", f"{report.tempo_played:.1f} in the groove, {report.tempo_asked:g} asked for"
    drifts = [one.drift_percent for one in report.passes if one.drift_percent is not None]
    if drifts:
        yield "Drift of the groove", _faster(fmean(drifts), " at its end")
    if report.rush_percent is not None:
        error = f", ± {report.rush_error_percent:.1f}" if report.rush_error_percent else ""
        yield "Fill against groove", _faster(report.rush_percent, error)
    if report.landing_ms is not None:
        yield "Landing", _side(report.landing_ms)
    groove, fill = _scatter(report.groove_ms), _scatter(report.fill_ms)
    if groove or fill:
        parts = [f"groove {groove}" if groove else "", f"fill {fill}" if fill else ""]
        yield "Scatter", ", ".join(part for part in parts if part)
    uneven = [roll.interval_ms for roll in report.rolls]
    if uneven:
        first = max(uneven, key=lambda roll: roll.count)
        yield (
            "Longest even row",
            f"{first.count + 1} strokes, {first.mean:.0f} ± {first.deviation or 0:.0f} ms apart",
        )


def _faster(percent: float, more: str) -> str:
    """A difference of tempo in words."""
    if round(percent, 1) == 0:
        return f"the same tempo{more}"
    return f"{abs(percent):.1f} % {'faster' if percent > 0 else 'slower'}{more}"


def _side(lag: Statistics) -> str:
    error = f", ± {lag.error:.0f}" if lag.error is not None else ""
    if round(lag.mean) == 0:
        return f"on the beat{error}{' ms' if error else ''}"
    return f"{abs(lag.mean):.0f} ms {'late' if lag.mean > 0 else 'early'}{error}"


def _scatter(lag: Statistics | None) -> str:
    return _ms(lag.deviation) if lag is not None and lag.deviation is not None else ""


def _ms(scatter_ms: float) -> str:
    return f"{scatter_ms:.0f} ms" if scatter_ms >= 1 else "less than 1 ms"


def _touch(report: Report) -> Iterator[Row]:
    for kind, place_of, name in (
        ("flam", 1, "Flams"),
        ("drag", 1, "Drags, first"),
        ("drag", 2, "Drags, second"),
    ):
        own = [grace for grace in report.graces if (grace.kind, grace.place) == (kind, place_of)]
        gap = summarise([grace.gap_ms for grace in own])
        if gap is not None:
            wide = f"{gap.mean:.0f} ms ahead"
            around = f" ± {gap.deviation:.0f}" if gap.deviation is not None else ""
            yield name, f"{wide}{around}, written {fmean(grace.written_gap_ms for grace in own):.0f}"
    if report.accent_db is not None:
        yield "Accents over taps", f"{_number(report.accent_db, 1)} dB"
    if report.ghost_db is not None:
        yield "Ghost notes over taps", f"{_number(report.ghost_db, 1)} dB"


def _hands(report: Report) -> Iterator[Row]:
    hands = report.hands
    if hands is None:
        return
    chance = "" if hands.pooled else ", may be chance"
    if hands.lag_ms is not None:
        none = abs(hands.lag_ms.value) < 1 and hands.lag_ms.error < 1
        told = "less than 1 ms" if none else f"{_signed(hands.lag_ms, 'ms')}{chance}"
        yield "Right hand against left", told
    if hands.level_db is not None:
        yield "Loudness, right against left", f"{_signed(hands.level_db, 'dB')}{chance}"
    sides = [(name, hand) for name, hand in (("right", hands.right), ("left", hands.left)) if hand]
    if sides:
        yield (
            "Scatter by hand",
            ", ".join(f"{name} {_ms(hand.lag_ms.deviation or 0.0)}" for name, hand in sides),
        )


def _signed(found: HandDifference, unit: str) -> str:
    return f"{_number(found.value, 1)} ± {_number(found.error, 1)} {unit}"


def _number(value: float, places: int) -> str:
    """A number with a true minus sign and no minus zero.

    >>> _number(-0.04, 1), _number(-2.35, 1)
    ('0.0', '−2.4')
    """
    return f"{round(value, places) + 0.0:.{places}f}".replace("-", "−")
