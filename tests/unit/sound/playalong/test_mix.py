import numpy as np
import pytest

from fillwright.errors import UnknownNameError
from fillwright.sound.model.bank import ModelledBank, default_bank
from fillwright.sound.model.modal import RATE
from fillwright.sound.model.recipe import kit
from fillwright.sound.playalong.mix import CHOKE_SECONDS, mix
from fillwright.sound.playalong.strikes import Strike


class Impulses:
    """A bank of single full samples, so that a mix shows where it put them."""

    def __init__(self, length=1):
        self.length = length
        self.asked = []

    def shot(self, name, velocity, index):
        self.asked.append((name, velocity, index))
        made = np.zeros((self.length, 2), np.float32)
        made[:] = velocity / 128
        return made


def at(name, *onsets, velocity=64):
    return [Strike(name=name, onset_seconds=onset, velocity=velocity) for onset in onsets]


def test_every_sound_starts_at_its_sample():
    onsets = [0.0, 0.1234567, 1 / 3, 0.5]
    made = mix(at("snare", *onsets), bank=Impulses())
    assert np.flatnonzero(made[:, 0]).tolist() == [0, 5444, 14700, 22050]
    assert len(made) == 22051


def test_sounds_add_up():
    made = mix(at("snare", 0.0) + at("kick", 0.0, velocity=32), bank=Impulses())
    assert made.tolist() == [[0.75, 0.75]]


def test_strokes_are_counted_by_surface():
    bank = Impulses()
    mix(at("snare", 0.0) + at("kick", 0.0) + at("snare", 0.1) + at("snare", 0.2), bank=bank)
    assert [(name, index) for name, _, index in bank.asked] == [
        ("snare", 0),
        ("kick", 0),
        ("snare", 1),
        ("snare", 2),
    ]


def test_a_given_length_cuts_or_pads():
    assert mix(at("snare", 0.0), samples=10, bank=Impulses(5)).sum() == pytest.approx(5)
    assert len(mix(at("snare", 0.0), samples=3, bank=Impulses(5))) == 3
    assert not mix(at("snare", 1.0), samples=3, bank=Impulses(5)).any()


def test_nothing_played_is_nothing():
    assert mix([]).shape == (0, 2)


def test_a_strike_before_the_start_is_a_mistake():
    with pytest.raises(ValueError, match="before the start"):
        mix(at("snare", -0.01))


def test_an_unknown_sound_is_refused():
    with pytest.raises(UnknownNameError, match="no sound in the kit"):
        mix(at("anvil", 0.0))


@pytest.mark.parametrize("closer", ["hi-hat", "foot hi-hat", "open hi-hat"])
def test_the_next_hi_hat_chokes_an_open_one(closer):
    bank = Impulses(RATE)
    made = mix(at("open hi-hat", 0.0) + at(closer, 0.25, velocity=0), bank=bank)[:, 0]
    shut = RATE // 4
    end = shut + round(CHOKE_SECONDS * RATE)
    assert np.all(made[:shut] == 0.5)
    assert np.all(np.diff(made[shut:end]) <= 0)
    assert made[end - 1] == pytest.approx(0.0, abs=1e-6)
    assert not made[end : RATE - 1].any()


def test_other_drums_do_not_choke_it_nor_it_others():
    played = at("open hi-hat", 0.0) + at("snare", 0.25, velocity=0) + at("crash", 0.3, velocity=0)
    assert np.all(mix(played, bank=Impulses(RATE))[:RATE] == 0.5)
    played = at("crash", 0.0) + at("hi-hat", 0.25, velocity=0)
    assert np.all(mix(played, bank=Impulses(RATE))[:RATE] == 0.5)


def test_a_hi_hat_after_the_tail_changes_nothing():
    made = mix(at("open hi-hat", 0.0) + at("hi-hat", 0.5, velocity=0), bank=Impulses(RATE // 4))
    assert np.all(made[: RATE // 4] == 0.5)


def test_a_choke_near_the_end_of_the_tail_fits():
    length = RATE // 4
    made = mix(at("open hi-hat", 0.0) + at("hi-hat", 0.25 - 0.001, velocity=0), bank=Impulses(length))
    assert made[length - 1, 0] < 0.5


def test_a_choke_silences_the_modelled_hi_hat():
    shut = RATE // 5
    free = mix(at("open hi-hat", 0.0), samples=RATE)
    choked = mix(at("open hi-hat", 0.0) + at("foot hi-hat", 0.2, velocity=1), samples=RATE)
    assert np.array_equal(free[:shut], choked[:shut])
    later = slice(round(0.3 * RATE), round(0.4 * RATE))
    assert np.std(choked[later]) < np.std(free[later]) / 50


def test_a_bank_that_is_still_empty_is_used():
    bank = ModelledBank(kit())
    mix(at("rim", 0.0), bank=bank)
    assert len(bank) > 0


def test_the_bank_is_left_as_it_was():
    before = default_bank().shot("open hi-hat", 64, 0).tobytes()
    mix(at("open hi-hat", 0.0) + at("hi-hat", 0.1))
    assert default_bank().shot("open hi-hat", 64, 0).tobytes() == before
