"""Aimed movements and the rate of tapping, against published measurements.

Source: Fitts, The information capacity of the human motor system (from memory)
Source: MacKenzie, Fitts' law as a research and design tool in human-computer interaction (from memory)
Source: Fujii, Kudo, Ohtsuki and Oda, Tapping performance and wrist muscle activity of drummers (from memory)
"""

from __future__ import annotations

from itertools import pairwise
from math import log2
from statistics import correlation, linear_regression

import pytest

from fillwright.craft.player.kits import find_kit, load_kits
from fillwright.craft.player.motion import Motion, index_of_difficulty
from fillwright.craft.player.players import find_player, load_players
from fillwright.music.stroke import Limb

# Fitts 1954, reciprocal tapping with the 1-ounce stylus: mean milliseconds a tap, by distance between targets
# and their width in inches (from memory).
TAPPING_MS = {
    (2, 0.25): 392,
    (2, 0.5): 281,
    (2, 1): 212,
    (2, 2): 180,
    (4, 0.25): 484,
    (4, 0.5): 372,
    (4, 1): 260,
    (4, 2): 203,
    (8, 0.25): 580,
    (8, 0.5): 469,
    (8, 1): 357,
    (8, 2): 279,
    (16, 0.25): 731,
    (16, 0.5): 595,
    (16, 1): 481,
    (16, 2): 388,
}

# Fujii and others 2009, fastest tapping of one hand with a stick, taps a second (from memory, rounded).
FASTEST_DRUMMER, DRUMMERS, OTHERS = 10.0, 7.0, 6.0


def fitted(index: dict[tuple[float, float], float]) -> tuple[float, float, float]:
    """Intercept and slope in milliseconds, and the correlation, of the tapping times over an index."""
    bits, times = list(index.values()), [TAPPING_MS[key] for key in index]
    line = linear_regression(bits, times)
    return line.intercept, line.slope, correlation(bits, times)


def worst_miss_ms(index: dict[tuple[float, float], float]) -> float:
    """How far the line over an index is from the worst predicted time."""
    intercept, slope, _ = fitted(index)
    return max(abs(intercept + slope * bits - TAPPING_MS[key]) for key, bits in index.items())


def test_the_table_we_remember_gives_the_line_that_was_published() -> None:
    """MacKenzie 1992 gives 12.8 + 94.7 ID ms with r = 0.983 for Fitts's own index, log2(2D/W)."""
    line = fitted({key: log2(2 * key[0] / key[1]) for key in TAPPING_MS})
    assert [round(line[0], 1), round(line[1], 1), round(line[2], 3)] == [12.8, 94.7, 0.983]


def test_our_index_fits_the_same_taps_better_as_he_found() -> None:
    """In Shannon's form the correlation is higher; the line is then steeper, some 112 ms a bit."""
    ours = {key: index_of_difficulty(*key) for key in TAPPING_MS}
    his = {key: log2(2 * key[0] / key[1]) for key in TAPPING_MS}
    _, slope, r = fitted(ours)
    assert r == pytest.approx(0.9936, abs=0.0005)
    assert 105 < slope < 118
    assert worst_miss_ms(ours) < worst_miss_ms(his)
    assert worst_miss_ms(ours) < 45


def test_the_index_is_one_bit_where_the_distance_is_the_width() -> None:
    for width in (0.25, 1.0, 36.0):
        assert index_of_difficulty(width, width) == 1.0
        assert index_of_difficulty(0, width) == 0.0


def test_a_trained_stick_travels_faster_than_a_stylus_but_not_by_much() -> None:
    """Fitts's subjects took 95 to 112 ms a bit; nobody halves that more than half again."""
    bits = [player.bit_seconds * 1000 for player in load_players().values()]
    assert bits == sorted(bits, reverse=True)
    assert all(25 < each < 112 for each in bits)


@pytest.mark.parametrize("kit", [name for name in load_kits() if name != "practice pad"])
def test_the_order_of_ways_on_a_kit_is_the_order_of_the_index(kit: str) -> None:
    motion = Motion(find_kit(kit), find_player("gigging"))
    spots = find_kit(kit).spots
    home = spots["snare"]
    drums = [name for name in ("high tom", "mid tom", "floor tom", "crash", "ride bow") if name in spots]
    by_index = sorted(drums, key=lambda n: log2(home.distance_cm(spots[n]) / spots[n].size + 1))
    times = [motion.travel_seconds("snare", name) for name in by_index]
    assert all(sooner <= later for sooner, later in pairwise(times))


def test_players_tap_in_the_order_and_the_range_that_was_measured() -> None:
    """A first-year player is slower than a non-drummer who races; a professional comes near the fastest."""
    rates = {name: 1 / player.stroke_seconds for name, player in load_players().items()}
    assert list(rates.values()) == sorted(rates.values())
    assert rates["professional"] == pytest.approx(FASTEST_DRUMMER, rel=0.1)
    assert DRUMMERS <= rates["gigging"] <= FASTEST_DRUMMER
    assert OTHERS <= rates["steady"] <= DRUMMERS
    assert OTHERS / 2 < rates["first-year"] < OTHERS


def test_one_hand_on_a_snare_has_that_rate_as_its_ceiling() -> None:
    motion = Motion(find_kit("five-piece"), find_player("professional"))
    assert 1 / motion.time_stroke("snare", "snare", Limb.RIGHT) == pytest.approx(FASTEST_DRUMMER, rel=0.1)
