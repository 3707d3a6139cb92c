from itertools import pairwise

import numpy as np
import pytest

from fillwright.errors import UnknownNameError
from fillwright.sound.bank import ModelledBank, default_bank
from fillwright.sound.recipe import kit


@pytest.fixture
def bank():
    return ModelledBank(kit())


def test_sounds_are_made_once_when_asked_for(bank):
    assert len(bank) == 0
    first = bank.shot("rim", 80, 0)
    assert len(bank) == 1
    assert bank.shot("rim", 80, 0) is first
    assert len(bank) == 1


def test_neighbours_differ(bank):
    shots = [bank.shot("snare", 80, index).tobytes() for index in range(8)]
    assert all(one != other for one, other in pairwise(shots))


def test_close_velocities_share_a_sound_and_far_ones_do_not(bank):
    assert bank.shot("rim", 80, 0) is bank.shot("rim", 82, 0)
    assert np.abs(bank.shot("rim", 112, 0)).max() > np.abs(bank.shot("rim", 80, 0)).max()
    assert len(bank.shot("rim", 1, 0)) > 1


def test_sounds_can_not_be_spoilt(bank):
    with pytest.raises(ValueError, match="read-only"):
        bank.shot("rim", 80, 0)[0] = 1.0


def test_an_unknown_sound_is_refused(bank):
    with pytest.raises(UnknownNameError, match='called "gong"'):
        bank.shot("gong", 80, 0)


def test_the_default_bank_is_shared():
    assert default_bank() is default_bank()
