"""The sticking solver against every assignment of hands there is."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import product
from math import isclose

from hypothesis import given, settings
from hypothesis import strategies as st

from fillwright.craft.player.kits import find_kit
from fillwright.craft.player.motion import Motion
from fillwright.craft.player.players import find_player, load_players, load_trigger_thresholds
from fillwright.craft.sticking.hands import UnassignedStroke, find_hands
from fillwright.music.stroke import Limb

SURFACES = ("snare", "snare", "high tom", "floor tom", "hi-hat", "crash", "ride bow")
GAPS_MS = (0, 3, 8, 20, 30, 44, 60, 90, 125, 150, 250, 400, 900)
HANDS = (Limb.RIGHT, Limb.LEFT)
Cost = tuple[float, float]
"""Peak and total."""


@st.composite
def fills(draw: st.DrawFn, fewest: int, most: int) -> list[UnassignedStroke]:
    at, made = 0, []
    for _ in range(draw(st.integers(fewest, most))):
        at += draw(st.sampled_from(GAPS_MS))
        ahead = draw(st.sampled_from((0, 0, 0, 0, 0.025)))
        made.append(
            UnassignedStroke(
                at_seconds=at / 1000 + ahead,
                surface=draw(st.sampled_from(SURFACES)),
                velocity=draw(st.sampled_from((0, 20, 25, 60, 100))),
                ahead_seconds=ahead,
            )
        )
    return made


@st.composite
def motions(draw: st.DrawFn) -> Motion:
    kit = find_kit(draw(st.sampled_from(("five-piece", "left-handed", "open-handed"))))
    return Motion(kit, find_player(draw(st.sampled_from(list(load_players())))))


def demands(
    fill: Sequence[UnassignedStroke], hands: Sequence[Limb], number: int, motion: Motion, scale: float
) -> Iterator[tuple[str, float]]:
    """Every way for the hand of a stroke to play it and what it asks, straight from the words of the model."""
    player, now, hand = motion.player, fill[number], hands[number]
    before = next((fill[n] for n in range(number - 1, -1, -1) if hands[n] is hand), None)
    other = next((fill[n] for n in range(number - 1, -1, -1) if hands[n] is not hand), None)
    if before is None:
        yield "fresh", 0.0
        return
    gap = max(now.at_seconds - before.at_seconds + 0.012, 0.001) * scale
    moved = now.ahead_seconds - before.ahead_seconds
    fresh = motion.time_stroke(before.surface, now.surface, hand) + moved
    if other and now.onset_seconds - other.onset_seconds <= player.clear_seconds:
        fresh += motion.crossing_seconds(hand, now.surface, other.surface)
    if now.ahead_seconds or 0 < now.velocity <= player.soft_velocity:
        fresh -= player.stroke_seconds * (1 - player.grace)
    yield "fresh", max(fresh, 0.0) / gap
    if before.surface != now.surface:
        return
    loudest = before.velocity * load_trigger_thresholds().bounce_share + load_trigger_thresholds().bounce_steps
    if before.velocity and now.velocity > loudest:
        return
    if not now.ahead_seconds:
        thrown = motion.time_stroke(before.surface, now.surface, hand, rebound=True) + moved
        yield "rebound", max(thrown / gap, player.rebound_least)
    near = now.onset_seconds - before.onset_seconds <= load_trigger_thresholds().bounce_gap_seconds
    if near and now.velocity and before.velocity:
        yield "bounce", max((motion.bounce_seconds(now.surface) + moved) / gap, player.rebound_least)


def best_of_all(fill: Sequence[UnassignedStroke], motion: Motion, scale: float) -> Cost:
    """The least peak, then the least total, over all hands and all ways, by listing them."""
    found = []
    for hands in product(HANDS, repeat=len(fill)):
        costs: list[Cost] = [(0.0, 0.0)]
        for hand in HANDS:
            ways: set[tuple[int, float, float]] = {(0, 0.0, 0.0)}  # rebounds in a row, peak, total
            for number in range(len(fill)):
                if hands[number] is not hand:
                    continue
                ways = {
                    (run + 1 if way == "rebound" else 1 if way == "bounce" else 0, max(top, each), sum_ + each)
                    for run, top, sum_ in ways
                    for way, each in demands(fill, hands, number, motion, scale)
                    if way != "rebound" or run < motion.player.rebounds
                }
            costs = [(max(top, other), sum_ + others) for _, top, sum_ in ways for other, others in costs]
        found += costs
    peak = min(top for top, _ in found)
    return peak, min(total for top, total in found if top <= peak * (1 + 1e-9))


def check(fill: list[UnassignedStroke], motion: Motion, scale: float) -> None:
    found = find_hands(fill, motion, scale=scale, jitter_seconds=0.012)
    peak, total = best_of_all(fill, motion, scale)
    assert isclose(found.peak_demand, peak, rel_tol=1e-6, abs_tol=1e-9)
    assert isclose(sum(stroke.demand for stroke in found.strokes), total, rel_tol=1e-6, abs_tol=1e-9)


@settings(max_examples=60, deadline=None)
@given(fills(1, 8), motions(), st.sampled_from((1.0, 0.5, 3.0)))
def test_no_assignment_of_hands_is_better(fill: list[UnassignedStroke], motion: Motion, scale: float) -> None:
    check(fill, motion, scale)


@settings(max_examples=5, deadline=None)
@given(fills(11, 12), motions(), st.sampled_from((1.0, 0.5)))
def test_nor_for_twelve_strokes(fill: list[UnassignedStroke], motion: Motion, scale: float) -> None:
    check(fill, motion, scale)


@settings(max_examples=60, deadline=None)
@given(fills(2, 30), motions(), st.floats(0.2, 5.0))
def test_it_is_playable_up_to_its_ceiling_and_no_further(
    fill: list[UnassignedStroke], motion: Motion, scale: float
) -> None:
    found = find_hands(fill, motion, scale=scale, jitter_seconds=0.012)
    if not isclose(found.limit, scale, rel_tol=1e-9):
        assert found.playable == (found.limit < scale)


@settings(max_examples=60, deadline=None)
@given(fills(2, 30), motions())
def test_each_stroke_has_its_move(fill: list[UnassignedStroke], motion: Motion) -> None:
    found = find_hands(fill, motion, jitter_seconds=0.012)
    assert [each.stroke for each in found.strokes] == list(range(len(fill)))
    for each in found.strokes:
        earlier = [other.stroke for other in found.strokes[: each.stroke] if other.limb is each.limb]
        assert each.before == (earlier[-1] if earlier else None)
        if each.before is not None:
            assert each.demand >= each.needed_seconds / each.gap_seconds - 1e-12
