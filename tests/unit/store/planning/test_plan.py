from datetime import date, timedelta

import pytest

from fillwright.store.planning.plan import (
    PLAYED_BEFORE_REST,
    REVISED_AFTER_DAYS,
    Goal,
    Plan,
    Tried,
    Why,
    plan,
    week,
)

DAY = date(2026, 3, 2)
LADDER = (60, 70, 80)


def goal(name, **more):
    return Goal(lesson=1, fill=name, title=name.upper(), ladder=LADDER, **more)


def passed(name, tempo, day=DAY - timedelta(1)):
    return Tried(lesson=1, fill=name, day=day, tempo=tempo, passed=True)


def failed(name, tempo, day=DAY - timedelta(1)):
    return Tried(lesson=1, fill=name, day=day, tempo=tempo)


def rung(name, *tried):
    made = plan(DAY, [goal(name)], tried, minutes=30, budget=480)
    return next(item.tempo for item in made.items if item.why is Why.LEARN)


def of_kind(made, why):
    return [item.fill for item in made.items if item.why is why]


def test_what_was_never_played_starts_at_the_slowest_rung():
    assert rung("a") == 60


def test_a_pass_leads_to_the_next_rung():
    assert rung("a", passed("a", 60)) == 70


def test_a_failure_stays_on_its_rung_and_two_go_back_one():
    assert rung("a", passed("a", 60), failed("a", 70)) == 70
    assert rung("a", passed("a", 60), failed("a", 70), failed("a", 70)) == 60


def test_nothing_lies_below_the_slowest_rung():
    assert rung("a", failed("a", 60), failed("a", 60), failed("a", 60)) == 60


def test_what_is_passed_at_the_top_is_only_revised():
    made = plan(DAY, [goal("a")], [passed("a", 80)], minutes=30, budget=480)
    assert of_kind(made, Why.LEARN) == []
    assert of_kind(made, Why.REVISE) == ["a"]


@pytest.mark.parametrize("after", range(1, 20))
def test_a_pass_is_revised_after_1_3_7_and_16_days(after):
    last = DAY - timedelta(after)
    # played again on every day of the ladder before today
    again = [Tried(lesson=1, fill="a", day=last + timedelta(d)) for d in REVISED_AFTER_DAYS if d < after]
    made = plan(DAY, [goal("a")], [passed("a", 80, last), *again], minutes=30, budget=480)
    assert bool(of_kind(made, Why.REVISE)) == (after in REVISED_AFTER_DAYS)


def test_a_missed_revision_stays_due_until_it_is_played():
    old = passed("a", 80, DAY - timedelta(5))
    assert of_kind(plan(DAY, [goal("a")], [old], minutes=30, budget=480), Why.REVISE) == ["a"]
    played = Tried(lesson=1, fill="a", day=DAY - timedelta(1))
    assert of_kind(plan(DAY, [goal("a")], [old, played], minutes=30, budget=480), Why.REVISE) == []


def test_new_fills_come_easy_first_whatever_their_place_in_the_lesson():
    goals = [goal("hard", grade=8), goal("easy", grade=1), goal("middling", grade=3)]
    made = plan(DAY, goals, [], minutes=30, budget=480)
    assert of_kind(made, Why.LEARN) == ["easy", "middling", "hard"]


def test_what_is_due_soonest_comes_first_then_what_was_begun():
    goals = [goal("new"), goal("begun"), goal("due", due=DAY + timedelta(3))]
    made = plan(DAY, goals, [failed("begun", 60)], minutes=60, budget=480)
    assert of_kind(made, Why.LEARN) == ["due", "begun", "new"]


@pytest.mark.parametrize("minutes", [5, 10, 20, 30, 47, 60, 120])
def test_the_time_is_used_and_never_more(minutes):
    made = plan(DAY, [goal(str(i)) for i in range(40)], [], minutes=minutes, budget=480)
    assert minutes - 4 < made.played_minutes <= minutes


@pytest.mark.parametrize("minutes", [30, 60, 90, 240])
def test_nobody_plays_longer_than_twenty_minutes_without_a_rest(minutes):
    made = plan(DAY, [goal(str(i)) for i in range(3)], [], minutes=minutes, budget=480)
    stretch = 0
    for item in made.items:
        stretch = 0 if item.why is Why.REST else stretch + item.minutes
        assert stretch <= PLAYED_BEFORE_REST
    assert any(item.why is Why.REST for item in made.items)


def test_the_days_noise_cuts_the_plan_and_says_so():
    made = plan(DAY, [goal("a"), goal("b")], [], minutes=60, budget=15)
    assert made.played_minutes <= 15
    assert made.budget_minutes == 15
    assert plan(DAY, [goal("a")], [], minutes=10, budget=15).budget_minutes is None


def test_nothing_assigned_is_nothing_to_do():
    assert plan(DAY, [], [], minutes=30, budget=480) == Plan(day=DAY, items=())


def test_a_week_stays_with_what_it_began():
    made = week(DAY, [goal(str(i)) for i in range(20)], [], minutes=30, budget=480)
    assert [one.day for one in made] == [DAY + timedelta(i) for i in range(7)]
    assert set(of_kind(made[0], Why.LEARN)) == set(of_kind(made[6], Why.LEARN))
