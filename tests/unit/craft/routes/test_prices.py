from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

from fillwright.craft.chains.chain import Chain, PlacedStroke, repeat_figure
from fillwright.craft.player.kits import find_kit
from fillwright.craft.player.players import find_player
from fillwright.craft.routes.kbest import INFEASIBLE
from fillwright.craft.routes.prices import find_strong_places, price_strokes
from fillwright.craft.routes.route import Setting
from fillwright.craft.routes.taste import Taste, choose_palette
from fillwright.music.figure import Figure
from fillwright.music.meter import find_meter
from fillwright.music.phrase import locate_last_beats
from fillwright.music.rudiments import parse_rhythm
from fillwright.music.sticking import parse_sticking

FOUR = find_meter("4/4")
TASTE = Taste(surfaces=5)
NAMES = choose_palette(TASTE, find_kit("five-piece"))


def setting(tempo: float = 60, **changes: object) -> Setting:
    made = Setting(
        span=locate_last_beats(FOUR, 4, Fraction(4)),
        meter=FOUR,
        kit=find_kit("five-piece"),
        player=find_player("gigging"),
        tempo=tempo,
    )
    return replace(made, **changes)


def placed(text: str, values: str = "16", statements: int = 1) -> tuple[PlacedStroke, ...]:
    strokes = parse_sticking(text)
    figure = Figure(name="own", group="own", strokes=strokes, rhythms=(parse_rhythm(values, len(strokes)),))
    chain: Chain = repeat_figure(figure, figure.rhythms[0], statements, figure.lead)
    return tuple(chain.place_strokes())


def price(text: str, number: int, where: Setting, own: str, other: str, to: str) -> int:
    one = price_strokes(placed(text), where, TASTE, ())[number]
    count = len(NAMES)
    place = NAMES.index(own) if one.before is not None else 0
    place = place * count + (NAMES.index(other) if one.other is not None else 0)
    return one.prices[place * count + NAMES.index(to)]


def test_a_first_stroke_has_no_stroke_before() -> None:
    first, second, third = price_strokes(placed("R L R"), setting(), TASTE, ())
    assert (first.before, first.other, len(first.prices)) == (None, None, 5)
    assert (second.before, second.other, len(second.prices)) == (None, 0, 25)
    assert (third.before, third.other, len(third.prices)) == (0, 1, 125)


def test_further_is_dearer() -> None:
    near = price("R L R L", 2, setting(), "high tom", "snare", "mid tom")
    far = price("R L R L", 2, setting(), "high tom", "snare", "floor tom")
    assert near < far < INFEASIBLE


def test_crossed_hands_are_dearer() -> None:
    clear = price("R L R L", 2, setting(), "snare", "high tom", "snare")
    crossed = price("R L R L", 2, setting(), "snare", "floor tom", "snare")
    assert clear < crossed


def test_a_double_can_part_only_where_there_is_time() -> None:
    assert price("R R", 1, setting(40), "snare", "snare", "floor tom") < INFEASIBLE
    assert price("R R", 1, setting(150), "snare", "snare", "floor tom") == INFEASIBLE
    assert price("R R", 1, setting(150), "snare", "snare", "snare") < INFEASIBLE


def test_three_in_a_row_by_one_hand_are_no_double() -> None:
    fast = setting(180)
    second, third = price_strokes(placed("R R R"), fast, TASTE, ())[1:]
    assert min(second.prices) < INFEASIBLE
    assert min(third.prices) == INFEASIBLE


def test_a_flam_takes_both_hands_along() -> None:
    three = price_strokes(placed("R L rL R"), setting(), TASTE, ())
    assert (three[2].before, three[2].other) == (1, 0)
    assert (three[3].before, three[3].other) == (2, 2)


def test_a_flam_needs_time_for_its_grace_note() -> None:
    flams = price_strokes(placed("lR lR lR"), setting(150), TASTE, ())
    assert min(flams[2].prices) == INFEASIBLE


def test_a_weak_change_within_a_repetition_costs_more_than_one_on_a_beat() -> None:
    weak = price("R> L R L R L", 4, setting(), "snare", "snare", "high tom")
    taps = price("R> L R L R L", 2, setting(), "snare", "snare", "high tom")
    assert taps < weak + 1  # from the accent the hand may leave freely
    assert price("L> R L R L R L R", 3, setting(), "snare", "snare", "high tom") > taps


def test_strong_places_are_the_accents_or_the_beats() -> None:
    beats = setting().beats()
    assert find_strong_places(placed("R L> R L"), beats) == {Fraction(1, 16)}
    assert find_strong_places(placed("R L R L", statements=2), beats) == {Fraction(0), Fraction(1, 4)}


def crashes(text: str, where: Setting, kicks: tuple[Fraction, ...] = ()) -> list[int]:
    crash = NAMES.index("crash")
    found = price_strokes(placed(text, statements=1), where, TASTE, kicks)
    return [n for n, one in enumerate(found) if min(one.prices[crash :: len(NAMES)]) < INFEASIBLE]


def test_a_crash_wants_a_strong_stroke_and_the_last_may_have_one() -> None:
    assert crashes("R> L R L R> L R L R", setting(50)) == [0, 4, 8]


def test_a_crash_wants_time_for_the_foot() -> None:
    assert crashes("R> L> R> L>", setting(50)) == [0, 1, 2, 3]
    assert crashes("R> L> R> L>", setting(120)) == [0, 2]
    assert crashes("R> L R L R>", setting(120), kicks=(Fraction(1, 16),)) == [4]


def test_a_crash_takes_no_flam() -> None:
    assert crashes("lR> L R L", setting(50)) == [3]


def test_without_the_rule_a_crash_may_fall_anywhere_the_hand_can_reach() -> None:
    assert len(crashes("R L R L", setting(50, doubled=frozenset()))) == 4


def test_no_kick_no_crash() -> None:
    five = find_kit("five-piece")
    bare = replace(five, spots={name: spot for name, spot in five.spots.items() if name != "kick"})
    assert crashes("R> L R L", setting(50, kit=bare)) == []


def test_two_strokes_of_one_hand_at_once_are_infeasible() -> None:
    one, two = placed("R R")
    both = price_strokes((one, replace(two, at=one.at)), setting(20), TASTE, ())
    assert set(both[1].prices) == {INFEASIBLE}
