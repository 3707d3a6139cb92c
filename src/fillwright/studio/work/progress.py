"""Progress drawn over time: one line for each fill, from the first tempo passed to the last."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date

from fillwright.store.planning.plan import AssignedFill, Attempt
from fillwright.studio.work.record import PracticeRecord

_WIDTH, _HEIGHT, _INSET = 240.0, 36.0, 6.0
"""Size and margin of a progress line, in SVG units. Ours."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ProgressLine:
    """A student's progress with one fill.

    Attributes:
        lesson: number of the lesson in the store.
        fill: its fill name.
        title: as a page shows it.
        ladder: its tempos, in bpm.
        reached: fastest tempo passed, in bpm; 0 for none.
        points: of the drawing, as SVG has them: days to the right, tempos upwards.
        words: the same as a text.
        is_started: True if it was ever played.
    """

    lesson: int
    fill: str
    title: str
    ladder: tuple[int, ...]
    reached: int
    points: str
    words: str
    is_started: bool


def list_progress(record: PracticeRecord) -> tuple[ProgressLine, ...]:
    """Return a line for each assigned fill, in the order of the lessons."""
    days = [attempt.day for attempt in record.attempts]
    first, last = min(days, default=date.min), max(days, default=date.min)
    return tuple(_draw_lines(record, first, max(1, (last - first).days)))


def _draw_lines(record: PracticeRecord, first: date, span_days: int) -> Iterator[ProgressLine]:
    for assigned in record.assigned_fills:
        attempts = [attempt for attempt in record.attempts if (attempt.lesson, attempt.fill) == assigned.key]
        passes = [attempt for attempt in attempts if attempt.passed]
        reached = max((attempt.tempo for attempt in passes), default=0)
        count = _count_tempos(assigned, reached)
        yield ProgressLine(
            lesson=assigned.lesson,
            fill=assigned.fill,
            title=assigned.title,
            ladder=assigned.ladder,
            reached=reached,
            points=" ".join(_draw_points(assigned, passes, first, span_days)),
            words=f"{count} of {len(assigned.ladder)} tempos passed" if count else "not passed yet",
            is_started=bool(attempts),
        )


def _draw_points(assigned: AssignedFill, passes: list[Attempt], first: date, span_days: int) -> Iterator[str]:
    reached = 0
    for attempt in passes:
        reached = max(reached, attempt.tempo)
        part = _count_tempos(assigned, reached) / len(assigned.ladder)
        x = _INSET + (_WIDTH - 2 * _INSET) * (attempt.day - first).days / span_days
        y = _HEIGHT - _INSET - (_HEIGHT - 2 * _INSET) * part
        yield f"{x:.1f},{y:.1f}"


def _count_tempos(assigned: AssignedFill, reached: int) -> int:
    """Return how many tempos of the ladder are passed."""
    return sum(tempo <= reached for tempo in assigned.ladder)
