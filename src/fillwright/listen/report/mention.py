"""Missing and extra strokes that are sure enough for the three sentences.

The report lists them all. A microphone detects two strokes at one moment as one attack, and a pair that comes
apart as an extra stroke. Single ones next to another stroke appear only in the numbers.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections import Counter
from collections.abc import Sequence

from fillwright.listen.limits import get_limit
from fillwright.listen.report.measures import select_main_strokes
from fillwright.listen.report.model import Report
from fillwright.listen.report.values.strokes import ExtraReport, StrokeReport


def select_missing(report: Report) -> tuple[StrokeReport, ...]:
    """Return the missing main strokes, without the few that another stroke may hide."""
    mains = select_main_strokes(report.strokes)
    missing = [stroke for stroke in report.missing if not stroke.grace]
    if report.from_midi or not missing:
        return tuple(missing)
    hideable = _find_hideable(mains)
    hidden = [stroke for stroke in missing if _key(stroke) in hideable]
    few = len(hidden) < get_limit("missing.least_hidden") or len(hidden) < get_limit(
        "missing.hidden_share"
    ) * len(hideable)
    sure = [stroke for stroke in missing if not few or _key(stroke) not in hideable]
    return tuple(sure) if len(sure) > get_limit("missing.share") * len(mains) else ()


def select_extra(report: Report) -> tuple[ExtraReport, ...]:
    """Return the extra strokes, without those so near to a written one that they may be a part of it."""
    if report.from_midi:
        return report.extra
    apart = get_limit("missing.apart_ms") / 1000
    times = sorted(stroke.written_seconds for stroke in report.strokes)
    return tuple(extra for extra in report.extra if not _has_neighbour(times, extra.seconds, apart))


def _key(stroke: StrokeReport) -> tuple[int, int]:
    return stroke.repetition, stroke.index


def _find_hideable(mains: Sequence[StrokeReport]) -> set[tuple[int, int]]:
    """Return the keys of the strokes that are written at the same moment as another one that was played."""
    played = Counter((stroke.repetition, stroke.bar, stroke.beat) for stroke in mains if stroke.played)
    return {
        _key(stroke)
        for stroke in mains
        if played[stroke.repetition, stroke.bar, stroke.beat] - stroke.played > 0
    }


def _has_neighbour(times: Sequence[float], seconds: float, apart: float) -> bool:
    """Return True if one of the ascending times is within a distance of a moment, all in seconds."""
    return bisect_right(times, seconds + apart) > bisect_left(times, seconds - apart)
