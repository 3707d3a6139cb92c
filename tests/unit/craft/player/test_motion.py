"""Motion: the time each limb needs between two touches, and the tempo at which it has no more."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from itertools import pairwise, product
from math import inf, log2

import pytest

from fillwright.craft.player.kits import Spot, find_kit
from fillwright.craft.player.motion import (
    Demand,
    Motion,
    Touch,
    find_ceiling_bpm,
    find_peak,
    index_of_difficulty,
)
from fillwright.craft.player.players import find_player, find_surface_factors, load_players
from fillwright.music.hit import Hit
from fillwright.music.stroke import Kind, Limb, Stroke
from fillwright.music.surfaces import find_surface

KIT, PLAYER = find_kit("five-piece"), find_player("gigging")
MOTION = Motion(KIT, PLAYER)
R, L, FOOT = Limb.RIGHT, Limb.LEFT, Limb.RIGHT_FOOT
SIXTEENTH = Fraction(1, 16)


def touch(place: int, name: str = "snare", limb: Limb = R, **more: object) -> Touch:
    made = Touch(at=place * SIXTEENTH, limb=limb, surface=name, stroke=place)
    return replace(made, **more)  # type: ignore[arg-type]


def hit(place: int, hand: Limb, kind: Kind = Kind.SINGLE, name: str = "snare") -> Hit:
    stroke = Stroke(hand=hand, kind=kind)
    return Hit(at=place * SIXTEENTH, length=SIXTEENTH, stroke=stroke, surface=find_surface(name))


def demand(needed: float, gap: Fraction | float) -> Demand:
    return Demand(
        stroke=1,
        limb=R,
        surface="snare",
        before="snare",
        needed_seconds=needed,
        gap=gap,
        rebound=False,
        crossed=False,
    )


def test_a_fresh_stroke_on_the_same_drum() -> None:
    assert MOTION.time_stroke("snare", "snare", R) == PLAYER.stroke_seconds
    assert MOTION.time_stroke("snare", "snare", R, rebound=True) == PLAYER.rebound_seconds


@pytest.mark.parametrize("name", ["high tom", "floor tom", "crash"])
def test_a_way_costs_the_bits_of_fitts_s_index(name: str) -> None:
    way, size = KIT.spot("snare").distance_cm(KIT.spot(name)), KIT.spot(name).size
    assert MOTION.travel_seconds("snare", name) == pytest.approx(PLAYER.bit_seconds * log2(way / size + 1))
    fresh, _ = find_surface_factors(name)
    wanted = PLAYER.stroke_seconds * fresh + MOTION.travel_seconds("snare", name)
    assert MOTION.time_stroke("snare", name, R) == pytest.approx(wanted)


def test_nothing_is_thrown_back_from_one_drum_to_another() -> None:
    thrown, fresh = (MOTION.time_stroke("snare", "high tom", R, rebound=r) for r in (True, False))
    assert thrown == fresh


def test_a_foot_has_its_own_times() -> None:
    assert MOTION.time_stroke("kick", "kick", FOOT) == PLAYER.kick_seconds
    assert MOTION.time_stroke("kick", "kick", FOOT, rebound=True) == PLAYER.kick_rebound_seconds


def test_a_surface_out_of_reach_takes_longer() -> None:
    kit, far = find_kit("open-handed"), "ride bow"
    shoulders = [Spot(x=side * PLAYER.shoulder_cm, y=0, size=1) for side in (1, -1)]
    ways = [kit.spot(far).distance_cm(shoulder) for shoulder in shoulders]
    assert ways[0] > PLAYER.reach_cm > ways[1], "in reach of the left arm alone"
    right, left = (Motion(kit, PLAYER).time_stroke("snare", far, hand) for hand in (R, L))
    assert right - left == pytest.approx(PLAYER.reach_seconds)


def test_hands_cross_where_the_right_one_is_to_the_left() -> None:
    assert MOTION.is_crossed(R, "hi-hat", "snare")
    assert MOTION.is_crossed(L, "floor tom", "snare")
    assert not MOTION.is_crossed(R, "snare", "hi-hat")
    assert not MOTION.is_crossed(R, "snare", "snare")
    assert MOTION.crossing_seconds(R, "hi-hat", "snare") == PLAYER.crossing_seconds
    assert MOTION.crossing_seconds(L, "hi-hat", "snare") == 0


def test_a_crossed_hand_is_marked_and_needs_longer() -> None:
    plain, crossed = (
        MOTION.demands([touch(0, "high tom"), touch(1, other, L), touch(2, "high tom")])
        for other in ("hi-hat", "mid tom")
    )
    (one,), (two,) = plain, crossed
    assert (one.crossed, two.crossed) == (False, True)
    assert two.needed_seconds - one.needed_seconds == pytest.approx(PLAYER.crossing_seconds)


def test_a_foot_never_crosses() -> None:
    made = MOTION.demands([touch(0, "snare", L), touch(1, "kick", FOOT), touch(2, "kick", FOOT)])
    assert [each.crossed for each in made] == [False]


def test_the_first_touch_of_a_limb_asks_nothing() -> None:
    assert MOTION.demands([touch(0, limb=R), touch(1, limb=L), touch(2, "kick", FOOT)]) == ()


def test_the_second_of_a_double_is_thrown_back_and_the_third_is_not() -> None:
    made = MOTION.demands([touch(0), touch(1), touch(2)])
    assert not all(each.rebound for each in made)
    assert find_ceiling_bpm(made) == pytest.approx(60 * 0.25 / PLAYER.stroke_seconds)


def test_a_double_is_limited_by_its_rebound_alone() -> None:
    (only,) = MOTION.demands([touch(0), touch(1)])
    assert only.rebound
    assert only.needed_seconds == pytest.approx(PLAYER.rebound_seconds)


def test_rebounds_are_where_they_help_most() -> None:
    """Of three strokes the closer pair is the double, wherever it stands."""
    for places, wanted in (((0, 1, 4), [True, False]), ((0, 3, 4), [False, True])):
        made = MOTION.demands([touch(place) for place in places])
        assert [each.rebound for each in made] == wanted


@pytest.mark.parametrize("places", list(product((1, 2, 3), repeat=4)))
def test_the_choice_of_rebounds_is_the_best_there_is(places: tuple[int, ...]) -> None:
    """Against every choice of which strokes of a run are thrown back, no two of them in a row."""
    at = [sum(places[:n]) for n in range(len(places) + 1)]
    found = max(each.at(1.0) for each in MOTION.demands([touch(place) for place in at]))
    best = inf
    for chosen in product((False, True), repeat=len(places)):
        if any(a and b for a, b in pairwise(chosen)):
            continue
        needs = [PLAYER.rebound_seconds if thrown else PLAYER.stroke_seconds for thrown in chosen]
        best = min(best, max(n / float(gap * SIXTEENTH) for n, gap in zip(needs, places, strict=True)))
    assert found == pytest.approx(best)


def test_order_of_touches_does_not_matter() -> None:
    made = [touch(0), touch(1, "floor tom"), touch(2, "snare", L), touch(3), touch(4, "crash", L)]
    assert MOTION.demands(made) == MOTION.demands(reversed(made))


def test_a_flam_is_a_touch_of_each_hand_the_grace_note_ahead() -> None:
    grace, main = MOTION.touches([hit(0, R, Kind.FLAM)])
    assert (grace.limb, main.limb) == (L, R)
    assert grace.ahead_seconds > main.ahead_seconds == 0
    assert (grace.at, grace.stroke, grace.surface) == (main.at, main.stroke, "snare")


def test_a_drag_reaches_further_back_and_takes_its_second_stroke() -> None:
    (flam, _), (drag, _) = (MOTION.touches([hit(0, R, kind)]) for kind in (Kind.FLAM, Kind.DRAG))
    assert drag.ahead_seconds == pytest.approx(flam.ahead_seconds + PLAYER.rebound_seconds)
    assert (flam.presses, drag.presses) == (0, PLAYER.rebound_seconds)


def test_a_split_flam_has_its_grace_note_on_the_drum_it_is_sent_to() -> None:
    touches = MOTION.touches([hit(0, R), hit(1, L, Kind.FLAM)], ["snare", "floor tom"])
    assert [(each.limb, each.surface) for each in touches] == [(R, "snare"), (R, "floor tom"), (L, "snare")]


def test_a_stroke_alone_has_one_touch() -> None:
    for kind in (Kind.SINGLE, Kind.BUZZ):
        (only,) = MOTION.touches([hit(0, L, kind)])
        assert (only.limb, only.ahead_seconds, only.presses) == (L, 0.0, 0.0)


def test_a_grace_note_is_easier_than_a_stroke_and_has_less_time() -> None:
    (plain,) = MOTION.demands(MOTION.touches([hit(0, R), hit(2, R)]))
    (grace,) = MOTION.demands(MOTION.touches([hit(0, R), hit(2, L, Kind.FLAM)]))
    ahead = MOTION.touches([hit(0, L, Kind.FLAM)])[0].ahead_seconds
    assert plain.rebound or plain.needed_seconds == PLAYER.stroke_seconds
    assert grace.needed_seconds == pytest.approx(PLAYER.stroke_seconds * PLAYER.grace + ahead)


def test_nothing_is_needed_in_less_than_a_rebound() -> None:
    slow = touch(1, ahead_seconds=0.0)
    early = touch(0, ahead_seconds=1.0)
    (only,) = MOTION.demands([early, slow])
    assert only.needed_seconds == PLAYER.rebound_seconds


def test_demand_is_needed_over_available() -> None:
    assert demand(0.1, Fraction(1, 16)).at(1.6) == pytest.approx(1.0)
    assert demand(0.1, Fraction(1, 16)).at(3.2) == pytest.approx(0.5)
    assert demand(0.1, 0).at(2.0) == inf


def test_two_strokes_of_one_hand_at_once_can_not_be_played() -> None:
    made = MOTION.demands([touch(0), touch(0, "floor tom")])
    assert find_peak(made).at(100.0) == inf  # type: ignore[union-attr]
    assert find_ceiling_bpm(made) == 0


def test_the_ceiling_is_where_the_tightest_demand_is_one() -> None:
    made = [demand(0.1, Fraction(1, 16)), demand(0.3, Fraction(1, 4))]
    for unit in (Fraction(1, 4), Fraction(3, 8)):
        whole_seconds = 60 / find_ceiling_bpm(made, unit) / float(unit)
        assert max(each.at(whole_seconds) for each in made) == pytest.approx(1.0)
    assert find_peak(made) is made[0]


def test_without_demands_there_is_no_ceiling() -> None:
    assert (find_ceiling_bpm([]), find_peak([])) == (inf, None)


@pytest.mark.parametrize("name", load_players())
def test_a_bounce_is_closer_than_a_double_and_slower_on_a_tom(name: str) -> None:
    motion = Motion(KIT, find_player(name))
    assert motion.bounce_seconds("snare") < motion.time_stroke("snare", "snare", R, rebound=True)
    assert motion.bounce_seconds("floor tom") > motion.bounce_seconds("snare")


def test_a_mirrored_kit_exchanges_the_demands_of_the_hands() -> None:
    other = Motion(KIT.mirror(), PLAYER)
    for before, after in product(("hi-hat", "snare", "floor tom", "china"), repeat=2):
        assert other.time_stroke(before, after, L) == pytest.approx(MOTION.time_stroke(before, after, R))
        assert other.is_crossed(L, before, after) == MOTION.is_crossed(R, before, after)


def test_a_larger_target_is_easier_and_a_farther_one_harder() -> None:
    assert index_of_difficulty(40, 20) > index_of_difficulty(40, 40) > index_of_difficulty(20, 40) > 0
