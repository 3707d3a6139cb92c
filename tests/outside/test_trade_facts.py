"""What every drummer and teacher knows.

Source: Common practice
"""

from __future__ import annotations

from collections import defaultdict
from fractions import Fraction

import pytest

from fillwright.music.grooves import Groove, find_groove, load_grooves
from fillwright.music.hit import Hit
from fillwright.music.meter import find_meter, list_meters
from fillwright.music.phrase import Fill, Part, build_landing, build_phrase, locate_last_beats
from fillwright.music.rudiments import find_figure
from fillwright.music.stroke import Level, Limb, Stroke
from fillwright.music.surfaces import find_surface

QUARTER = Fraction(1, 4)
FOUR = find_meter("4/4")
EACH_GROOVE = pytest.mark.parametrize("groove", load_grooves(), ids=lambda groove: groove.name)


def whole_bar_fill() -> Fill:
    hit = Hit(at=Fraction(0), length=QUARTER, stroke=Stroke(hand=Limb.RIGHT), surface=find_surface("snare"))
    return Fill(span=locate_last_beats(FOUR, 4, Fraction(4)), hits=(hit,))


def test_a_phrase_is_three_bars_of_groove_one_of_fill_and_the_landing() -> None:
    made = build_phrase(find_groove("straight eighths"), whole_bar_fill(), land=build_landing(FOUR, Limb.RIGHT))
    assert [bar.part for bar in made.bars] == [Part.GROOVE] * 3 + [Part.FILL, Part.LANDING]


def test_the_landing_is_a_crash_doubled_by_the_kick_on_one() -> None:
    hits = build_landing(FOUR, Limb.RIGHT)
    assert {hit.surface.name for hit in hits} == {"crash", "kick"}
    assert {hit.at for hit in hits} == {Fraction(0)}


@pytest.mark.parametrize("beats", ["1", "3/2", "2", "5/2", "3", "4"])
def test_the_groove_plays_on_up_to_the_first_stroke_of_the_fill(beats: str) -> None:
    groove = find_groove("straight eighths")
    fill = Fill(span=locate_last_beats(FOUR, 4, Fraction(beats)), hits=())
    hats = [hit.at for hit in build_phrase(groove, fill).hits() if hit.surface.name == "hi-hat"]
    assert hats == [Fraction(n, 8) for n in range(int(fill.span.start * 8))]


def test_the_single_paradiddle_in_sixteenths_takes_two_beats_for_both_leads() -> None:
    paradiddle = find_figure("single paradiddle")
    sixteenths = paradiddle.rhythms[0]
    assert sixteenths.name == "sixteenths"
    assert paradiddle.alternates
    assert 2 * sum(sixteenths.lengths) == 2 * QUARTER


@pytest.mark.parametrize(
    ("figure", "first"),
    [
        ("flam accent", "triplets"),
        ("Swiss Army triplet", "triplets"),
        ("double paradiddle", "sextuplets"),
        ("single paradiddle-diddle", "sextuplets"),
        ("triple paradiddle", "sixteenths"),
        ("flam tap", "sixteenths"),
        ("five stroke roll", "four thirty-seconds and an eighth"),
        ("single stroke four", "a sixteenth-note triplet and an eighth"),
    ],
)
def test_the_feel_a_rudiment_is_known_in(figure: str, first: str) -> None:
    assert find_figure(figure).rhythms[0].name == first


def test_short_rudiments_take_one_beat_in_their_first_feel() -> None:
    for name in (
        "five stroke roll",
        "seven stroke roll",
        "single ratamacue",
        "single dragadiddle",
        "flam drag",
    ):
        assert sum(find_figure(name).rhythms[0].lengths) == QUARTER, name


@pytest.mark.parametrize("name", list_meters())
def test_every_meter_has_a_groove(name: str) -> None:
    assert [groove for groove in load_grooves() if groove.meter.name == name]


def at_once(groove: Groove) -> list[list[Hit]]:
    together: defaultdict[Fraction, list[Hit]] = defaultdict(list)
    for hit in groove.hits:
        together[hit.at].append(hit)
    return list(together.values())


@EACH_GROOVE
def test_no_limb_strikes_two_surfaces_at_once(groove: Groove) -> None:
    for hits in at_once(groove):
        limbs = [hit.stroke.hand for hit in hits]
        assert len(set(limbs)) == len(limbs)


@EACH_GROOVE
def test_two_hands_are_enough_and_do_not_meet_on_one_surface(groove: Groove) -> None:
    for hits in at_once(groove):
        struck = [hit.surface.loc for hit in hits if not hit.stroke.hand.is_foot]
        assert len(struck) <= 2
        assert len(set(struck)) == len(struck)


@EACH_GROOVE
def test_a_foot_keeps_the_time(groove: Groove) -> None:
    """The kick on one; a swing ride has the foot hi-hat on 2 and 4 instead (common practice, no source)."""
    feet = {hit.surface.name: hit.at for hit in reversed(groove.hits) if hit.stroke.hand.is_foot}
    if "kick" in feet:
        assert feet["kick"] == 0
    else:
        assert groove.name == "swing ride"
        assert [hit.at for hit in groove.hits if hit.stroke.hand.is_foot] == [Fraction(1, 4), Fraction(3, 4)]


def played(name: str, on: str, *, level: Level | None = None) -> list[Fraction]:
    """Where a groove strikes a surface, in beats from 1."""
    groove = find_groove(name)
    beat = groove.meter.beats[0]
    hits = [hit for hit in groove.hits if hit.surface.name == on and level in (None, hit.stroke.level)]
    return [1 + hit.at / beat for hit in hits]


@pytest.mark.parametrize(
    ("groove", "backbeats"),
    [
        ("straight eighths", [2, 4]),
        ("straight eighths, busy kick", [2, 4]),
        ("sixteenth hi-hat", [2, 4]),
        ("four on the floor", [2, 4]),
        ("off-beat open hi-hat", [2, 4]),
        ("funk with ghost notes", [2, 4]),
        ("shuffle", [2, 4]),
        ("half-time", [3]),
        ("half-time shuffle", [3]),
        ("six-eight", [2]),
        ("slow twelve-eight", [2, 4]),
    ],
)
def test_backbeats(groove: str, backbeats: list[int]) -> None:
    assert played(groove, "snare", level=Level.ACCENT) == backbeats


def test_four_on_the_floor_has_the_kick_on_every_beat() -> None:
    assert played("four on the floor", "kick") == [1, 2, 3, 4]


def test_the_off_beat_hi_hat_opens_between_the_beats() -> None:
    assert [place % 1 for place in played("off-beat open hi-hat", "open hi-hat")] == [Fraction(1, 2)] * 4


def test_a_shuffle_is_the_first_and_the_third_of_every_triplet() -> None:
    for name in ("shuffle", "half-time shuffle"):
        parts = [place % 1 for place in played(name, "hi-hat")]
        assert parts == [Fraction(0), Fraction(2, 3)] * 4


def test_the_half_time_shuffle_ghosts_the_middle_of_every_triplet() -> None:
    ghosts = played("half-time shuffle", "snare", level=Level.GHOST)
    assert [place % 1 for place in ghosts] == [Fraction(1, 3)] * 4


def test_swing_rides_on_the_beat_skips_on_two_and_four_and_closes_the_hi_hat_there() -> None:
    skip = Fraction(2, 3)
    assert played("swing ride", "ride bow") == [1, 2, 2 + skip, 3, 4, 4 + skip]
    assert played("swing ride", "foot hi-hat") == [2, 4]


def test_the_bossa_nova_kick_plays_one_and_three_with_the_eighth_before_each() -> None:
    half = Fraction(1, 2)
    assert played("bossa nova", "kick") == [1, 2 + half, 3, 4 + half]
    assert played("bossa nova", "rim") == [1, 2 + half, 4]


def test_the_train_beat_is_sixteenths_hand_to_hand_with_the_ands_accented() -> None:
    snare = [hit for hit in find_groove("train beat").hits if hit.surface.name == "snare"]
    assert [hit.at for hit in snare] == [Fraction(n, 16) for n in range(16)]
    assert [hit.stroke.hand for hit in snare] == [Limb.RIGHT, Limb.LEFT] * 8
    assert [place % 1 for place in played("train beat", "snare", level=Level.ACCENT)] == [Fraction(1, 2)] * 4


def test_the_sixteenth_hi_hat_is_played_hand_to_hand_and_the_right_hand_leaves_it_for_the_backbeat() -> None:
    hands = [hit for hit in find_groove("sixteenth hi-hat").hits if not hit.stroke.hand.is_foot]
    assert [hit.at for hit in hands] == [Fraction(n, 16) for n in range(16)]
    assert [hit.stroke.hand for hit in hands] == [Limb.RIGHT, Limb.LEFT] * 8


def test_a_waltz_has_the_kick_on_one_and_the_snare_on_two_and_three() -> None:
    assert played("waltz", "kick") == [1]
    assert played("waltz", "snare") == [2, 3]


def test_seven_eight_is_felt_two_two_three() -> None:
    assert find_meter("7/8").beats == (QUARTER, QUARTER, Fraction(3, 8))
    kicks = {hit.at for hit in find_groove("seven-eight").hits if hit.surface.name == "kick"}
    assert kicks <= set(find_meter("7/8").beat_starts)


@pytest.mark.parametrize("name", ["6/8", "9/8", "12/8"])
def test_compound_meters_are_felt_in_dotted_quarters(name: str) -> None:
    assert set(find_meter(name).beats) == {Fraction(3, 8)}
