import io

import numpy as np
import pytest
import soundfile

from fillwright.music.timing import Feel
from fillwright.pack.practice.sounds import PULSE_AT, pack_sounds
from fillwright.pack.practice.strokes import build_page_score


@pytest.fixture
def strokes(lesson):
    _, (fill, *_) = lesson()
    return build_page_score(fill.phrase, Feel()).strokes


def decoded(made):
    samples, rate = soundfile.read(io.BytesIO(made.recording), dtype="float32")
    assert rate == 44100
    return samples


def test_every_sound_and_the_click_are_there_at_every_loudness(strokes, tones):
    made = pack_sounds(strokes, 1, tones())
    assert set(made.sounds) == {stroke.sound for stroke in strokes} | {"click", "accented click"}
    for name, sound in made.sounds.items():
        wanted = {stroke.velocity for stroke in strokes if stroke.sound == name} or {112}
        assert [layer.velocity for layer in sound.layers] == sorted(wanted)


def test_graces_and_bounces_have_layers_of_their_own(lesson, tones):
    _, (flams, *_) = lesson("flam accent", "shuffle")
    made = pack_sounds(build_page_score(flams.phrase, Feel()).strokes, 1, tones())
    assert 45 in [layer.velocity for layer in made.sounds["snare"].layers]
    _, (buzz, *_) = lesson("multiple bounce roll")
    made = pack_sounds(build_page_score(buzz.phrase, Feel()).strokes, 1, tones())
    assert [layer.velocity for layer in made.sounds["snare buzz"].layers] == [20, 48]


def test_sounds_that_come_often_vary_more(strokes, tones):
    bank = tones(most=9)
    counted = {
        (name, layer.velocity): len(layer.shots)
        for name, sound in pack_sounds(strokes, 1, bank).sounds.items()
        for layer in sound.layers
    }
    assert counted["hi-hat", 80] == 5
    assert counted["crash", 112] == 3
    assert counted["click", 112] == 1
    seldom = pack_sounds(strokes, 100, bank)
    assert {len(layer.shots) for sound in seldom.sounds.values() for layer in sound.layers} <= {1, 2}


def test_a_bank_with_fewer_variations_is_not_packed_twice(strokes, tones):
    made = pack_sounds(strokes, 1, tones(most=1))
    assert {len(layer.shots) for sound in made.sounds.values() for layer in sound.layers} == {1}


def test_every_sound_lies_where_it_is_said_to_lie_behind_the_pulse(strokes, tones):
    bank = tones()
    made = pack_sounds(strokes, 1, bank)
    samples = decoded(made)
    top = int(np.argmax(samples[: 2 * PULSE_AT, 0]))
    for name, sound in made.sounds.items():
        for layer in sound.layers:
            for index, (start, length) in enumerate(layer.shots):
                found = samples[top + start : top + start + length, 0]
                true = bank.get_shot(name, layer.velocity, index)[:length, 0]
                likeness = np.dot(found, true) / np.sqrt(np.dot(found, found) * np.dot(true, true))
                assert likeness > 0.98, (name, layer.velocity, index)
                before = samples[top + start - 900 : top + start - 400, 0]
                assert np.abs(before).max() < 0.02 * np.abs(true).max() + 0.002


def test_the_slope_of_loudness_is_measured(lesson, tones):
    _, (fill, *_) = lesson("flam accent", "shuffle")
    made = pack_sounds(build_page_score(fill.phrase, Feel()).strokes, 1, tones())
    assert made.sounds["snare"].power == pytest.approx(2.0, abs=0.01)
    assert made.sounds["click"].power == 1.7  # one layer: the usual one


def test_what_can_no_longer_be_heard_is_cut(strokes):
    class Long:
        def get_shot(self, *_):
            made = np.full((60000, 2), 1e-5, np.float32)
            made[:3000] = 0.5
            return made

    made = pack_sounds(strokes, 1, Long())
    assert {
        length for sound in made.sounds.values() for layer in sound.layers for _, length in layer.shots
    } == {3000}


def test_silence_is_a_sound_too(strokes):
    class Mute:
        def get_shot(self, *_):
            return np.zeros((100, 2), np.float32)

    assert pack_sounds(strokes, 1, Mute()).sounds["snare"].power == 1.7


def test_the_same_bytes_twice(strokes, tones):
    assert pack_sounds(strokes, 1, tones()).recording == pack_sounds(strokes, 1, tones()).recording
