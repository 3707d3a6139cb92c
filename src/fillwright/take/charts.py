"""Two small charts under a take's music: the tempo by bar, and the unevenness of each hand.

Lengths are in the engraver's units of 1/120 mm; all of them are ours.
"""

from __future__ import annotations

from collections.abc import Sequence

from fillwright.listen.report.measures import remove_rush, summarise
from fillwright.listen.report.model import Report
from fillwright.listen.report.values.strokes import BarReport
from fillwright.take import marks as mark

CHART_HEIGHT = 3300.0  # of both charts
_TITLE = 300.0  # baseline of a title below the top
_PLOT_TOP, _PLOT_HEIGHT = 620.0, 1900.0  # of the part with points
_LEAST_BPM = 3.0  # half the height of the tempo chart at least, in bpm; ours
_MOST_WORDS = 12  # bars that each get a number; more would overlap
_LEAST_MS, _STEP_MS = 20.0, 10.0  # least reach of the second chart, and its steps; ours


def draw_charts(report: Report, tempo: float, *, top: float, width: float) -> list[str]:
    """Return both charts side by side as SVG.

    Args:
        report: of the take.
        tempo: target in bpm.
        top: their y.
        width: of both together.
    """
    half = width * 0.46
    drawn = draw_tempo_chart(report.bars, tempo, top=top, width=half)
    drawn += draw_unevenness_chart(report, left=width - half, top=top, width=half)
    return drawn


def draw_tempo_chart(bars: Sequence[BarReport], tempo: float, *, top: float, width: float) -> list[str]:
    """Return the tempo of every bar of the take as SVG; bars with the fill have a hollow dot."""
    drawn = [mark.draw_text(0, top + _TITLE, "Tempo by bar", fill=mark.INK, size=300, serif=True)]
    if not bars:
        return drawn
    reach = max(_LEAST_BPM, max(abs(bar.bpm - tempo) for bar in bars) * 1.25)
    left, right = 900.0, width - 200
    middle = top + _PLOT_TOP + _PLOT_HEIGHT / 2

    def height(bpm: float) -> float:
        return middle - (bpm - tempo) / reach * _PLOT_HEIGHT / 2

    step = (right - left) / max(1, len(bars) - 1) if len(bars) > 1 else 0.0
    points = [(left + step * number, height(bar.bpm)) for number, bar in enumerate(bars)]
    drawn += [
        mark.draw_line(left - 350, middle, right + 200, middle, width=10, stroke=mark.RULE),
        mark.draw_text(left - 420, middle + 90, f"{tempo:g}", anchor="end", size=270),
        mark.draw_polyline(points, width=20, stroke=mark.INK),
    ]
    numbered = len(bars) <= _MOST_WORDS
    bottom = top + _PLOT_TOP + _PLOT_HEIGHT + 330
    for (x, y), bar in zip(points, bars, strict=True):
        drawn.append(
            mark.draw_ring(x, y, 72, stroke=mark.INK, width=24)
            if bar.fill
            else mark.draw_dot(x, y, 80, fill=mark.INK)
        )
        if numbered:
            above = bar.bpm >= tempo
            drawn.append(
                mark.draw_text(x, y + (-170 if above else 330), f"{bar.bpm:.1f}", anchor="middle", size=270)
            )
        if numbered or bar.bar == 1:
            drawn.append(mark.draw_text(x, bottom, f"{bar.bar}", anchor="middle", size=270))
    drawn.append(mark.draw_text(0, bottom, "bar", size=270))
    if any(bar.fill for bar in bars):
        drawn.append(mark.draw_text(2050, top + _TITLE, "hollow dot: fill", size=270))
    return drawn


def draw_unevenness_chart(report: Report, *, left: float, top: float, width: float) -> list[str]:
    """Return the strokes of the fill, early left and late right, a row for each hand; nothing without one."""
    if not any(stroke.in_fill for stroke in report.strokes):
        return []
    off = remove_rush(report.strokes)
    hands = [hand for hand in ("R", "L", "") if any(stroke.hand == hand for stroke, _ in off)]
    drawn = [mark.draw_text(left, top + _TITLE, "Strokes of the fill", fill=mark.INK, size=300, serif=True)]
    if not hands:
        drawn.append(mark.draw_text(left, top + _PLOT_TOP + 200, "too few strokes", size=270))
        return drawn
    drawn.append(mark.draw_text(left + 2700, top + _TITLE, "against its own tempo", size=270))
    reach = max(_LEAST_MS, *(abs(lag) for _, lag in off))
    reach = _STEP_MS * -(-reach // _STEP_MS)
    start, end = left + 900, left + width
    middle = (start + end) / 2

    def across(lag: float) -> float:
        return middle + lag / reach * (end - start) / 2

    row = _PLOT_HEIGHT / 2.4
    bottom = top + _PLOT_TOP + row * len(hands)
    drawn.append(mark.draw_line(middle, top + _PLOT_TOP - 60, middle, bottom, width=10, stroke=mark.RULE))
    for number, hand in enumerate(hands):
        y = top + _PLOT_TOP + row * (number + 0.5)
        shade = mark.choose_colour(hand)
        dash = mark.DASH if hand == "L" else ""
        drawn.append(mark.draw_line(start, y, end, y, width=7, stroke="#d9d3c7"))
        drawn.append(mark.draw_text(left, y + 95, hand or "hands", fill=shade, size=300, serif=bool(hand)))
        lags = [lag for stroke, lag in off if stroke.hand == hand]
        drawn += [
            mark.draw_line(across(lag), y - 120, across(lag), y + 120, width=22, stroke=shade) for lag in lags
        ]
        lag_of_hand = summarise(lags)
        if lag_of_hand and lag_of_hand.deviation is not None:
            mean, deviation = lag_of_hand.mean, lag_of_hand.deviation
            low, high = across(mean - deviation), across(mean + deviation)
            drawn.append(mark.draw_line(low, y + 215, high, y + 215, width=40, stroke=shade, dash=dash))
            drawn.append(mark.draw_line(across(mean), y + 150, across(mean), y + 280, width=40, stroke=shade))
    drawn += [
        mark.draw_text(across(value), bottom + 330, text, anchor=anchor, size=270)
        for value, text, anchor in (
            (-reach, f"{reach:g} ms early", "start"),
            (0, "0", "middle"),
            (reach, f"{reach:g} ms late", "end"),
        )
    ]
    return drawn
