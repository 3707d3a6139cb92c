"""Progress drawn over time: one line for each fill, from the first rung passed to the last."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date

from fillwright.studio.work.record import Record

_WIDTH, _HEIGHT, _INSET = 240.0, 36.0, 6.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """How far a student has come with one fill.

    Attributes:
        lesson: number of the lesson in the store.
        fill: its short name.
        title: as a page says it.
        ladder: its tempos.
        reached: the fastest passed; 0 for none.
        rung: how many rungs are passed.
        points: of the drawing, as SVG has them: days to the right, rungs upwards.
        words: the same in words.
        begun: whether it was ever played.
    """

    lesson: int
    fill: str
    title: str
    ladder: tuple[int, ...]
    reached: int
    rung: int
    points: str
    words: str
    begun: bool


def progress_lines(record: Record) -> tuple[Line, ...]:
    """A line for each goal, in the order of the lessons."""
    days = [one.day for one in record.tried]
    first, last = min(days, default=date.min), max(days, default=date.min)
    return tuple(_lines(record, first, max(1, (last - first).days)))


def _lines(record: Record, first: date, span: int) -> Iterator[Line]:
    for goal in record.goals:
        passed = [one for one in record.tried if one.passed and (one.lesson, one.fill) == goal.key]
        reached = 0
        points: list[str] = []
        for one in passed:
            reached = max(reached, one.tempo)
            rung = sum(tempo <= reached for tempo in goal.ladder)
            x = _INSET + (_WIDTH - 2 * _INSET) * (one.day - first).days / span
            y = _HEIGHT - _INSET - (_HEIGHT - 2 * _INSET) * rung / len(goal.ladder)
            points.append(f"{x:.1f},{y:.1f}")
        rung = sum(tempo <= reached for tempo in goal.ladder)
        words = f"{rung} of {len(goal.ladder)} rungs" if rung else "not passed yet"
        yield Line(
            lesson=goal.lesson,
            fill=goal.fill,
            title=goal.title,
            ladder=goal.ladder,
            reached=reached,
            rung=rung,
            points=" ".join(points),
            words=words,
            begun=any((one.lesson, one.fill) == goal.key for one in record.tried),
        )
