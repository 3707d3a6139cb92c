from datetime import date, timedelta

import pytest

from fillwright.store.planning.plan import (
    MINUTES_BEFORE_REST,
    REVISION_DAYS,
    AssignedFill,
    Attempt,
    DayPlan,
    ItemKind,
    plan_day,
    plan_days,
)

DAY = date(2026, 3, 2)
LADDER = (60, 70, 80)


def fill(name, **more):
    return AssignedFill(lesson=1, fill=name, title=name.upper(), ladder=LADDER, **more)


def passed(name, tempo, day=DAY - timedelta(1)):
    return Attempt(lesson=1, fill=name, day=day, tempo=tempo, passed=True)


def failed(name, tempo, day=DAY - timedelta(1)):
    return Attempt(lesson=1, fill=name, day=day, tempo=tempo)


def next_tempo(name, *attempts):
    plan = plan_day(DAY, [fill(name)], attempts, minutes=30, noise_minutes=480)
    return next(item.tempo for item in plan.items if item.kind is ItemKind.LEARN)


def of_kind(plan, kind):
    return [item.fill for item in plan.items if item.kind is kind]


def test_a_new_fill_starts_at_the_slowest_tempo():
    assert next_tempo("a") == 60


def test_a_pass_leads_to_the_next_tempo():
    assert next_tempo("a", passed("a", 60)) == 70


def test_a_failure_keeps_the_tempo_and_two_go_back_one():
    assert next_tempo("a", passed("a", 60), failed("a", 70)) == 70
    assert next_tempo("a", passed("a", 60), failed("a", 70), failed("a", 70)) == 60


def test_no_tempo_is_below_the_slowest():
    assert next_tempo("a", failed("a", 60), failed("a", 60), failed("a", 60)) == 60


def test_a_fill_passed_at_every_tempo_is_only_revised():
    plan = plan_day(DAY, [fill("a")], [passed("a", 80)], minutes=30, noise_minutes=480)
    assert of_kind(plan, ItemKind.LEARN) == []
    assert of_kind(plan, ItemKind.REVISE) == ["a"]


@pytest.mark.parametrize("after", range(1, 20))
def test_a_pass_is_revised_after_1_3_7_and_16_days(after):
    last = DAY - timedelta(after)
    # played again on every day of the ladder before today
    again = [Attempt(lesson=1, fill="a", day=last + timedelta(d)) for d in REVISION_DAYS if d < after]
    plan = plan_day(DAY, [fill("a")], [passed("a", 80, last), *again], minutes=30, noise_minutes=480)
    assert bool(of_kind(plan, ItemKind.REVISE)) == (after in REVISION_DAYS)


def test_a_missed_revision_stays_due_until_it_is_played():
    old = passed("a", 80, DAY - timedelta(5))
    assert of_kind(plan_day(DAY, [fill("a")], [old], minutes=30, noise_minutes=480), ItemKind.REVISE) == ["a"]
    played = Attempt(lesson=1, fill="a", day=DAY - timedelta(1))
    assert (
        of_kind(plan_day(DAY, [fill("a")], [old, played], minutes=30, noise_minutes=480), ItemKind.REVISE) == []
    )


def test_new_fills_come_easy_first_in_any_order_of_the_lesson():
    fills = [fill("hard", grade=8), fill("easy", grade=1), fill("middling", grade=3)]
    plan = plan_day(DAY, fills, [], minutes=30, noise_minutes=480)
    assert of_kind(plan, ItemKind.LEARN) == ["easy", "middling", "hard"]


def test_fills_that_are_due_come_first_then_started_ones():
    fills = [fill("new"), fill("begun"), fill("due", due=DAY + timedelta(3))]
    plan = plan_day(DAY, fills, [failed("begun", 60)], minutes=60, noise_minutes=480)
    assert of_kind(plan, ItemKind.LEARN) == ["due", "begun", "new"]


@pytest.mark.parametrize("minutes", [5, 10, 20, 30, 47, 60, 120])
def test_the_time_is_used_and_never_more(minutes):
    plan = plan_day(DAY, [fill(str(i)) for i in range(40)], [], minutes=minutes, noise_minutes=480)
    assert minutes - 4 < plan.played_minutes <= minutes


@pytest.mark.parametrize("minutes", [30, 60, 90, 240])
def test_there_is_a_rest_after_twenty_minutes(minutes):
    plan = plan_day(DAY, [fill(str(i)) for i in range(3)], [], minutes=minutes, noise_minutes=480)
    stretch = 0
    for item in plan.items:
        stretch = 0 if item.kind is ItemKind.REST else stretch + item.minutes
        assert stretch <= MINUTES_BEFORE_REST
    assert any(item.kind is ItemKind.REST for item in plan.items)


def test_the_noise_limit_shortens_the_plan_and_is_reported():
    plan = plan_day(DAY, [fill("a"), fill("b")], [], minutes=60, noise_minutes=15)
    assert plan.played_minutes <= 15
    assert plan.noise_limit_minutes == 15
    assert plan_day(DAY, [fill("a")], [], minutes=10, noise_minutes=15).noise_limit_minutes is None


def test_a_plan_without_assignments_is_empty():
    assert plan_day(DAY, [], [], minutes=30, noise_minutes=480) == DayPlan(day=DAY, items=())


def test_a_week_keeps_its_new_fills():
    plan = plan_days(DAY, [fill(str(i)) for i in range(20)], [], minutes=30, noise_minutes=480)
    assert [one.day for one in plan] == [DAY + timedelta(i) for i in range(7)]
    assert set(of_kind(plan[0], ItemKind.LEARN)) == set(of_kind(plan[6], ItemKind.LEARN))


def test_every_suggested_tempo_is_one_of_the_ladder():
    attempts = [passed("a", 72, DAY - timedelta(1)), passed("b", 40, DAY - timedelta(1)), failed("c", 65)]
    plan = plan_day(DAY, [fill("a"), fill("b"), fill("c")], attempts, minutes=60, noise_minutes=480)
    tempos = {item.fill: item.tempo for item in plan.items if item.kind is ItemKind.REVISE}
    assert tempos == {"a": 70, "b": 60}
    assert {item.tempo for item in plan.items if item.lesson} <= set(LADDER)


def test_a_slower_tempo_says_slow_down():
    attempts = [passed("a", 60, DAY - timedelta(2)), failed("a", 70), failed("a", 70)]
    plan = plan_day(DAY, [fill("a")], attempts, minutes=30, noise_minutes=480)
    learn = {(item.tempo, item.reason) for item in plan.items if item.kind is ItemKind.LEARN}
    assert learn == {(60, "Slow down to 60 bpm, then try 70 bpm again.")}
    faster = plan_day(DAY, [fill("a")], [passed("a", 60)], minutes=30, noise_minutes=480)
    reasons = {item.reason for item in faster.items if item.kind is ItemKind.LEARN}
    assert reasons == {"Passed at 60 bpm. The next tempo is 70 bpm."}
