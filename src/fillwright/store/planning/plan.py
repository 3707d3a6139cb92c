"""What a student practises next: which fills, at which rung, for how long, and when to rest.

A pure function of what is assigned, what was passed and played, and the day.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, timedelta
from enum import Enum

REVISED_AFTER_DAYS = (1, 3, 7, 16)
"""Days after a pass on which a fill is played again: spaced, so that it stays."""

PLAYED_BEFORE_REST = 20
"""Minutes of playing before a rest (common practice, no source)."""

REST_MINUTES = 5
_WARM_UP_MINUTES = 3
_REVISION_MINUTES = 2
_NEW_MINUTES = 6
_LEAST_NEW_MINUTES = 4
_MOST_REVISED = 1 / 3
_TIRED_OF = 2
"""After so many takes in a row that did not pass at a rung, the one below is practised."""


class Why(Enum):
    """Why something stands in a plan."""

    WARM_UP = "warm up"
    REVISE = "revise"
    LEARN = "learn"
    REST = "rest"


@dataclass(frozen=True, slots=True, kw_only=True)
class Goal:
    """A fill that a student is to learn.

    Attributes:
        lesson: number of the lesson in the store.
        fill: name of the fill in it.
        title: as a page says it.
        ladder: its tempos, rising, at least one.
        due: the day by which, or None.
        grade: how hard it is, from 1.
    """

    lesson: int
    fill: str
    title: str
    ladder: tuple[int, ...]
    due: date | None = None
    grade: int = 1

    @property
    def key(self) -> tuple[int, str]:
        """What names it in the student's record."""
        return self.lesson, self.fill


@dataclass(frozen=True, slots=True, kw_only=True)
class Tried:
    """A fill played at a tempo on a day, passed or not; `tempo` is 0 where it was only practised."""

    lesson: int
    fill: str
    day: date
    tempo: int = 0
    passed: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Item:
    """A line of a plan."""

    why: Why
    minutes: int
    title: str = ""
    lesson: int | None = None
    fill: str = ""
    tempo: int | None = None
    reason: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """A day's practice.

    Attributes:
        day: for which.
        items: in order.
        budget_minutes: how long the day's noise allows, where that is less than was asked for, else None.
    """

    day: date
    items: tuple[Item, ...] = field(default=())
    budget_minutes: int | None = None

    @property
    def played_minutes(self) -> int:
        """Minutes of playing, rests not counted."""
        return sum(item.minutes for item in self.items if item.why is not Why.REST)


def plan(day: date, goals: Sequence[Goal], tried: Sequence[Tried], *, minutes: int, budget: float) -> Plan:
    """One day's practice.

    Args:
        day: for which.
        goals: what is assigned, in the order of the lessons.
        tried: everything played so far, in order of time.
        minutes: how long the student has.
        budget: minutes that the day's noise allows.
    """
    time = int(min(minutes, budget))
    history = _histories(tried)
    due = [goal for goal in goals if _revision_due(history.get(goal.key, ()), day)]
    open_ones = [goal for goal in goals if _rung(goal, history.get(goal.key, ())) is not None]
    items: list[Item] = []
    if goals and time > _WARM_UP_MINUTES:
        items.append(
            Item(why=Why.WARM_UP, minutes=_WARM_UP_MINUTES, reason="Singles and doubles, slow and loose.")
        )
        time -= _WARM_UP_MINUTES
    revised = _revisions(due, history, time if not open_ones else time * _MOST_REVISED)
    items += revised
    time -= sum(item.minutes for item in revised)
    items += _learnt(_by_need(open_ones, history), history, time)
    short = int(budget) if budget < minutes else None
    return Plan(day=day, items=tuple(_with_rests(items)), budget_minutes=short)


def week(
    first: date, goals: Sequence[Goal], tried: Sequence[Tried], *, minutes: int, budget: float, days: int = 7
) -> tuple[Plan, ...]:
    """Plans for some days, each as if those before it had been practised, but nothing passed."""
    made: list[Plan] = []
    played = list(tried)
    for offset in range(days):
        made.append(plan(first + timedelta(offset), goals, played, minutes=minutes, budget=budget))
        played += [
            Tried(lesson=item.lesson, fill=item.fill, day=made[-1].day)
            for item in made[-1].items
            if item.lesson is not None
        ]
    return tuple(made)


_History = tuple[Tried, ...]


def _histories(tried: Sequence[Tried]) -> Mapping[tuple[int, str], _History]:
    made: dict[tuple[int, str], list[Tried]] = {}
    for one in tried:
        made.setdefault((one.lesson, one.fill), []).append(one)
    return {key: tuple(sorted(ones, key=lambda one: one.day)) for key, ones in made.items()}


def _revision_due(history: _History, day: date) -> bool:
    """Whether a fill is to be played again: a day of the ladder after its last pass has come, unmet since."""
    passes = [one.day for one in history if one.passed]
    if not passes:
        return False
    came = [passes[-1] + timedelta(days) for days in REVISED_AFTER_DAYS]
    latest = max((each for each in came if each <= day), default=None)
    return latest is not None and not any(one.day >= latest for one in history)


def _rung(goal: Goal, history: _History) -> int | None:
    """The tempo to practise next; None where the whole ladder is passed."""
    reached = max((one.tempo for one in history if one.passed), default=0)
    above = [tempo for tempo in goal.ladder if tempo > reached]
    if not above:
        return None
    rung = above[0]
    failed = 0
    for one in reversed([one for one in history if one.tempo]):
        if one.passed or one.tempo > rung:
            break
        failed += one.tempo == rung
    place = goal.ladder.index(rung)
    return goal.ladder[place - 1] if failed >= _TIRED_OF and place else rung


def _reason(history: _History, rung: int) -> str:
    reached = max((one.tempo for one in history if one.passed), default=0)
    if rung <= reached or any(not one.passed and one.tempo > rung for one in history[-_TIRED_OF:]):
        return f"{rung} once more, calmly, before the next rung."
    if not reached:
        return "New." if not history else "Not passed yet."
    return f"Passed at {reached}; the next rung is {rung}."


def _revisions(due: Sequence[Goal], history: Mapping[tuple[int, str], _History], time: float) -> list[Item]:
    """Fills to play again, those longest unplayed first, as many as there is time for."""
    waiting = sorted(due, key=lambda goal: history[goal.key][-1].day)
    made = []
    for goal in waiting[: int(time // _REVISION_MINUTES)]:
        last = [one for one in history[goal.key] if one.passed][-1]
        made.append(
            Item(
                why=Why.REVISE,
                minutes=_REVISION_MINUTES,
                title=goal.title,
                lesson=goal.lesson,
                fill=goal.fill,
                tempo=last.tempo,
                reason=f"Passed at {last.tempo} on {last.day.day} {last.day:%B}; keep it.",
            )
        )
    return made


def _by_need(goals: Sequence[Goal], history: Mapping[tuple[int, str], _History]) -> list[Goal]:
    """What is due soonest first; then what was begun, the longest unplayed first; then new ones, easy first."""
    return sorted(
        goals,
        key=lambda goal: (
            goal.due or date.max,
            max((one.day for one in history.get(goal.key, ())), default=date.max),
            goal.grade,
        ),
    )


def _learnt(goals: Sequence[Goal], history: Mapping[tuple[int, str], _History], time: int) -> Iterator[Item]:
    """Fills to learn: as many as get their minutes, the time shared evenly among them."""
    if not goals or time < _LEAST_NEW_MINUTES:
        return
    count = max(1, min(len(goals), time // _NEW_MINUTES))
    for place, goal in enumerate(goals[:count]):
        own = history.get(goal.key, ())
        rung = _rung(goal, own)
        if rung is None:
            continue
        yield Item(
            why=Why.LEARN,
            minutes=time // count + (place < time % count),
            title=goal.title,
            lesson=goal.lesson,
            fill=goal.fill,
            tempo=rung,
            reason=_reason(own, rung),
        )


def _with_rests(items: Sequence[Item]) -> Iterator[Item]:
    """Rests put in so that nobody plays too long at a stretch; only what is longer itself is parted."""
    played = 0
    for item in items:
        left = item.minutes
        while left:
            if played and played + min(left, PLAYED_BEFORE_REST) > PLAYED_BEFORE_REST:
                yield Item(
                    why=Why.REST, minutes=REST_MINUTES, reason="Put the sticks down; shake out the hands."
                )
                played = 0
            part = min(left, PLAYED_BEFORE_REST)
            yield replace(item, minutes=part)
            played += part
            left -= part
