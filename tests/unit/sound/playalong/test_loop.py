"""Loops close to the sample: one turn after the other is what would be played without an end."""

from dataclasses import replace

import numpy as np
import pytest

from fillwright.lesson.single_fill import Choice, single
from fillwright.music.stroke import Kind
from fillwright.sound.files.peak import CEILING_DB, true_peak
from fillwright.sound.model.bank import default_bank
from fillwright.sound.model.modal import RATE
from fillwright.sound.playalong.loop import mixed_loop
from fillwright.sound.playalong.mix import CHOKE_SECONDS, mix
from fillwright.sound.playalong.options import Click, Options, Shape
from fillwright.sound.playalong.render import sounded_loop
from fillwright.sound.playalong.sections import planned
from fillwright.sound.playalong.strikes import Strike


class Unvaried:
    """The modelled kit with one sound for all strokes of a velocity, so that turns can be compared."""

    def shot(self, name, velocity, _index):
        return default_bank().shot(name, velocity, 0)


class Long:
    """A bank of sounds of one value, a quarter of a second long."""

    def shot(self, _name, velocity, _index):
        return np.full((RATE // 4, 2), velocity / 128, np.float32)


def at(name, onset, velocity=64):
    return Strike(name=name, onset_seconds=onset, velocity=velocity)


def later(strikes, samples):
    """The same strikes so many samples later, each at its sample: what lies between must not round apart."""
    return [replace(s, onset_seconds=(round(s.onset_seconds * RATE) + samples) / RATE) for s in strikes]


@pytest.mark.parametrize(
    ("figure", "groove", "tempo"),
    [
        ("flam accent", "straight eighths", 120),
        ("drag", "off-beat open hi-hat", 100),
        ("single paradiddle", "march", 96),
    ],
)
def test_turn_after_turn_is_the_endless_phrase(figure, groove, tempo):
    """The third of four turns, its own tails and the ones before in it, is the loop."""
    phrase = single(Choice(figure=figure, step="whole bar", groove=groove, bars=2)).phrase
    (section,) = planned(phrase, (tempo,), Options(count_in_bars=0, click=Click.BEATS), Shape.LOOP)
    length = round(section.end_seconds * RATE)
    loop = mixed_loop(section.strikes(), length, bank=Unvaried())
    endless = [strike for turn in range(1, 6) for strike in later(section.strikes(), turn * length)]
    endless.sort(key=lambda strike: strike.onset_seconds)
    played = mix(endless, bank=Unvaried())
    twice = played[4 * length : 6 * length]
    assert np.abs(np.concatenate([loop, loop])[: len(twice)] - twice).max() < 1e-5
    assert np.abs(loop).max() > 0.1


def test_tails_and_grace_notes_go_round():
    loop = mixed_loop([at("snare", -0.1), at("kick", 0.2)], RATE // 2, bank=Long())[:, 0]
    expected = np.zeros(RATE // 2)
    expected[: round(0.15 * RATE)] += 0.5
    expected[round(0.4 * RATE) :] += 0.5
    expected[round(0.2 * RATE) : round(0.45 * RATE)] += 0.5
    assert np.abs(loop - expected).max() < 1e-6


def test_what_rings_longer_than_a_turn_goes_round_more_than_once():
    loop = mixed_loop([at("snare", 0.0)], RATE // 10, bank=Long())[:, 0]
    assert set(loop.tolist()) == {1.0, 1.5}


def test_a_hi_hat_open_at_the_end_is_shut_at_the_start():
    strikes = [at("hi-hat", 0.0, velocity=1), at("open hi-hat", 0.9)]
    loop = mixed_loop(strikes, RATE, bank=Long())[:, 0]
    shut = round(CHOKE_SECONDS * RATE)
    assert loop[round(0.95 * RATE)] == 0.5
    assert loop[shut + 1] == pytest.approx(1 / 128)


def test_a_grace_note_before_the_first_beat_sounds_at_the_end(make_phrase):
    phrase = make_phrase("snare", "kick", "kick", "kick", kind=Kind.FLAM)
    (section,) = planned(phrase, (60,), Options(count_in_bars=0), Shape.LOOP)
    assert section.strikes()[0].onset_seconds == pytest.approx(-0.025)
    audio = sounded_loop(section)
    assert audio.loops
    assert len(audio.samples) == 4 * RATE
    last = audio.samples[-round(0.03 * RATE) :]
    assert np.abs(last[round(0.006 * RATE) :]).max() > 5 * np.abs(last[: round(0.004 * RATE)]).max()


def test_a_loop_is_held_under_the_ceiling_round_its_seam(make_phrase):
    phrase = make_phrase(*["crash", "second crash"] * 8)
    (section,) = planned(phrase, (240,), Options(count_in_bars=0), Shape.LOOP)
    samples = sounded_loop(section).samples
    assert len(samples) == RATE
    assert 20 * np.log10(true_peak(np.concatenate([samples, samples]))) <= CEILING_DB + 0.01


def test_the_length_is_the_nearest_sample(make_phrase):
    (section,) = planned(make_phrase("snare"), (97,), Options(count_in_bars=0), Shape.LOOP)
    assert len(sounded_loop(section).samples) == round(4 * 60 / 97 * RATE)
