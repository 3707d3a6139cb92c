"""The ruler over a line of music: a row for each limb, a line for each stroke, a tick where it was played."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from statistics import fmean

from fillwright.listen.alignment.model import Outcome
from fillwright.listen.report.model import Report
from fillwright.listen.report.values.strokes import ExtraReport, StrokeReport
from fillwright.take import marks as mark

ROW = 470
"""Distance of two rows, in the engraver's units; ours."""

_LABELS = {"R": "R", "L": "L", "": "hands", "right foot": "foot", "left foot": "left foot"}
_SCALES_MS = (4.0, 6.0, 8.0, 12.0, 16.0, 24.0, 32.0, 48.0)  # that one millimetre may stand for; ours
_LIMB_ORDER = tuple(_LABELS)
_ROOM = 0.75  # share of the way to the next stroke's line that a tick may take; ours
_LEAST_ROOM = 360.0  # room of a tick next to a near neighbour, in the engraver's units; ours


@dataclass(frozen=True, slots=True, kw_only=True)
class Ruler:
    """The rows and the scale that all lines of a picture share.

    Attributes:
        limbs: those that play, from the top row down.
        ms_per_mm: scale of the ticks.
    """

    limbs: tuple[str, ...]
    ms_per_mm: float

    @property
    def height(self) -> float:
        """Height of the rows of the limbs, in the engraver's units."""
        return ROW * len(self.limbs)

    def units(self, lag_ms: float) -> float:
        """Return a lag as a distance on paper, in the engraver's units."""
        return lag_ms / self.ms_per_mm * mark.PER_MM


def fit_ruler(report: Report, lines: Sequence[Mapping[int, float]]) -> Ruler:
    """Return the ruler on which nearly every tick has room before its neighbour's line.

    Args:
        report: of the take.
        lines: for each line of music, x of each written stroke's note, in the engraver's units.
    """
    mains = [stroke for stroke in report.strokes if not stroke.grace]
    limbs = tuple(limb for limb in _LIMB_ORDER if any(stroke.hand == limb for stroke in mains))
    room: dict[int, float] = {}
    for places in lines:
        for limb in limbs:
            row = sorted(
                {places[s.index]: s.index for s in mains if s.hand == limb and s.index in places}.items()
            )
            for (left, index), (right, after) in pairwise(row):
                room[index] = min(room.get(index, right - left), right - left)
                room[after] = right - left
    lags = [
        abs(stroke.lag_ms) / max(_LEAST_ROOM, _ROOM * room.get(stroke.index, 1200.0))
        for stroke in mains
        if stroke.lag_ms is not None
    ]
    needed = sorted(lags)[int(0.97 * (len(lags) - 1))] * mark.PER_MM if lags else 0.0
    scale = next((scale for scale in _SCALES_MS if scale >= needed), _SCALES_MS[-1])
    return Ruler(limbs=limbs, ms_per_mm=scale)


def draw_rows(
    ruler: Ruler, strokes: Sequence[StrokeReport], places: Mapping[int, float], *, top: float, right: float
) -> list[str]:
    """Return the rows over one line of music as SVG.

    Args:
        ruler: of the whole picture.
        strokes: of the notes on this line, of every repetition.
        places: the middle of each stroke's note.
        top: where the first row starts.
        right: where the rows end.
    """
    drawn = []
    for number, limb in enumerate(ruler.limbs):
        y = top + ROW * (number + 0.5)
        mains = [s for s in strokes if s.hand == limb and not s.grace and s.index in places]
        drawn.append(mark.draw_line(560, y, right, y, width=7, stroke="#d9d3c7"))
        drawn.append(
            mark.draw_text(
                0, y + 95, _LABELS[limb], fill=mark.choose_colour(limb), size=300, serif=limb in ("R", "L")
            )
        )
        by_index: dict[int, list[StrokeReport]] = defaultdict(list)
        for stroke in mains:
            by_index[stroke.index].append(stroke)
        for index, repetitions in by_index.items():
            drawn += _draw_stroke(ruler, repetitions, places[index], y)
    drawn += [
        mark.draw_ring(places[s.index], top + ruler.height + 90, 52, stroke=mark.SOFT, width=16)
        for s in strokes
        if s.grace and s.outcome is Outcome.MISSING and s.index in places
    ]
    return drawn


def _draw_stroke(ruler: Ruler, repetitions: Sequence[StrokeReport], x: float, y: float) -> list[str]:
    """Return a written stroke: its line, and its mark in each repetition."""
    hand = repetitions[0].hand
    shade = mark.choose_colour(hand)
    dash = mark.DASH if hand == "L" else ""
    drawn = [mark.draw_line(x, y - 185, x, y + 185, width=11, stroke=mark.RULE, dash=dash)]
    lags = [stroke.lag_ms for stroke in repetitions if stroke.lag_ms is not None]
    if lags:
        end = x + ruler.units(fmean(lags))
        if abs(end - x) > 10:
            drawn.append(mark.draw_line(x, y, end, y, width=26, stroke=shade, dash=dash))
        if len(repetitions) > 1:
            drawn += [
                mark.draw_line(
                    x + ruler.units(lag), y - 75, x + ruler.units(lag), y + 75, width=10, stroke=shade
                )
                for lag in lags
            ]
        drawn.append(mark.draw_line(end, y - 130, end, y + 130, width=44, stroke=shade))
    elif any(stroke.played for stroke in repetitions):
        drawn.append(mark.draw_dot(x, y, 42, fill=shade))
    missing = sum(stroke.outcome is Outcome.MISSING for stroke in repetitions)
    if missing:
        drawn.append(mark.draw_ring(x, y, 105, stroke=shade, width=26))
        if len(repetitions) > 1:
            drawn.append(mark.draw_text(x + 135, y - 60, f"{missing}×", size=210))
    if any(stroke.on_wrong_drum for stroke in repetitions):
        drawn.append(mark.draw_square(x + ruler.units(fmean(lags) if lags else 0.0), y, 330, stroke=mark.INK))
    return drawn


def draw_extras(
    extra: Sequence[ExtraReport], clock: Sequence[tuple[int, float, float]], *, top: float
) -> list[str]:
    """Return wedges below the rows for extra strokes as SVG.

    Args:
        extra: strokes that may be on this line.
        clock: repetition, seconds and x of each moment on this line, ascending.
        top: y of their tips.
    """
    drawn = []
    for stroke in extra:
        moments = [(seconds, x) for repetition, seconds, x in clock if repetition == stroke.repetition]
        for (before, left), (after, right) in pairwise(moments):
            if before <= stroke.seconds < after:
                x = left + (right - left) * (stroke.seconds - before) / (after - before)
                drawn.append(mark.draw_wedge(x, top, 150, fill=mark.INK))
    return drawn
