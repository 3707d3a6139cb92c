"""Which missing strokes and which strokes too many are sure enough to be put to a student.

The report lists them all. A microphone hears two strokes at one moment as one attack, and a pair that comes
apart as one too many, so single ones beside another stroke are left to the numbers.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections import Counter
from collections.abc import Sequence

from fillwright.listen.limits import limit
from fillwright.listen.report.measures import select_main_strokes
from fillwright.listen.report.model import ExtraReport, Report, StrokeReport


def select_missing(report: Report) -> tuple[StrokeReport, ...]:
    """Main strokes that are missing, without the few that another stroke may hide."""
    own = select_main_strokes(report.strokes)
    gone = [stroke for stroke in report.missing if not stroke.grace]
    if report.from_midi or not gone:
        return tuple(gone)
    hidden = _beside_others(own)
    lost = [stroke for stroke in gone if _key(stroke) in hidden]
    few = len(lost) < limit("missing.least_hidden") or len(lost) < limit("missing.hidden_share") * len(hidden)
    told = [stroke for stroke in gone if not few or _key(stroke) not in hidden]
    return tuple(told) if len(told) > limit("missing.share") * len(own) else ()


def select_extra(report: Report) -> tuple[ExtraReport, ...]:
    """Strokes that nobody wrote, without those so near to a written one that they may be a part of it."""
    if report.from_midi:
        return report.extra
    apart = limit("missing.apart_ms") / 1000
    places = sorted(stroke.written_seconds for stroke in report.strokes)
    return tuple(one for one in report.extra if not _near(places, one.seconds, apart))


def _key(stroke: StrokeReport) -> tuple[int, int]:
    return stroke.turn, stroke.index


def _beside_others(own: Sequence[StrokeReport]) -> set[tuple[int, int]]:
    """Keys of the strokes that are written at one place with another one that was played."""
    played = Counter((stroke.turn, stroke.bar, stroke.beat) for stroke in own if stroke.played)
    return {_key(stroke) for stroke in own if played[stroke.turn, stroke.bar, stroke.beat] - stroke.played > 0}


def _near(places: Sequence[float], seconds: float, apart: float) -> bool:
    return bisect_right(places, seconds + apart) > bisect_left(places, seconds - apart)
