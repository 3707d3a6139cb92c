"""Judges of the notes: strokes, drums, groove, extra strokes."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from fillwright.listen.limits import get_limit
from fillwright.listen.report.stored.stroke_records import StrokeRecord
from fillwright.listen.verdict.evidence import (
    SHOWN,
    Evidence,
    Finding,
    find_hidden,
    is_played,
    locate,
    mark_not_shown,
    mark_wrong,
)

NEARER = "Move the microphone nearer to the kit, and play it once more, slower."
"""What to do about strokes that are not audible."""

CALIBRATE = "Record a calibration, or use an electronic kit."
"""Advice for drums that can't be distinguished."""

# Shares of strokes; ours, not measured.
_NOT_AUDIBLE = 0.05  # of a part that may be not audible and the part still shown
_DRUM_MISSING = 0.5  # of a groove's drum missing, from which that drum is missing
_GROOVE_MISSING = 0.1  # of a groove's strokes that may be missing
_SURE_DRUM = 0.6  # confidence of a drum that is shown
_DRUMS_SHOWN = 0.8  # of a drum's strokes that must be shown on it
_ROUTE_WRONG = 0.6  # of the fill's strokes away from one drum, played on that drum
_EXTRA_SHARE = 0.015  # extra strokes of all that a microphone's take may have: the detector's own mistakes


def judge_strokes(evidence: Evidence) -> Finding:
    """Return a finding on the strokes of the fill."""
    fill = evidence.fill
    hidden = set() if evidence.exact else find_hidden(fill)
    missing = [
        stroke for position, stroke in enumerate(fill) if stroke.outcome == "missing" and position not in hidden
    ]
    if len(missing) > evidence.tolerance.most_missing * evidence.repetitions:
        first = f"the {missing[0].surface_written}, {locate(missing[0])}"
        if len(missing) == 1:
            return mark_wrong(f"One stroke of the fill is missing: {first}.")
        return mark_wrong(f"{len(missing)} strokes of the fill are missing. The first is {first}.")
    lost = _find_never_audible(evidence, fill, hidden)
    if len(lost) > _NOT_AUDIBLE * len(fill) / evidence.repetitions:
        return mark_not_shown(f"{_count(len(lost))} of the fill can't be heard in this take. {NEARER}")
    return SHOWN


def _count(number: int) -> str:
    return "One stroke" if number == 1 else f"{number} strokes"


def _find_never_audible(
    evidence: Evidence, strokes: Sequence[StrokeRecord], hidden: set[int]
) -> list[StrokeRecord]:
    """Return the written strokes that no repetition shows as played."""
    per_repetition = len(strokes) // evidence.repetitions or 1
    lost = []
    for position in range(min(per_repetition, len(strokes))):
        places = range(position, len(strokes), per_repetition)
        shown = any(is_played(strokes[place]) for place in places)
        unclear = any(strokes[place].outcome == "not audible" or place in hidden for place in places)
        if not shown and unclear:
            lost.append(strokes[position])
    return lost


def judge_drums(evidence: Evidence) -> Finding:
    """Return a finding on the drums of the fill and of the landing."""
    if not evidence.record.drums_from:
        return mark_not_shown(f"This recording can't show which drums you struck. {CALIBRATE}")
    strokes = (*evidence.fill, *evidence.landing)
    wrong = [stroke for stroke in strokes if is_on_wrong_drum(stroke)]
    if wrong:
        return mark_wrong(_describe_wrong(evidence, wrong))
    return _check_drums_shown(strokes)


def is_on_wrong_drum(stroke: StrokeRecord) -> bool:
    """Return True if a stroke was surely played on another drum than the written one."""
    other = stroke.surface_played not in ("", stroke.surface_written)
    return is_played(stroke) and other and stroke.surface_confidence >= get_limit("surface.confidence")


def _describe_wrong(evidence: Evidence, wrong: Sequence[StrokeRecord]) -> str:
    played, count = Counter(stroke.surface_played for stroke in wrong).most_common(1)[0]
    away = [stroke for stroke in evidence.fill if stroke.surface_written != played]
    if len(away) > 1 and count >= _ROUTE_WRONG * len(away):
        names = list(dict.fromkeys(stroke.surface_written for stroke in away))
        return f"You stayed on the {played}. The fill goes to the {', '.join(names)}."
    first = f"{wrong[0].surface_played} for {wrong[0].surface_written}, {locate(wrong[0])}"
    if len(wrong) == 1:
        return f"One stroke is on another drum: {first}."
    return f"{len(wrong)} strokes are on another drum. The first: {first}."


def _check_drums_shown(strokes: Sequence[StrokeRecord]) -> Finding:
    """Return shown if most strokes of every drum are surely on it."""
    total, shown = Counter[str](), Counter[str]()
    for stroke in strokes:
        total[stroke.surface_written] += 1
        sure = stroke.surface_played == stroke.surface_written and stroke.surface_confidence >= _SURE_DRUM
        shown[stroke.surface_written] += sure and is_played(stroke)
    unclear = [name for name, count in total.items() if shown[name] < _DRUMS_SHOWN * count]
    if unclear:
        return mark_not_shown(f"This recording can't show the {' and the '.join(unclear)} clearly. {NEARER}")
    return SHOWN


def judge_groove(evidence: Evidence) -> Finding:
    """Return a finding on the groove: each of its drums, and most of its strokes."""
    groove = evidence.groove
    hidden = set() if evidence.record.drums_from else find_hidden(groove)
    total, missing, unclear = Counter[str](), Counter[str](), Counter[str]()
    for position, stroke in enumerate(groove):
        total[stroke.surface_written] += 1
        missing[stroke.surface_written] += stroke.outcome == "missing" and position not in hidden
        unclear[stroke.surface_written] += stroke.outcome == "not audible" or position in hidden
    for name, count in total.items():
        if missing[name] > _DRUM_MISSING * (count - unclear[name]) and count - unclear[name] > 1:
            return mark_wrong(f"The {name} is missing from your groove.")
    absent = sum(missing.values())
    if absent > max(1.0, _GROOVE_MISSING * len(groove)):
        return mark_wrong(f"{absent} of {len(groove)} strokes of the groove are missing.")
    if not evidence.record.drums_from:
        return mark_not_shown(f"This recording can't show the drums of your groove. {CALIBRATE}")
    lost = [name for name, count in total.items() if unclear[name] > _DRUM_MISSING * count]
    if lost:
        return mark_not_shown(f"The {' and the '.join(lost)} of your groove can't be heard. {NEARER}")
    return SHOWN


def judge_extra(evidence: Evidence) -> Finding:
    """Return a finding on extra strokes: by rate where a microphone may err."""
    record, apart = evidence.record, get_limit("missing.apart_ms") / 1000
    times = [stroke.written_s for stroke in record.strokes]
    extra = [
        stroke
        for stroke in record.extra
        if evidence.exact or all(abs(stroke.time_s - seconds) > apart for seconds in times)
    ]
    allowed = evidence.tolerance.most_extra * evidence.repetitions
    if not evidence.exact:
        allowed = max(allowed, int(_EXTRA_SHARE * len(record.strokes)))
    if len(extra) <= allowed:
        return SHOWN
    strokes = "one extra stroke" if len(extra) == 1 else f"{len(extra)} extra strokes"
    return mark_wrong(f"You played {strokes}, the first in bar {extra[0].bar}.")
