from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

from fillwright.craft.chains.chain import fill_span
from fillwright.craft.player.kits import find_kit
from fillwright.craft.player.players import find_player
from fillwright.craft.routes.ideas import Idea, list_ideas
from fillwright.craft.routes.route import Setting
from fillwright.craft.routes.taste import Taste, choose_palette
from fillwright.music.meter import find_meter
from fillwright.music.phrase import locate_last_beats
from fillwright.music.rudiments import find_figure
from fillwright.music.stroke import Limb

FOUR = find_meter("4/4")


def found(name: str, beats: int = 4, taste: Taste | None = None, rhythm: int = 0) -> dict[str, Idea]:
    span = locate_last_beats(FOUR, 4, Fraction(beats))
    setting = Setting(
        span=span, meter=FOUR, kit=find_kit("five-piece"), player=find_player("gigging"), tempo=60
    )
    figure = find_figure(name)
    chain = fill_span(figure, figure.rhythms[rhythm], span, FOUR, lead=Limb.RIGHT)
    wanted = taste or Taste()
    made = list_ideas(tuple(chain.place_strokes()), setting, wanted, choose_palette(wanted, setting.kit))
    assert len({(idea.cells, idea.moving) for idea in made}) == len(made)
    return {idea.words: idea for idea in made}


def test_a_paradiddle_repeats_by_figure_by_hand_and_by_beat() -> None:
    made = found("single paradiddle")
    assert made["each repetition alike"].cells == (0, 1, 2, 3) * 4
    assert made["each repetition alike, hand by hand"].cells == (0, 1, 2, 3, 4, 5, 6, 7) * 2
    assert made["a drum or cymbal for each beat"].cells == tuple(n // 4 for n in range(16))
    assert made["free"].size == 16


def test_figures_and_beats_give_different_ideas() -> None:
    made = found("flam accent", 3, rhythm=1)
    assert made["each repetition alike"].size == 3
    assert made["each beat alike"].size == 4
    assert made["a drum or cymbal for each repetition"].size == 4


def test_moving_ideas_go_down_or_up_the_drums_of_the_palette() -> None:
    names = choose_palette(Taste(), find_kit("five-piece"))
    down = found("single paradiddle")["each repetition alike, moving down the kit"]
    moving = (len(names), 0, 0, 0)
    assert down.surfaces(moving, names)[::4] == ("snare", "high tom", "mid tom", "floor tom")
    up = found("single paradiddle")["each repetition alike, moving up the kit"]
    assert up.surfaces(moving, names)[::4] == ("floor tom", "mid tom", "high tom", "snare")


def test_three_repetitions_move_on_the_toms_only() -> None:
    names = choose_palette(Taste(), find_kit("five-piece"))
    down = found("single paradiddle", 3)["each repetition alike, moving down the kit"]
    assert down.surfaces((len(names), 0, 0, 0), names)[::4] == ("high tom", "mid tom", "floor tom")


def test_nothing_moves_on_with_one_tom() -> None:
    assert not [words for words in found("single paradiddle", taste=Taste(surfaces=2)) if "moving" in words]


def test_one_repetition_is_free_and_does_not_move() -> None:
    made = found("single paradiddle", 1)
    assert set(made) == {"free", "one drum or cymbal"}


def test_an_idea_of_fewer_choices_is_cheaper_for_a_regular_taste_only() -> None:
    made = found("single paradiddle")
    assert made["each repetition alike"].price < made["free"].price
    careless = found("single paradiddle", taste=replace(Taste(), regular=0.0))
    assert {idea.price for idea in careless.values()} == {0}
