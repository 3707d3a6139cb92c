"""Banks of recorded sounds, from sources made of tones."""

from itertools import pairwise

import numpy as np
import pytest

from fillwright.sound.files.loudness import measure_loudness
from fillwright.sound.files.peak import CEILING_DB, measure_true_peak
from fillwright.sound.model.bank import default_bank
from fillwright.sound.playalong.mix import mix
from fillwright.sound.playalong.strikes import Strike
from fillwright.sound.samples import recorded_bank as recordings
from fillwright.sound.samples.recorded_bank import RecordedBank, RecordedStroke
from fillwright.sound.samples.variation import VARIATIONS
from tests.soundfonts import stroke

SNARE_AND_KICK = {"snare": 250.0, "kick": 60.0}


class Tones:
    """A source of one tone for each surface, at a level of its own; it counts the requests."""

    name = "tones"
    digest = "d"

    def __init__(self, tones, *, level=0.1, choked_by=()):
        self.surfaces = tuple(tones)
        self.choked_by = dict(choked_by)
        self._tones, self._level = tones, level
        self.asked = []

    def get_stroke(self, name, velocity, _index):
        self.asked.append(name)
        if name not in self._tones:
            return None
        tone = stroke(self._tones[name], seconds=0.5, level=self._level * velocity / 127)
        samples = np.repeat(tone[:, None], 2, axis=1).astype(np.float32)
        return RecordedStroke(key=(name, velocity), samples=samples, latency=7)


def bank_of(tones=SNARE_AND_KICK, **options):
    warned = []
    return RecordedBank(Tones(tones, **options), warned.append), warned


def standard(bank, names):
    played = recordings._choose_standard(names)
    return mix(played, bank=bank)


def test_the_modelled_kit_plays_missing_sounds_with_one_warning():
    bank, warned = bank_of()
    for index in range(3):
        assert bank.get_shot("crash", 112, index) is default_bank().get_shot("crash", 112, index)
    bank.get_shot("hi-hat", 80, 0)
    assert warned == [
        '"tones" has no sound for crash; the modelled kit plays it.',
        '"tones" has no sound for hi-hat; the modelled kit plays it.',
    ]


def test_clicks_are_the_modelled_kits_without_a_warning():
    bank, warned = bank_of()
    for name in ("click", "accented click"):
        assert bank.get_shot(name, 112, 0) is default_bank().get_shot(name, 112, 0)
    assert warned == []


def test_shots_are_calculated_once_and_neighbours_differ():
    bank, _ = bank_of()
    shots = [bank.get_shot("snare", 80, index) for index in range(VARIATIONS + 1)]
    assert all(one.tobytes() != other.tobytes() for one, other in pairwise(shots))
    assert shots[VARIATIONS] is shots[0]
    assert bank.shots_held == VARIATIONS


def test_shots_end_in_silence_and_can_not_be_spoilt():
    bank, _ = bank_of()
    shot = bank.get_shot("kick", 80, 1)
    assert not shot[-1].any()
    with pytest.raises(ValueError, match="read-only"):
        shot[0] = 1


@pytest.mark.parametrize("level", [0.003, 0.1])
def test_a_bank_is_as_loud_as_the_modelled_kit(level):
    tones = {**SNARE_AND_KICK, "hi-hat": 6000.0}
    bank, _ = bank_of(tones, level=level)
    ours, theirs = (measure_loudness(standard(each, tones)) for each in (bank, default_bank()))
    assert ours == pytest.approx(theirs, abs=0.7)


def test_the_gain_does_not_depend_on_the_first_request():
    gains = set()
    for name in ("snare", "kick", "crash"):
        bank, _ = bank_of()
        bank.get_shot(name, 38, 5)
        gains.add(bank.gain)
    assert len(gains) == 1


def test_a_bank_of_few_sounds_is_matched_on_those():
    """Only a china: as loud as the modelled china, so that it fits the modelled kit around it."""
    bank, _ = bank_of({"china": 3000.0})
    ours, theirs = (measure_loudness(standard(each, ["china"])) for each in (bank, default_bank()))
    assert ours == pytest.approx(theirs, abs=1.0)


def test_a_bank_with_nothing_is_left_alone():
    bank, _ = bank_of({})
    assert bank.gain == 1.0


class Spikes(Tones):
    """Strokes of one high sample with little after it."""

    def get_stroke(self, name, velocity, index):
        take = super().get_stroke(name, velocity, index)
        if take:
            take.samples[0] = 60 * self._level
        return take


def test_spikes_are_not_made_louder_than_the_ceiling():
    bank = RecordedBank(Spikes(SNARE_AND_KICK), print)
    bare = standard(recordings._SourceBank(Spikes(SNARE_AND_KICK)), SNARE_AND_KICK)
    assert 20 * np.log10(bank.gain * measure_true_peak(bare)) == pytest.approx(CEILING_DB, abs=0.01)


def test_a_bank_tells_its_digest_latencies_and_chokes():
    bank, _ = bank_of(choked_by={"snare": frozenset({"kick"})})
    assert (bank.digest, bank.find_latency("snare", 80), bank.find_latency("crash", 80)) == ("d", 7, 0)
    assert bank.choked_by == {"snare": {"kick"}}


def struck(*pairs):
    return [Strike(name=name, onset_seconds=at, velocity=112) for name, at in pairs]


def test_a_bank_may_have_choke_rules_of_its_own():
    free, _ = bank_of()
    choking, _ = bank_of(choked_by={"snare": frozenset({"kick"})})
    played = struck(("snare", 0.0), ("kick", 0.1))
    whole, cut = (mix(played, samples=9000, bank=bank) for bank in (free, choking))
    kick = mix(struck(("kick", 0.1)), samples=9000, bank=free)
    assert np.abs((whole - kick)[5500:]).max() > 0.001
    assert np.abs((cut - kick)[5500:]).max() < 1e-6
    assert np.array_equal(whole[:4410], cut[:4410])


def test_a_bank_of_hi_hats_is_choked_as_every_hi_hat_is():
    bank, _ = bank_of({"open hi-hat": 5000.0, "foot hi-hat": 7000.0})
    alone = mix(struck(("foot hi-hat", 0.1)), bank=bank)
    both = mix(struck(("open hi-hat", 0.0), ("foot hi-hat", 0.1)), bank=bank)
    assert np.abs(both[5500 : len(alone)] - alone[5500:]).max() < 1e-6
