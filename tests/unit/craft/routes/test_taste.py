from __future__ import annotations

import pytest

from fillwright.craft.player.kits import find_kit
from fillwright.craft.routes.taste import Taste, choose_palette, price_stroke
from fillwright.errors import FitError
from fillwright.music.stroke import Level

FIVE = find_kit("five-piece")


@pytest.mark.parametrize("name", ["away", "regular"])
@pytest.mark.parametrize("share", [-0.1, 1.5])
def test_a_share_outside_0_to_1_is_refused(name: str, share: float) -> None:
    with pytest.raises(FitError, match=f'is not a valid value for "{name}"; use 0 to 1'):
        Taste(**{name: share})


def test_a_route_without_surfaces_is_refused() -> None:
    with pytest.raises(FitError, match="A route on 0 surfaces can't be played; use 1 or more"):
        Taste(surfaces=0)


def test_the_palette_grows_from_the_snare_and_stays_on_the_kit() -> None:
    assert choose_palette(Taste(surfaces=1), FIVE) == ("snare",)
    for count in range(1, 9):
        names = choose_palette(Taste(surfaces=count), FIVE)
        assert len(names) == count
        assert all(FIVE.has(name) for name in names)
    assert choose_palette(Taste(surfaces=9), find_kit("practice pad")) == ("snare",)


def test_without_cymbals_there_are_drums_only() -> None:
    assert choose_palette(Taste(surfaces=9, cymbals=False), FIVE) == (
        "snare",
        "floor tom",
        "high tom",
        "mid tom",
    )


def cost(away: float, name: str, level: Level = Level.TAP, *, strong: bool = False) -> int:
    return price_stroke(Taste(away=away), FIVE, name, level=level, strong=strong)


def test_a_taste_for_home_keeps_strokes_on_the_snare_and_a_taste_for_away_sends_them_off() -> None:
    for strong in (False, True):
        assert cost(0.0, "snare", strong=strong) < cost(0.0, "floor tom", strong=strong)
        assert cost(1.0, "snare", strong=strong) > cost(1.0, "floor tom", strong=strong)


def test_accents_leave_the_snare_sooner_than_taps() -> None:
    gain = {
        strong: cost(0.5, "snare", strong=strong) - cost(0.5, "high tom", strong=strong) for strong in (0, 1)
    }
    assert gain[1] > 0 > gain[0]


def test_further_is_dearer_and_a_ghost_note_stays_at_home() -> None:
    assert cost(0.3, "high tom") < cost(0.3, "floor tom")
    assert cost(1.0, "snare", Level.GHOST) < cost(1.0, "high tom", Level.GHOST)
    assert cost(1.0, "snare", Level.GHOST) < cost(1.0, "ride bow", Level.GHOST)


def test_an_ordinary_stroke_on_a_cymbal_has_its_own_price() -> None:
    assert cost(1.0, "hi-hat") > cost(1.0, "high tom")
    assert cost(0.5, "hi-hat", Level.ACCENT, strong=True) < cost(0.5, "hi-hat")
