"""The practice plan of a student: which fills, at which tempo, for how long, and when to rest.

A pure function of the assigned fills, the attempts so far, and the day.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, timedelta
from enum import Enum

REVISION_DAYS = (1, 3, 7, 16)
"""Days after a pass on which a fill is played again, at growing distances. Ours, not measured."""

MINUTES_BEFORE_REST = 20
"""Minutes of playing before a rest (common practice, no source)."""

REST_MINUTES = 5
"""Minutes of a rest (common practice, no source)."""

_WARM_UP_MINUTES = 3
"""Minutes of warming up. Ours, not measured."""

_REVISION_MINUTES = 2
"""Minutes for a fill that was passed already. Ours, not measured."""

_NEW_MINUTES = 6
"""Minutes that a fill to learn gets if there is time. Ours, not measured."""

_LEAST_NEW_MINUTES = 4
"""Minutes below which no fill to learn is planned. Ours, not measured."""

_MOST_REVISION_SHARE = 1 / 3
"""Largest part of the time for fills that were passed already. Ours, not measured."""

_FAILURES_BEFORE_SLOWER = 2
"""Takes in a row that did not pass at a tempo before the next slower one is practised. Ours, not measured."""


class ItemKind(Enum):
    """Kinds of lines in a plan."""

    WARM_UP = "warm up"
    REVISE = "revise"
    LEARN = "learn"
    REST = "rest"


@dataclass(frozen=True, slots=True, kw_only=True)
class AssignedFill:
    """A fill for a student to learn.

    Attributes:
        lesson: number of the lesson in the store.
        fill: name of the fill in it.
        title: as a page shows it.
        ladder: its tempos in bpm, rising, at least one.
        due: day by which it is to be learned, or None.
        grade: difficulty, from 1.
    """

    lesson: int
    fill: str
    title: str
    ladder: tuple[int, ...]
    due: date | None = None
    grade: int = 1

    @property
    def key(self) -> tuple[int, str]:
        """Lesson and fill name, as attempts have them."""
        return self.lesson, self.fill


@dataclass(frozen=True, slots=True, kw_only=True)
class Attempt:
    """A fill played on a day, passed or not; `tempo` is in bpm, 0 if it was only practised."""

    lesson: int
    fill: str
    day: date
    tempo: int = 0
    passed: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanItem:
    """A line of a plan; `tempo` is in bpm."""

    kind: ItemKind
    minutes: int
    title: str = ""
    lesson: int | None = None
    fill: str = ""
    tempo: int | None = None
    reason: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class DayPlan:
    """A day's practice.

    Attributes:
        day: that is planned.
        items: in order.
        noise_limit_minutes: minutes that the day's noise allows, if the student has more time; else None.
    """

    day: date
    items: tuple[PlanItem, ...] = field(default=())
    noise_limit_minutes: int | None = None

    @property
    def played_minutes(self) -> int:
        """Minutes of playing, without rests."""
        return sum(item.minutes for item in self.items if item.kind is not ItemKind.REST)


def plan_day(
    day: date,
    assigned_fills: Sequence[AssignedFill],
    attempts: Sequence[Attempt],
    *,
    minutes: int,
    noise_minutes: float,
) -> DayPlan:
    """Plan one day's practice.

    Args:
        day: to plan.
        assigned_fills: in the order of the lessons.
        attempts: everything played so far, in order of time.
        minutes: time that the student has.
        noise_minutes: time that the day's noise allows.
    """
    time = int(min(minutes, noise_minutes))
    history = _group_by_fill(attempts)
    due = [fill for fill in assigned_fills if _is_revision_due(history.get(fill.key, ()), day)]
    unfinished = [fill for fill in assigned_fills if _choose_tempo(fill, history.get(fill.key, ())) is not None]
    items: list[PlanItem] = []
    if assigned_fills and time > _WARM_UP_MINUTES:
        reason = "Singles and doubles, slow and loose."
        items.append(PlanItem(kind=ItemKind.WARM_UP, minutes=_WARM_UP_MINUTES, reason=reason))
        time -= _WARM_UP_MINUTES
    revisions = _list_revisions(due, history, time if not unfinished else time * _MOST_REVISION_SHARE)
    items += revisions
    time -= sum(item.minutes for item in revisions)
    items += _list_new(_order_by_need(unfinished, history), history, time)
    limit = int(noise_minutes) if noise_minutes < minutes else None
    return DayPlan(day=day, items=tuple(_insert_rests(items)), noise_limit_minutes=limit)


def plan_days(
    first: date,
    assigned_fills: Sequence[AssignedFill],
    attempts: Sequence[Attempt],
    *,
    minutes: int,
    noise_minutes: float,
    days: int = 7,
) -> tuple[DayPlan, ...]:
    """Plan some days, each as if the days before it were practised as planned, but nothing passed."""
    plans: list[DayPlan] = []
    history = list(attempts)
    for offset in range(days):
        day = first + timedelta(offset)
        plan = plan_day(day, assigned_fills, history, minutes=minutes, noise_minutes=noise_minutes)
        plans.append(plan)
        history += [
            Attempt(lesson=item.lesson, fill=item.fill, day=day)
            for item in plan.items
            if item.lesson is not None
        ]
    return tuple(plans)


_History = tuple[Attempt, ...]


def _group_by_fill(attempts: Sequence[Attempt]) -> Mapping[tuple[int, str], _History]:
    groups: dict[tuple[int, str], list[Attempt]] = {}
    for attempt in attempts:
        groups.setdefault((attempt.lesson, attempt.fill), []).append(attempt)
    return {key: tuple(sorted(group, key=lambda attempt: attempt.day)) for key, group in groups.items()}


def _is_revision_due(history: _History, day: date) -> bool:
    """Return True if a revision day after the last pass has come and the fill was not played since."""
    passes = [attempt.day for attempt in history if attempt.passed]
    if not passes:
        return False
    days = [passes[-1] + timedelta(offset) for offset in REVISION_DAYS]
    latest = max((revision for revision in days if revision <= day), default=None)
    return latest is not None and not any(attempt.day >= latest for attempt in history)


def _choose_tempo(fill: AssignedFill, history: _History) -> int | None:
    """Return the tempo to practise next, always one of the ladder; None if the whole ladder is passed."""
    reached = _find_reached(history)
    above = [tempo for tempo in fill.ladder if tempo > reached]
    if not above:
        return None
    target = above[0]
    index = fill.ladder.index(target)
    if index and _count_failures(history, target) >= _FAILURES_BEFORE_SLOWER:
        return fill.ladder[index - 1]
    return target


def _find_reached(history: _History) -> int:
    """Return the fastest tempo passed, 0 for none."""
    return max((attempt.tempo for attempt in history if attempt.passed), default=0)


def _count_failures(history: _History, tempo: int) -> int:
    """Return how many of the newest takes, up to a pass or a faster take, failed at a tempo."""
    failures = 0
    for attempt in reversed([attempt for attempt in history if attempt.tempo]):
        if attempt.passed or attempt.tempo > tempo:
            break
        failures += attempt.tempo == tempo
    return failures


def _explain_tempo(fill: AssignedFill, history: _History, tempo: int) -> str:
    reached = _find_reached(history)
    above = [step for step in fill.ladder if step > reached]
    if above and tempo < above[0]:
        return f"Slow down to {tempo} bpm, then try {above[0]} bpm again."
    if not reached:
        return "New." if not history else "Not passed yet."
    return f"Passed at {reached} bpm. The next tempo is {tempo} bpm."


def _list_revisions(
    due: Sequence[AssignedFill], history: Mapping[tuple[int, str], _History], time: float
) -> list[PlanItem]:
    """Return fills to play again, those not played for longest first, as many as there is time for."""
    waiting = sorted(due, key=lambda fill: history[fill.key][-1].day)
    items = []
    for fill in waiting[: int(time // _REVISION_MINUTES)]:
        last = [attempt for attempt in history[fill.key] if attempt.passed][-1]
        items.append(
            PlanItem(
                kind=ItemKind.REVISE,
                minutes=_REVISION_MINUTES,
                title=fill.title,
                lesson=fill.lesson,
                fill=fill.fill,
                tempo=_snap_to_ladder(fill, last.tempo),
                reason=f"Passed at {last.tempo} bpm on {last.day.day} {last.day:%B}. Play it again to keep it.",
            )
        )
    return items


def _snap_to_ladder(fill: AssignedFill, tempo: int) -> int:
    """Return the fastest tempo of the ladder that is not above a tempo, else the slowest of the ladder."""
    return max((step for step in fill.ladder if step <= tempo), default=fill.ladder[0])


def _order_by_need(
    fills: Sequence[AssignedFill], history: Mapping[tuple[int, str], _History]
) -> list[AssignedFill]:
    """Sort by due day; then started fills, those not played for longest first; then new ones, easy first."""
    return sorted(
        fills,
        key=lambda fill: (
            fill.due or date.max,
            max((attempt.day for attempt in history.get(fill.key, ())), default=date.max),
            fill.grade,
        ),
    )


def _list_new(
    fills: Sequence[AssignedFill], history: Mapping[tuple[int, str], _History], time: int
) -> Iterator[PlanItem]:
    """Yield fills to learn: as many as get their minutes, with the time shared evenly among them."""
    if not fills or time < _LEAST_NEW_MINUTES:
        return
    count = max(1, min(len(fills), time // _NEW_MINUTES))
    for index, fill in enumerate(fills[:count]):
        attempts = history.get(fill.key, ())
        tempo = _choose_tempo(fill, attempts)
        if tempo is None:
            continue
        yield PlanItem(
            kind=ItemKind.LEARN,
            minutes=time // count + (index < time % count),
            title=fill.title,
            lesson=fill.lesson,
            fill=fill.fill,
            tempo=tempo,
            reason=_explain_tempo(fill, attempts, tempo),
        )


def _insert_rests(items: Sequence[PlanItem]) -> Iterator[PlanItem]:
    """Insert rests so that no stretch of playing is too long. Only an item that is too long itself is split."""
    played = 0
    for item in items:
        remaining = item.minutes
        while remaining:
            if played and played + min(remaining, MINUTES_BEFORE_REST) > MINUTES_BEFORE_REST:
                reason = "Put the sticks down and shake out your hands."
                yield PlanItem(kind=ItemKind.REST, minutes=REST_MINUTES, reason=reason)
                played = 0
            part = min(remaining, MINUTES_BEFORE_REST)
            yield replace(item, minutes=part)
            played += part
            remaining -= part
