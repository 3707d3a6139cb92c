from itertools import pairwise

import numpy as np
import pytest

from fillwright.errors import UnknownNameError
from fillwright.music.surfaces import load_surfaces
from fillwright.sound.model.instrument import ACCENT_VELOCITY, make_one_shot
from fillwright.sound.model.recipe import load_kit_recipes
from fillwright.sound.playalong.mix import mix
from fillwright.sound.playalong.strikes import Strike, generate_bounces
from fillwright.sound.signal import SAMPLE_RATE

NAMES = sorted(load_kit_recipes().recipes)
VELOCITIES = (40, 80, 112)


def loudest(samples):
    return np.max(np.abs(samples), axis=1)


def centroid(name, velocity=ACCENT_VELOCITY):
    """The mean of three strokes, which are not equally bright."""
    power = np.zeros((1 << 17) + 1)
    for number in range(3):
        power += (
            np.abs(np.fft.rfft(make_one_shot(load_kit_recipes(), name, velocity, number).mean(axis=1), 1 << 18))
            ** 2
        )
    return np.sum(power * np.fft.rfftfreq(1 << 18, 1 / SAMPLE_RATE)) / np.sum(power)


def fundamental(name):
    """The strongest pitch once the glide is over, Hz."""
    body = make_one_shot(load_kit_recipes(), name, ACCENT_VELOCITY, 0)[SAMPLE_RATE // 10 :][
        : SAMPLE_RATE // 4
    ].mean(axis=1)
    spectrum = np.abs(np.fft.rfft(body * np.hanning(len(body)), 1 << 18))
    return np.argmax(spectrum) * SAMPLE_RATE / (1 << 18)


def is_sharp(shot):
    """Return True if a sound reaches a tenth of its peak within 0.3 ms and its peak within 2 ms."""
    height = loudest(shot)
    return (
        np.argmax(height > 0.1 * height.max()) < 0.0003 * SAMPLE_RATE
        and np.argmax(height) < 0.002 * SAMPLE_RATE
    )


@pytest.mark.parametrize("name", [name for name in NAMES if not load_kit_recipes().find_recipe(name).swells])
@pytest.mark.parametrize("velocity", VELOCITIES)
def test_every_attack_is_at_sample_0_and_sharp(name, velocity):
    shots = [
        make_one_shot(load_kit_recipes(), name, velocity, number)
        for number in range(load_kit_recipes().find_recipe(name).variations)
    ]
    assert all(map(is_sharp, shots))


@pytest.mark.parametrize("name", NAMES)
def test_every_tail_ends_at_exactly_zero_without_a_step(name):
    shot = make_one_shot(load_kit_recipes(), name, ACCENT_VELOCITY, 0)
    assert not shot[-1].any()
    assert loudest(shot[-round(0.01 * SAMPLE_RATE) :]).max() < 10 ** (-60 / 20)
    assert loudest(np.diff(shot[-round(0.005 * SAMPLE_RATE) :], axis=0)).max() < 10 ** (-75 / 20)


@pytest.mark.parametrize("name", NAMES)
def test_nothing_clips_and_nothing_leans(name):
    shot = make_one_shot(load_kit_recipes(), name, 127, 0)
    assert np.isfinite(shot).all()
    assert loudest(shot).max() < 1.0
    assert np.abs(shot.mean(axis=0)).max() < 0.02 * loudest(shot).max()


@pytest.mark.parametrize("name", sorted(load_surfaces()))
def test_harder_is_louder_and_brighter(name):
    energy = [np.sum(make_one_shot(load_kit_recipes(), name, velocity, 0) ** 2) for velocity in VELOCITIES]
    assert energy == sorted(energy)
    bright = [centroid(name, velocity) for velocity in VELOCITIES]
    assert bright == sorted(bright)


@pytest.mark.parametrize("name", sorted(load_surfaces()))
def test_variations_differ_yet_belong_together(name):
    first, second = (make_one_shot(load_kit_recipes(), name, ACCENT_VELOCITY, number) for number in range(2))
    length = min(len(first), len(second))
    assert np.abs(first[:length] - second[:length]).max() > 0.01
    assert 10 * np.log10(np.sum(first**2) / np.sum(second**2)) == pytest.approx(0, abs=3.5)


def test_the_same_stroke_is_the_same_bytes():
    for name in ("snare", "crash"):
        assert (
            make_one_shot(load_kit_recipes(), name, 80, 2).tobytes()
            == make_one_shot(load_kit_recipes(), name, 80, 2).tobytes()
        )


def test_samples_lie_on_the_grid_so_that_sums_are_exact():
    shot = make_one_shot(load_kit_recipes(), "snare", 80, 0).astype(np.float64) * 2**20
    assert np.array_equal(shot, np.round(shot))


def test_spectra_climb_from_kick_to_hi_hat():
    order = ["kick", "high tom", "snare", "hi-hat"]
    heights = [centroid(name) for name in order]
    assert heights == sorted(heights)


def test_drums_are_tuned():
    assert 50 <= fundamental("kick") <= 70
    toms = [fundamental(name) for name in ("second floor tom", "floor tom", "mid tom", "high tom")]
    assert toms == sorted(toms)
    assert 60 <= toms[0] < toms[-1] <= 180
    steps = [higher / lower for lower, higher in pairwise(toms)]
    assert all(1.2 < step < 1.4 for step in steps)  # thirds and fourths
    assert 170 <= fundamental("snare") <= 220


def seconds_to(name, db):
    """Return the seconds after which a sound stays so far below its first 10 ms."""
    blocks = make_one_shot(load_kit_recipes(), name, ACCENT_VELOCITY, 0)
    blocks = blocks[: len(blocks) // 441 * 441].reshape(-1, 441 * 2)
    level = np.sqrt(np.mean(blocks.astype(np.float64) ** 2, axis=1))
    return (np.flatnonzero(level > level[0] * 10 ** (db / 20))[-1] + 1) * 0.01


def test_sounds_last_as_long_as_they_should():
    assert seconds_to("hi-hat", -40) < 0.25
    assert seconds_to("foot hi-hat", -40) < 0.3
    assert 0.4 < seconds_to("open hi-hat", -40) < 2.2
    assert 1.0 < seconds_to("crash", -40) < 3.5
    assert seconds_to("splash", -40) < seconds_to("crash", -40) / 2
    assert seconds_to("rim", -40) < 0.25
    assert seconds_to("high tom", -40) < seconds_to("second floor tom", -40)


def test_highs_of_a_crash_die_first():
    shot = make_one_shot(load_kit_recipes(), "crash", ACCENT_VELOCITY, 0).mean(axis=1)

    def high_part(start):
        power = np.abs(np.fft.rfft(shot[int(start * SAMPLE_RATE) :][: SAMPLE_RATE // 4])) ** 2
        return power[len(power) * 8000 // 22050 :].sum() / power.sum()

    assert high_part(1.5) < high_part(0.0) / 2


def test_left_and_right_are_the_drummers():
    def lean(name):
        left, right = np.sum(make_one_shot(load_kit_recipes(), name, ACCENT_VELOCITY, 0) ** 2, axis=0)
        return (right - left) / (right + left)

    assert lean("hi-hat") < lean("high tom") < lean("mid tom") < lean("floor tom") < lean("second floor tom")
    assert lean("crash") < 0 < lean("ride bow")
    assert abs(lean("kick")) < 0.1


def test_a_bell_rings_clearer_than_a_bow():
    def clarity(name):
        power = np.sort(
            np.abs(np.fft.rfft(make_one_shot(load_kit_recipes(), name, ACCENT_VELOCITY, 0).mean(axis=1))) ** 2
        )
        return power[-50:].sum() / power.sum()

    assert clarity("ride bell") > 1.5 * clarity("ride bow")


def test_an_unknown_sound_is_refused():
    with pytest.raises(UnknownNameError, match="no sound in the kit"):
        make_one_shot(load_kit_recipes(), "cowbell", 80, 0)


def test_a_press_is_smooth():
    """Bounces of a buzz run into each other: from one hundredth of a second to the next mere ripples."""
    first = Strike(name="snare", onset_seconds=0.0, velocity=80)
    after = [
        Strike(name="snare buzz", onset_seconds=at, velocity=max(1, round(80 * part)))
        for at, part in generate_bounces(0.4)
    ]
    pressed = (
        mix([first, *after])
        .mean(axis=1)
        .astype(np.float64)[round(0.04 * SAMPLE_RATE) : round(0.38 * SAMPLE_RATE)]
    )
    blocks = pressed[: len(pressed) // 441 * 441].reshape(-1, 441)
    level = 10 * np.log10(np.mean(blocks**2, axis=1))
    assert np.abs(np.diff(level)).max() < 6
    assert np.std(np.diff(level)) < 2.5
