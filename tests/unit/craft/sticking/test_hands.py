from __future__ import annotations

from itertools import pairwise

import pytest

from fillwright.craft.player.kits import find_kit
from fillwright.craft.player.motion import Motion
from fillwright.craft.player.players import find_player
from fillwright.craft.sticking.hands import Sticking, UnassignedStroke, find_feet_limit, find_hands
from fillwright.craft.sticking.pairing import Way
from fillwright.errors import UnknownNameError
from fillwright.music.stroke import Limb


def motion(player: str = "gigging", kit: str = "five-piece") -> Motion:
    return Motion(find_kit(kit), find_player(player))


def even(surfaces: str, gap: float, velocity: int = 0) -> list[UnassignedStroke]:
    names = [name.strip() for name in surfaces.split(",")]
    return [
        UnassignedStroke(at_seconds=n * gap, surface=name, velocity=velocity) for n, name in enumerate(names)
    ]


def letters(found: Sticking) -> str:
    return " ".join(stroke.limb.value for stroke in found.strokes)


def test_no_strokes_have_no_demand() -> None:
    found = find_hands([], motion())
    assert found.strokes == ()
    assert (found.peak_demand, found.limit, found.playable) == (0.0, 0.0, True)


def test_one_stroke_has_no_demand() -> None:
    found = find_hands(even("crash", 1.0), motion())
    assert found.strokes[0].before is None
    assert found.limit == 0.0


def test_even_strokes_on_one_drum_alternate() -> None:
    assert letters(find_hands(even(", ".join(["snare"] * 8), 0.125), motion())) == "R L R L R L R L"


def test_the_demand_of_an_alternating_roll_is_its_stroke_over_two_gaps() -> None:
    found = find_hands(even(", ".join(["snare"] * 8), 0.1), motion())
    assert found.peak_demand == pytest.approx(find_player("gigging").stroke_seconds / 0.2)


def test_strokes_too_fast_for_singles_are_doubles() -> None:
    found = find_hands(even(", ".join(["snare"] * 9), 0.062), motion())
    assert found.playable
    ways = [stroke.way for stroke in found.strokes]
    assert ways.count(Way.REBOUND) >= 3
    assert all(a is Way.FRESH or b is Way.FRESH for a, b in pairwise(ways))


def test_two_strokes_at_once_take_two_hands() -> None:
    for apart in (0.0, 0.004, 0.02):
        strokes = [
            UnassignedStroke(at_seconds=0.0, surface="snare"),
            UnassignedStroke(at_seconds=apart, surface="floor tom"),
        ]
        assert {stroke.limb for stroke in find_hands(strokes, motion()).strokes} == {Limb.RIGHT, Limb.LEFT}


def test_three_at_once_are_beyond_anyone() -> None:
    strokes = [UnassignedStroke(at_seconds=0.0, surface=name) for name in ("snare", "high tom", "crash")]
    found = find_hands(strokes, motion("professional"))
    assert not found.playable
    assert found.peak_demand < 1e6  # still a number


def test_a_demand_of_one_is_the_limit() -> None:
    strokes = even("snare, high tom, floor tom, crash, snare, floor tom, snare, snare", 0.11)
    limit = find_hands(strokes, motion()).limit
    at_limit = find_hands(strokes, motion(), scale=limit)
    assert at_limit.peak_demand == pytest.approx(1.0)
    assert find_hands(strokes, motion(), scale=limit * 1.001).playable
    assert not find_hands(strokes, motion(), scale=limit * 0.999).playable


def test_jitter_lengthens_every_gap_before_it_is_scaled() -> None:
    strokes = even(", ".join(["snare"] * 3), 0.1)
    found = find_hands(strokes, motion(), scale=0.5, jitter_seconds=0.012)
    assert found.strokes[-1].gap_seconds == pytest.approx((0.2 + 0.012) / 2)


def test_a_pressed_stick_bounces_softer_and_softer() -> None:
    buzz = [UnassignedStroke(at_seconds=n * 0.03, surface="snare", velocity=90 - 20 * n) for n in range(4)]
    louder = [UnassignedStroke(at_seconds=n * 0.03, surface="snare", velocity=20 + 30 * n) for n in range(4)]
    slow = [UnassignedStroke(at_seconds=n * 0.05, surface="snare", velocity=90 - 20 * n) for n in range(4)]
    assert find_hands(buzz, motion("professional")).playable
    assert Way.BOUNCE in [stroke.way for stroke in find_hands(buzz, motion("professional")).strokes]
    assert Way.BOUNCE not in [stroke.way for stroke in find_hands(louder, motion("professional")).strokes]
    assert Way.BOUNCE not in [stroke.way for stroke in find_hands(slow, motion("professional")).strokes]


def test_a_ghost_note_takes_less_than_an_accent() -> None:
    def demand(velocity: int) -> float:
        return find_hands(even("snare, snare, snare", 0.1, velocity), motion()).peak_demand

    assert demand(30) < demand(100) == demand(0)


def test_a_grace_note_keeps_its_time_at_every_tempo() -> None:
    flam = [
        UnassignedStroke(at_seconds=0.5, surface="snare", velocity=45, ahead_seconds=0.025),
        UnassignedStroke(at_seconds=0.5, surface="snare", velocity=90),
    ]
    for scale in (1.0, 0.2):
        found = find_hands(flam, motion(), scale=scale)
        assert letters(found) in ("R L", "L R")
        assert found.playable


def test_feet_have_their_surfaces() -> None:
    found = find_hands(even("kick, foot hi-hat, snare, kick", 0.2), motion())
    assert [stroke.limb for stroke in found.strokes if stroke.limb.is_foot] == [
        Limb.RIGHT_FOOT,
        Limb.LEFT_FOOT,
        Limb.RIGHT_FOOT,
    ]


def test_feet_change_places_on_a_left_handed_kit() -> None:
    found = find_hands(even("kick, foot hi-hat", 0.2), motion(kit="left-handed"))
    assert [stroke.limb for stroke in found.strokes] == [Limb.LEFT_FOOT, Limb.RIGHT_FOOT]


def test_two_pedals_share_the_kick() -> None:
    run = even(", ".join(["kick"] * 12), 0.085)
    one, two = (find_feet_limit(run, motion("professional"), two_pedals=pedals) for pedals in (False, True))
    assert two < 1 < one
    found = find_hands(run, motion("professional"), two_pedals=True)
    assert {stroke.limb for stroke in found.strokes} == {Limb.RIGHT_FOOT, Limb.LEFT_FOOT}


def test_a_hand_that_rests_has_made_way() -> None:
    # the left is forced over the right: both at once, the right's drum further left
    close = [
        UnassignedStroke(at_seconds=at, surface=name)
        for at, name in ((0.0, "hi-hat"), (0.0, "snare"), (0.2, "hi-hat"))
    ]
    rested = [*close[:2], UnassignedStroke(at_seconds=1.0, surface="hi-hat")]
    assert not any(stroke.crossed for stroke in find_hands(rested, motion()).strokes[2:])
    assert find_hands(close, motion()).playable


def test_a_surface_the_kit_has_not_is_named() -> None:
    with pytest.raises(UnknownNameError, match="mid tom"):
        find_hands(even("snare, mid tom", 0.2), motion(kit="four-piece"))
    with pytest.raises(UnknownNameError, match="gong"):
        find_hands(even("gong", 0.2), motion())
