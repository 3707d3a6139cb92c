from collections import Counter
from dataclasses import replace

import numpy as np
import pytest

from fillwright.errors import UnknownNameError
from fillwright.sound.model.bank import ModelledBank, default_bank, hash_kit, pick_variation, resolve_surface
from fillwright.sound.model.cache import SoundCache
from fillwright.sound.model.instrument import make_one_shot
from fillwright.sound.model.recipe import load_kit_recipes


@pytest.fixture
def bank():
    return ModelledBank(load_kit_recipes())


def test_a_sound_is_calculated_once_with_all_its_variations(bank):
    assert len(bank) == 0
    first = bank.get_shot("rim", 80, 0)
    assert len(bank) == load_kit_recipes().find_recipe("rim").variations
    assert bank.get_shot("rim", 80, 0) is first
    assert {id(bank.get_shot("rim", 80, index)) for index in range(60)} >= {id(first)}
    assert len(bank) == load_kit_recipes().find_recipe("rim").variations


def test_close_velocities_share_a_sound_and_far_ones_do_not(bank):
    assert bank.get_shot("rim", 80, 0) is bank.get_shot("rim", 82, 0)
    assert np.abs(bank.get_shot("rim", 112, 0)).max() > np.abs(bank.get_shot("rim", 80, 0)).max()
    assert len(bank.get_shot("rim", 1, 0)) > 1


def test_sounds_can_not_be_spoilt(bank):
    with pytest.raises(ValueError, match="read-only"):
        bank.get_shot("rim", 80, 0)[0] = 1.0


def test_an_unknown_sound_is_refused(bank):
    with pytest.raises(UnknownNameError, match='called "gong"'):
        bank.get_shot("gong", 80, 0)


def test_the_default_bank_is_shared():
    assert default_bank() is default_bank()
    assert default_bank(mirrored=True) is not default_bank()


def test_soft_and_very_hard_strokes_on_the_snare_are_ghost_notes_and_rimshots(bank):
    assert np.array_equal(
        bank.get_shot("snare", 38, 0),
        make_one_shot(load_kit_recipes(), "snare ghost", 40, pick_variation(0, 13)),
    )
    assert bank.get_shot("snare", 38, 3) is bank.get_shot("snare ghost", 38, 3)
    assert bank.get_shot("snare", 127, 3) is bank.get_shot("snare rimshot", 127, 3)
    assert bank.get_shot("snare", 112, 0) is not bank.get_shot("snare rimshot", 112, 0)


def test_an_articulation_has_a_surface():
    assert resolve_surface("snare buzz") == "snare"
    assert resolve_surface("floor tom") == "floor tom"


@pytest.mark.parametrize("variations", [3, 5, 7, 11, 13])
def test_every_variation_comes_once_then_in_random_order(variations):
    order = [pick_variation(index, variations) for index in range(1000)]
    assert sorted(order[:variations]) == list(range(variations))
    apart = (variations - 1) // 2
    assert all(one not in order[at + 1 : at + 1 + apart] for at, one in enumerate(order))
    assert min(Counter(order).values()) > 1000 / variations / 2
    periods = [period for period in range(1, 200) if order[:500] == order[period : period + 500]]
    assert periods == []


def test_a_sound_of_one_variation_is_always_the_same():
    assert {pick_variation(index, 1) for index in range(20)} == {0}


def test_cached_sounds_are_the_same_to_the_byte(tmp_path, bank):
    first = ModelledBank(load_kit_recipes(), SoundCache(tmp_path, hash_kit(load_kit_recipes())))
    second = ModelledBank(load_kit_recipes(), SoundCache(tmp_path, hash_kit(load_kit_recipes())))
    wanted = bank.get_shot("rim", 80, 2).tobytes()
    assert first.get_shot("rim", 80, 2).tobytes() == wanted
    assert len(list(tmp_path.iterdir())) == 1
    assert second.get_shot("rim", 80, 2).tobytes() == wanted
    assert isinstance(second.get_shot("rim", 80, 2).base, np.ndarray)  # read where it lies


def test_another_recipe_is_another_digest():
    louder = replace(load_kit_recipes(), gain_db=load_kit_recipes().gain_db + 1)
    assert hash_kit(louder) != hash_kit(load_kit_recipes())
    assert hash_kit(load_kit_recipes()) == hash_kit(load_kit_recipes())


def test_an_entry_with_another_number_of_variations_is_not_used(tmp_path):
    cache = SoundCache(tmp_path, "0" * 64)
    cache.put("rim 080", (np.zeros((5, 2), np.float32),))
    assert len(ModelledBank(load_kit_recipes(), cache).get_shot("rim", 80, 0)) > 5
