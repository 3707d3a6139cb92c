import numpy as np
import pytest

from fillwright.sound.samples.attack import find_attack, soften_peaks, trim_end, trim_to_attack
from fillwright.sound.signal import SAMPLE_RATE
from tests.soundfonts import stroke


def stereo(samples):
    return np.repeat(np.asarray(samples, np.float32)[:, None], 2, axis=1)


@pytest.mark.parametrize("wait", [0, 1, 15, 44, 150, 4000, 20_000])
def test_the_attack_is_found_to_the_sample(wait):
    assert find_attack(stereo(stroke(wait=wait))) == wait


@pytest.mark.parametrize("wait", [200, 700, 926])
def test_noise_before_the_stroke_is_not_its_attack(wait):
    """Noise under the stroke, 4 to 21 ms before it."""
    sound = stroke(1000, wait=wait + 50, level=0.9)
    noise = np.random.default_rng(1).normal(0, 0.04, wait)
    sound[50 : 50 + wait] = noise
    assert find_attack(stereo(sound)) == pytest.approx(wait + 50, abs=44)


def test_a_swell_after_the_attack_is_not_waited_for():
    """A crash: a stick, then the cymbal that rises for 100 ms."""
    t = np.arange(SAMPLE_RATE) / SAMPLE_RATE
    wash = np.random.default_rng(1).normal(0, 0.3, SAMPLE_RATE) * np.minimum(1, t / 0.1) * np.exp(-t)
    stick = np.concatenate([np.zeros(100), stroke(3000, seconds=0.01, level=0.5)])
    wash[: len(stick)] += stick
    assert find_attack(stereo(wash)) == pytest.approx(100, abs=44)


def test_silence_has_no_attack():
    assert find_attack(np.zeros((500, 2), np.float32)) == find_attack(np.zeros((0, 2), np.float32)) == 0


def test_samples_before_the_attack_are_removed():
    whole = stereo(stroke(wait=1000))
    cut, latency = trim_to_attack(whole)
    assert latency == 1000 - 16
    assert np.array_equal(cut[16:], whole[1000:])
    assert not cut[:16].any()


def test_trimming_makes_no_step():
    sound = stroke(wait=1000)
    sound[:1000] = 0.05
    cut, _ = trim_to_attack(stereo(sound))
    assert cut[0, 0] == 0
    assert np.abs(np.diff(cut[:16, 0])).max() < 0.01


def test_a_sound_that_starts_at_once_is_left_alone():
    whole = stereo(stroke())
    cut, latency = trim_to_attack(whole)
    assert latency == 0
    assert np.array_equal(cut, whole)


def test_a_sound_shorter_than_its_rise():
    cut, latency = trim_to_attack(stereo([0.0] * 30 + [0.5]))
    assert (len(cut), latency) == (17, 14)


def test_an_end_off_zero_fades():
    made = trim_end(stereo(np.full(SAMPLE_RATE // 2, 0.3)))
    assert len(made) == SAMPLE_RATE // 2
    assert not made[-1].any()
    assert np.abs(np.diff(made[:, 0])).max() < 0.001
    assert made[100, 0] == np.float32(0.3)


def test_an_inaudible_end_is_cut_off():
    assert (
        len(trim_end(stereo(np.concatenate([stroke(seconds=0.1), np.full(SAMPLE_RATE, 1e-6)]))))
        < SAMPLE_RATE // 5
    )
    assert len(trim_end(np.zeros((900, 2), np.float32))) == 1


def test_an_ended_sound_can_not_be_spoilt():
    with pytest.raises(ValueError, match="read-only"):
        trim_end(stereo(stroke()))[0] = 1


def test_high_peaks_are_pressed_and_others_left():
    low = stereo(stroke(level=0.5))
    assert soften_peaks(low) is low
    ramp = stereo(np.linspace(-3, 3, 1001))
    made = soften_peaks(ramp)
    assert np.all(np.diff(made[:, 0]) >= 0)
    assert np.abs(made).max() <= 0.85
    inside = np.abs(ramp) <= 0.5
    assert np.array_equal(made[inside], ramp[inside])
    assert np.allclose(made, -made[::-1])


def test_a_recording_that_breaks_off_is_closed():
    """Half a sound, then silence: as FluidSynth returns a sample whose end is off zero."""
    cut, _ = trim_to_attack(stereo(np.concatenate([np.full(4000, 0.3), np.zeros(2000)])))
    assert np.abs(np.diff(cut[1000:, 0])).max() < 0.01
    assert np.all(cut[:3500] == np.float32(0.3))
    assert not cut[4000:].any()
