"""Mixes place every sound at its sample; a loop played over and over is the endless phrase."""

from dataclasses import replace

import numpy as np
import pytest

from fillwright.errors import UnknownNameError
from fillwright.lesson.single_fill import FillChoice, make_single_fill
from fillwright.music.stroke import Kind
from fillwright.sound.files.peak import CEILING_DB, measure_true_peak
from fillwright.sound.model.bank import ModelledBank, default_bank
from fillwright.sound.model.recipe import load_kit_recipes
from fillwright.sound.playalong.mix import CHOKE_SECONDS, mix, mix_loop
from fillwright.sound.playalong.options import Click, Options, Shape
from fillwright.sound.playalong.render import render_loop
from fillwright.sound.playalong.sections import plan_sections
from fillwright.sound.playalong.strikes import Strike
from fillwright.sound.signal import SAMPLE_RATE


class Impulses:
    """A bank of single full samples, so that a mix shows where it put them."""

    def __init__(self, length=1):
        self.length = length
        self.requests = []

    def get_shot(self, name, velocity, index):
        self.requests.append((name, velocity, index))
        shot = np.zeros((self.length, 2), np.float32)
        shot[:] = velocity / 128
        return shot


def at(name, *onsets, velocity=64):
    return [Strike(name=name, onset_seconds=onset, velocity=velocity) for onset in onsets]


def test_every_sound_starts_at_its_sample():
    onsets = [0.0, 0.1234567, 1 / 3, 0.5]
    mixed = mix(at("snare", *onsets), bank=Impulses())
    assert np.flatnonzero(mixed[:, 0]).tolist() == [0, 5444, 14700, 22050]
    assert len(mixed) == 22051


def test_sounds_add_up():
    mixed = mix(at("snare", 0.0) + at("kick", 0.0, velocity=32), bank=Impulses())
    assert mixed.tolist() == [[0.75, 0.75]]


def test_strokes_are_counted_by_surface():
    bank = Impulses()
    mix(at("snare", 0.0) + at("kick", 0.0) + at("snare", 0.1) + at("snare", 0.2), bank=bank)
    assert [(name, index) for name, _, index in bank.requests] == [
        ("snare", 0),
        ("kick", 0),
        ("snare", 1),
        ("snare", 2),
    ]


def test_a_set_length_cuts_or_pads():
    assert mix(at("snare", 0.0), samples=10, bank=Impulses(5)).sum() == pytest.approx(5)
    assert len(mix(at("snare", 0.0), samples=3, bank=Impulses(5))) == 3
    assert not mix(at("snare", 1.0), samples=3, bank=Impulses(5)).any()


def test_a_mix_of_nothing_is_empty():
    assert mix([]).shape == (0, 2)


def test_a_strike_before_the_start_is_a_mistake():
    with pytest.raises(ValueError, match="before the start"):
        mix(at("snare", -0.01))


def test_an_unknown_sound_is_refused():
    with pytest.raises(UnknownNameError, match="no sound in the kit"):
        mix(at("anvil", 0.0))


@pytest.mark.parametrize("closer", ["hi-hat", "foot hi-hat", "open hi-hat"])
def test_the_next_hi_hat_chokes_an_open_one(closer):
    bank = Impulses(SAMPLE_RATE)
    mixed = mix(at("open hi-hat", 0.0) + at(closer, 0.25, velocity=0), bank=bank)[:, 0]
    shut = SAMPLE_RATE // 4
    end = shut + round(CHOKE_SECONDS * SAMPLE_RATE)
    assert np.all(mixed[:shut] == 0.5)
    assert np.all(np.diff(mixed[shut:end]) <= 0)
    assert mixed[end - 1] == pytest.approx(0.0, abs=1e-6)
    assert not mixed[end : SAMPLE_RATE - 1].any()


def test_other_drums_do_not_choke_it_nor_it_others():
    strikes = at("open hi-hat", 0.0) + at("snare", 0.25, velocity=0) + at("crash", 0.3, velocity=0)
    assert np.all(mix(strikes, bank=Impulses(SAMPLE_RATE))[:SAMPLE_RATE] == 0.5)
    strikes = at("crash", 0.0) + at("hi-hat", 0.25, velocity=0)
    assert np.all(mix(strikes, bank=Impulses(SAMPLE_RATE))[:SAMPLE_RATE] == 0.5)


def test_a_hi_hat_after_the_tail_changes_nothing():
    mixed = mix(at("open hi-hat", 0.0) + at("hi-hat", 0.5, velocity=0), bank=Impulses(SAMPLE_RATE // 4))
    assert np.all(mixed[: SAMPLE_RATE // 4] == 0.5)


def test_a_choke_near_the_end_of_the_tail_fits():
    length = SAMPLE_RATE // 4
    mixed = mix(at("open hi-hat", 0.0) + at("hi-hat", 0.25 - 0.001, velocity=0), bank=Impulses(length))
    assert mixed[length - 1, 0] < 0.5


def test_a_choke_silences_the_modelled_hi_hat():
    shut = SAMPLE_RATE // 5
    free = mix(at("open hi-hat", 0.0), samples=SAMPLE_RATE)
    choked = mix(at("open hi-hat", 0.0) + at("foot hi-hat", 0.2, velocity=1), samples=SAMPLE_RATE)
    assert np.array_equal(free[:shut], choked[:shut])
    later = slice(round(0.3 * SAMPLE_RATE), round(0.4 * SAMPLE_RATE))
    assert np.std(choked[later]) < np.std(free[later]) / 50


def test_a_bank_that_is_still_empty_is_used():
    bank = ModelledBank(load_kit_recipes())
    mix(at("rim", 0.0), bank=bank)
    assert len(bank) > 0


def test_mixing_does_not_change_the_bank():
    before = default_bank().get_shot("open hi-hat", 64, 0).tobytes()
    mix(at("open hi-hat", 0.0) + at("hi-hat", 0.1))
    assert default_bank().get_shot("open hi-hat", 64, 0).tobytes() == before


class OneVariation:
    """The modelled kit with one sound for all strokes of a velocity, so that repetitions can be compared."""

    def get_shot(self, name, velocity, _index):
        return default_bank().get_shot(name, velocity, 0)


class LongShots:
    """A bank of sounds of one value, a quarter of a second long."""

    def get_shot(self, _name, velocity, _index):
        return np.full((SAMPLE_RATE // 4, 2), velocity / 128, np.float32)


def delay(strikes, samples):
    """Return the same strikes so many samples later, each on a sample, so that sums can't round differently."""
    return [
        replace(s, onset_seconds=(round(s.onset_seconds * SAMPLE_RATE) + samples) / SAMPLE_RATE)
        for s in strikes
    ]


@pytest.mark.parametrize(
    ("figure", "groove", "tempo"),
    [
        ("flam accent", "straight eighths", 120),
        ("drag", "off-beat open hi-hat", 100),
        ("single paradiddle", "march", 96),
    ],
)
def test_a_loop_repeated_is_the_endless_phrase(figure, groove, tempo):
    """The fourth and fifth of five repetitions, with the tails of the previous ones, are the loop twice."""
    phrase = make_single_fill(FillChoice(figure=figure, step="whole bar", groove=groove, bars=2)).phrase
    (section,) = plan_sections(phrase, (tempo,), Options(count_in_bars=0, click=Click.BEATS), Shape.LOOP)
    length = round(section.end_seconds * SAMPLE_RATE)
    loop = mix_loop(section.list_strikes(), length, bank=OneVariation())
    endless = [
        strike for repetition in range(1, 6) for strike in delay(section.list_strikes(), repetition * length)
    ]
    endless.sort(key=lambda strike: strike.onset_seconds)
    played = mix(endless, bank=OneVariation())
    twice = played[4 * length : 6 * length]
    assert np.abs(np.concatenate([loop, loop])[: len(twice)] - twice).max() < 1e-5
    assert np.abs(loop).max() > 0.1


def test_tails_and_grace_notes_wrap_round_the_loop():
    loop = mix_loop(at("snare", -0.1) + at("kick", 0.2), SAMPLE_RATE // 2, bank=LongShots())[:, 0]
    expected = np.zeros(SAMPLE_RATE // 2)
    expected[: round(0.15 * SAMPLE_RATE)] += 0.5
    expected[round(0.4 * SAMPLE_RATE) :] += 0.5
    expected[round(0.2 * SAMPLE_RATE) : round(0.45 * SAMPLE_RATE)] += 0.5
    assert np.abs(loop - expected).max() < 1e-6


def test_a_sound_longer_than_the_loop_wraps_round_more_than_once():
    loop = mix_loop(at("snare", 0.0), SAMPLE_RATE // 10, bank=LongShots())[:, 0]
    assert set(loop.tolist()) == {1.0, 1.5}


def test_the_first_stroke_chokes_a_hi_hat_open_at_the_end():
    strikes = at("hi-hat", 0.0, velocity=1) + at("open hi-hat", 0.9)
    loop = mix_loop(strikes, SAMPLE_RATE, bank=LongShots())[:, 0]
    shut = round(CHOKE_SECONDS * SAMPLE_RATE)
    assert loop[round(0.95 * SAMPLE_RATE)] == 0.5
    assert loop[shut + 1] == pytest.approx(1 / 128)


def test_a_grace_note_before_the_first_beat_sounds_at_the_end(make_phrase):
    phrase = make_phrase("snare", "kick", "kick", "kick", kind=Kind.FLAM)
    (section,) = plan_sections(phrase, (60,), Options(count_in_bars=0), Shape.LOOP)
    assert section.list_strikes()[0].onset_seconds == pytest.approx(-0.025)
    audio = render_loop(section)
    assert audio.loops
    assert len(audio.samples) == 4 * SAMPLE_RATE
    last = audio.samples[-round(0.03 * SAMPLE_RATE) :]
    assert (
        np.abs(last[round(0.006 * SAMPLE_RATE) :]).max() > 5 * np.abs(last[: round(0.004 * SAMPLE_RATE)]).max()
    )


def test_a_loop_stays_under_the_ceiling_across_its_seam(make_phrase):
    phrase = make_phrase(*["crash", "second crash"] * 8)
    (section,) = plan_sections(phrase, (240,), Options(count_in_bars=0), Shape.LOOP)
    samples = render_loop(section).samples
    assert len(samples) == SAMPLE_RATE
    assert 20 * np.log10(measure_true_peak(np.concatenate([samples, samples]))) <= CEILING_DB + 0.01


def test_a_loop_is_as_long_as_the_nearest_sample(make_phrase):
    (section,) = plan_sections(make_phrase("snare"), (97,), Options(count_in_bars=0), Shape.LOOP)
    assert len(render_loop(section).samples) == round(4 * 60 / 97 * SAMPLE_RATE)
