"""The bench: chains and routes to walk through, any stroke changed, what is out of reach named by stroke."""

from __future__ import annotations

from fractions import Fraction

import pytest

from fillwright.craft.player.kits import find_kit
from fillwright.errors import FitError, TempoError, UnknownNameError
from fillwright.lesson.written_fills import read_fill
from fillwright.music.phrase import Part
from fillwright.music.stroke import Limb
from fillwright.tables.kits_and_grooves import make_groove, make_kit
from fillwright.workbench.edit_fill import EditSettings, check_fill, choose_chain, choose_route

BEAT = Fraction(1)


def own(on="snare", sticking="R L R L", values="16", beats=BEAT):
    return read_fill("mine", beats=beats, sticking=sticking, values=values, on=on)


def test_a_fill_is_calculated_in_its_phrase():
    made = check_fill(EditSettings(), own("snare, snare, high tom, floor tom"))
    assert made.unreachable == ()
    assert made.ceiling is not None
    assert made.ceiling >= 80
    assert [bar.part for bar in made.phrase.bars] == [Part.GROOVE] * 3 + [Part.FILL, Part.LANDING]
    assert made.sheet.tempo == "80"
    assert made.written == own("snare, snare, high tom, floor tom")


def test_what_can_not_be_reached_is_named_stroke_by_stroke():
    made = check_fill(EditSettings(tempo=200), own("snare, crash, floor tom, crash", "R R R R"))
    assert [tight.stroke for tight in made.unreachable] == [1, 2, 3]
    assert all("right hand" in tight.words and ", needs " in tight.words for tight in made.unreachable)
    assert all(tight.words.endswith(" ms") for tight in made.unreachable)
    assert made.ceiling is not None
    assert made.ceiling < 200
    assert check_fill(EditSettings(tempo=made.ceiling), made.written).unreachable == ()


def test_a_kick_under_a_cymbal_counts_with_it():
    made = check_fill(EditSettings(tempo=300), own("snare, crash, crash, crash"))
    assert {tight.stroke for tight in made.unreachable} <= {0, 1, 2, 3}
    assert made.unreachable


def test_numbers_above_the_last_start_again_from_the_first():
    bench = EditSettings(tempo=60)
    first = choose_chain(bench, ("single paradiddle", "single stroke four"), Fraction(4))
    assert first.chains == min(first.count, 1000) > 1
    assert first.routes > 3
    last = choose_chain(bench, ("single paradiddle", "single stroke four"), Fraction(4), chain=-1)
    assert last.chain == first.chains - 1
    routes = [choose_chain(bench, ("single paradiddle",), Fraction(4), route=number) for number in range(6)]
    assert len({(one.fill.route.hits, one.fill.route.graces_on) for one in routes}) == 6
    around = choose_chain(bench, ("single paradiddle",), Fraction(4), route=routes[0].routes + 2)
    assert around == routes[2]
    assert set(around.figures) == {"single paradiddle"}
    assert all(one.fill.unreachable == () for one in routes)


def test_a_chosen_fill_can_be_written_and_checked_again():
    bench = EditSettings(tempo=60, player="professional")
    for route in range(8):
        found = choose_chain(bench, ("flam accent", "flam tap"), Fraction(4), chain=route, route=route)
        again = check_fill(bench, found.fill.written)
        assert again.route.hits == found.fill.route.hits
        assert again.route.graces_on == found.fill.route.graces_on


def test_strokes_of_ones_own_go_other_ways():
    fill = own(sticking="R L (L) - R lR> R L", values="8 16 16 8 8 8 16 16", beats=Fraction(3))
    found = [choose_route(EditSettings(tempo=60), fill, number) for number in range(5)]
    assert len({one.fill.written.on for one in found}) == 5
    assert {one.fill.written.name for one in found} == {"mine"}
    assert choose_route(EditSettings(tempo=60), fill, found[0].routes) == found[0]


def test_a_fill_that_starts_with_the_left_lands_with_the_other_hand_than_its_last():
    made = check_fill(EditSettings(), own(sticking="L R L L"))
    crash = [hit for hit in made.phrase.bars[-1].hits if hit.surface.name == "crash"]
    assert [hit.stroke.hand for hit in crash] == [Limb.RIGHT]


def test_long_fills_make_the_phrase_longer():
    made = check_fill(EditSettings(), own(sticking="R", values="1", beats=Fraction(4)))
    assert len(made.phrase.bars) == 5
    assert EditSettings().make_brief(Fraction(17)).bars == 5


@pytest.mark.parametrize(
    ("bench", "error", "why"),
    [
        (EditSettings(player="nobody"), UnknownNameError, "nobody"),
        (EditSettings(tempo=0), TempoError, "0"),
    ],
)
def test_unknown_names_are_reported(bench, error, why):
    with pytest.raises(error, match=why):
        check_fill(bench, own())


def test_a_groove_and_a_kit_of_ones_own_are_played():
    groove = make_groove("two", {"meter": "3/4", "lines": [{"surface": "kick", "at": "1"}]})
    kit = make_kit("nook", {"from": find_kit("four-piece"), "without": ["crash"]})
    bench = EditSettings(groove=groove, kit=kit, tempo=60)
    made = check_fill(bench, own("snare, snare, high tom, floor tom"))
    assert made.phrase.meter.name == "3/4"
    assert made.phrase.bars[0].hits == groove.hits
    assert made.kit is kit
    with pytest.raises(FitError, match="mine uses the crash, but the nook kit doesn't have one"):
        check_fill(bench, own("crash"))
    surfaces = [
        choose_chain(bench, ("single paradiddle",), Fraction(2), route=number).fill.written.on
        for number in range(9)
    ]
    assert not [name for on in surfaces for name in on if not kit.has(name.split(" with ")[0])]


def test_uneven_fills_are_reported():
    with pytest.raises(FitError, match="make them the same"):
        check_fill(EditSettings(), own(beats=Fraction(2)))
    with pytest.raises(FitError, match="No chain of triple ratamacue and single ratamacue fills"):
        choose_chain(EditSettings(), ("triple ratamacue", "single ratamacue"), Fraction(1, 4))
    with pytest.raises(FitError, match="make them the same"):
        choose_route(EditSettings(), own(beats=Fraction(2)), 0)


def test_a_fill_too_quick_for_every_route_is_reported():
    with pytest.raises(FitError, match="No route of these strokes can be played at 300 bpm"):
        choose_route(EditSettings(tempo=300), own(sticking="R R R R R R R R", values="32"), 0)
    with pytest.raises(FitError, match="This chain can't be played at 300 bpm"):
        choose_chain(EditSettings(tempo=300, player="first-year"), ("double stroke open roll",), Fraction(4))
