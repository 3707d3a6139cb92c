"""What is asked of a figure: the material it makes and the spans it fills."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest

from fillwright.craft.brief import (
    TEACHING_ORDER,
    Brief,
    StepKind,
    choose_rhythms,
    find_fewest_beats,
    find_most_beats,
    fit_figure,
)
from fillwright.craft.player.kits import find_kit
from fillwright.craft.player.players import find_player
from fillwright.errors import FitError, SpanError
from fillwright.music.figure import Figure
from fillwright.music.meter import find_meter
from fillwright.music.phrase import locate_last_beats
from fillwright.music.rudiments import find_figure, parse_rhythm
from fillwright.music.sticking import parse_sticking
from fillwright.music.stroke import Limb


def brief(name: str, where: str = "4/4", **asked: object) -> Brief:
    return replace(Brief(figure=find_figure(name), meter=find_meter(where)), **asked)  # type: ignore[arg-type]


def own(sticking: str, values: str) -> Figure:
    strokes = parse_sticking(sticking)
    return Figure(name="own", group="own", strokes=strokes, rhythms=(parse_rhythm(values, len(strokes)),))


def test_an_own_span_is_not_a_step_of_the_teaching_order() -> None:
    assert [kind for kind in StepKind if kind not in TEACHING_ORDER] == [StepKind.OWN_SPAN]


def test_the_default_is_a_steady_player_at_a_five_piece_kit() -> None:
    asked = brief("flam")
    assert (asked.kit, asked.player) == (find_kit("five-piece"), find_player("steady"))
    assert (asked.tempo, asked.per_step, asked.kinds) == (60, 1, TEACHING_ORDER)


def test_a_setting_has_the_kit_the_player_and_the_tempo() -> None:
    kit, player = find_kit("four-piece"), find_player("gigging")
    span = locate_last_beats(find_meter("6/8"), 2, Fraction(1))
    setting = brief("flam", "6/8", kit=kit, player=player, tempo=72).setting(span)
    assert (setting.span, setting.meter.name, setting.kit, setting.player) == (span, "6/8", kit, player)
    assert setting.whole_seconds == pytest.approx(8 / 3 * 60 / 72), "72 dotted quarters a minute"


def test_material_is_the_figure_over_the_span_in_the_first_rhythm_that_fits() -> None:
    found = fit_figure(brief("flam accent", lead=Limb.LEFT), Fraction(1))
    assert (found.rhythm.name, found.span.length, found.chain.length) == ("triplets", *[Fraction(1, 4)] * 2)
    assert next(found.chain.place_strokes()).stroke.hand is Limb.LEFT


def test_the_rhythm_of_a_brief_is_the_only_one() -> None:
    sixteenths = find_figure("flam accent").rhythms[1]
    assert [r.name for r in choose_rhythms(brief("flam accent", rhythm=sixteenths))] == ["sixteenths"]
    with pytest.raises(FitError, match=r"^Flam accent in sixteenths does not fill|^flam accent in sixteenths"):
        fit_figure(brief("flam accent", rhythm=sixteenths), Fraction(2))


def test_a_rhythm_with_too_few_values_is_refused() -> None:
    with pytest.raises(FitError, match=r"has 3 note values for the 4 places of single paradiddle; write one"):
        choose_rhythms(brief("single paradiddle", rhythm=parse_rhythm("8t", 3)))


def test_a_phrase_has_not_more_beats_than_it_has() -> None:
    with pytest.raises(SpanError):
        fit_figure(brief("flam", bars=1), Fraction(5))


@pytest.mark.parametrize(
    ("name", "where", "fewest", "most"),
    [
        ("single paradiddle", "4/4", 1, 4),
        ("nine stroke roll", "4/4", 2, 4),
        ("seventeen stroke roll", "4/4", 3, 4),
        ("flam accent", "6/8", 1, 2),
        ("single stroke roll", "7/8", 1, 3),
    ],
)
def test_the_fewest_and_the_most_beats_that_a_figure_fills(
    name: str, where: str, fewest: int, most: int
) -> None:
    asked = brief(name, where)
    assert (find_fewest_beats(asked), find_most_beats(asked)) == (fewest, most)


def test_a_figure_that_fills_no_whole_beats_has_neither() -> None:
    asked = Brief(figure=own("R L R L R", "4"), meter=find_meter("4/4"))
    assert (find_fewest_beats(asked), find_most_beats(asked)) == (None, None)
