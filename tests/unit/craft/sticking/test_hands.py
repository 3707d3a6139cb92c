from __future__ import annotations

from itertools import pairwise

import pytest

from fillwright.craft.player.kits import find_kit
from fillwright.craft.player.motion import Motion
from fillwright.craft.player.players import find_player
from fillwright.craft.sticking.hands import Sticking, Struck, feet_limit, find_hands
from fillwright.craft.sticking.limbs import Way
from fillwright.errors import UnknownNameError
from fillwright.music.stroke import Limb


def motion(player: str = "gigging", kit: str = "five-piece") -> Motion:
    return Motion(find_kit(kit), find_player(player))


def even(surfaces: str, gap: float, velocity: int = 0) -> list[Struck]:
    names = [name.strip() for name in surfaces.split(",")]
    return [Struck(at_seconds=n * gap, surface=name, velocity=velocity) for n, name in enumerate(names)]


def letters(found: Sticking) -> str:
    return " ".join(each.limb.value for each in found.played)


def test_nothing_is_played_by_nobody() -> None:
    found = find_hands([], motion())
    assert found.played == ()
    assert (found.peak_demand, found.total_demand, found.limit, found.playable) == (0.0, 0.0, 0.0, True)


def test_one_stroke_asks_nothing() -> None:
    found = find_hands(even("crash", 1.0), motion())
    assert found.played[0].before is None
    assert found.limit == 0.0


def test_even_strokes_on_one_drum_alternate() -> None:
    assert letters(find_hands(even(", ".join(["snare"] * 8), 0.125), motion())) == "R L R L R L R L"


def test_the_demand_of_an_alternating_roll_is_its_stroke_over_two_gaps() -> None:
    found = find_hands(even(", ".join(["snare"] * 8), 0.1), motion())
    assert found.peak_demand == pytest.approx(find_player("gigging").stroke_seconds / 0.2)


def test_strokes_too_fast_for_singles_are_doubles() -> None:
    found = find_hands(even(", ".join(["snare"] * 9), 0.062), motion())
    assert found.playable
    ways = [each.way for each in found.played]
    assert ways.count(Way.REBOUND) >= 3
    assert all(a is Way.FRESH or b is Way.FRESH for a, b in pairwise(ways))


def test_two_strokes_at_once_take_two_hands() -> None:
    for apart in (0.0, 0.004, 0.02):
        strokes = [Struck(at_seconds=0.0, surface="snare"), Struck(at_seconds=apart, surface="floor tom")]
        assert {each.limb for each in find_hands(strokes, motion()).played} == {Limb.RIGHT, Limb.LEFT}


def test_three_at_once_are_beyond_anyone() -> None:
    strokes = [Struck(at_seconds=0.0, surface=name) for name in ("snare", "high tom", "crash")]
    found = find_hands(strokes, motion("professional"))
    assert not found.playable
    assert found.peak_demand < 1e6  # still a number


def test_a_demand_of_one_stands_at_the_limit() -> None:
    strokes = even("snare, high tom, floor tom, crash, snare, floor tom, snare, snare", 0.11)
    limit = find_hands(strokes, motion()).limit
    at_limit = find_hands(strokes, motion(), scale=limit)
    assert at_limit.peak_demand == pytest.approx(1.0)
    assert find_hands(strokes, motion(), scale=limit * 1.001).playable
    assert not find_hands(strokes, motion(), scale=limit * 0.999).playable


def test_jitter_lengthens_every_gap_before_it_is_scaled() -> None:
    strokes = even(", ".join(["snare"] * 3), 0.1)
    found = find_hands(strokes, motion(), scale=0.5, jitter_seconds=0.012)
    assert found.played[-1].gap_seconds == pytest.approx((0.2 + 0.012) / 2)


def test_a_pressed_stick_bounces_softer_and_softer() -> None:
    buzz = [Struck(at_seconds=n * 0.03, surface="snare", velocity=90 - 20 * n) for n in range(4)]
    louder = [Struck(at_seconds=n * 0.03, surface="snare", velocity=20 + 30 * n) for n in range(4)]
    slow = [Struck(at_seconds=n * 0.05, surface="snare", velocity=90 - 20 * n) for n in range(4)]
    assert find_hands(buzz, motion("professional")).playable
    assert Way.BOUNCE in [each.way for each in find_hands(buzz, motion("professional")).played]
    assert Way.BOUNCE not in [each.way for each in find_hands(louder, motion("professional")).played]
    assert Way.BOUNCE not in [each.way for each in find_hands(slow, motion("professional")).played]


def test_a_ghost_note_takes_less_than_an_accent() -> None:
    def demand(velocity: int) -> float:
        return find_hands(even("snare, snare, snare", 0.1, velocity), motion()).peak_demand

    assert demand(30) < demand(100) == demand(0)


def test_a_grace_note_stands_ahead_whatever_the_tempo() -> None:
    flam = [
        Struck(at_seconds=0.5, surface="snare", velocity=45, ahead_seconds=0.025),
        Struck(at_seconds=0.5, surface="snare", velocity=90),
    ]
    for scale in (1.0, 0.2):
        found = find_hands(flam, motion(), scale=scale)
        assert letters(found) in ("R L", "L R")
        assert found.playable


def test_feet_have_their_surfaces() -> None:
    found = find_hands(even("kick, foot hi-hat, snare, kick", 0.2), motion())
    assert [each.limb for each in found.played if each.limb.is_foot] == [
        Limb.RIGHT_FOOT,
        Limb.LEFT_FOOT,
        Limb.RIGHT_FOOT,
    ]


def test_feet_change_places_on_a_left_handed_kit() -> None:
    found = find_hands(even("kick, foot hi-hat", 0.2), motion(kit="left-handed"))
    assert [each.limb for each in found.played] == [Limb.LEFT_FOOT, Limb.RIGHT_FOOT]


def test_two_pedals_share_the_kick() -> None:
    run = even(", ".join(["kick"] * 12), 0.085)
    one, two = (feet_limit(run, motion("professional"), two_pedals=pedals) for pedals in (False, True))
    assert two < 1 < one
    found = find_hands(run, motion("professional"), two_pedals=True)
    assert {each.limb for each in found.played} == {Limb.RIGHT_FOOT, Limb.LEFT_FOOT}


def test_a_hand_that_rests_has_made_way() -> None:
    # the left is forced over the right: both at once, the right's drum further left
    close = [
        Struck(at_seconds=at, surface=name) for at, name in ((0.0, "hi-hat"), (0.0, "snare"), (0.2, "hi-hat"))
    ]
    rested = [*close[:2], Struck(at_seconds=1.0, surface="hi-hat")]
    assert not any(each.crossed for each in find_hands(rested, motion()).played[2:])
    assert find_hands(close, motion()).playable


def test_a_surface_the_kit_has_not_is_named() -> None:
    with pytest.raises(UnknownNameError, match="mid tom"):
        find_hands(even("snare, mid tom", 0.2), motion(kit="four-piece"))
    with pytest.raises(UnknownNameError, match="gong"):
        find_hands(even("gong", 0.2), motion())
