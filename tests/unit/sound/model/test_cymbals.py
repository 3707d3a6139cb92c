from itertools import pairwise

import numpy as np
import pytest

from fillwright.sound.model.blow import Blow
from fillwright.sound.model.cymbals import LONGEST_SECONDS, compute_plate_modes, render_plate, render_stick
from fillwright.sound.model.instrument import ACCENT_VELOCITY, make_one_shot
from fillwright.sound.model.modal import TOP_HZ
from fillwright.sound.model.part_types import Plate, Stick
from fillwright.sound.model.recipe import load_kit_recipes
from fillwright.sound.signal import SAMPLE_RATE

CYMBALS = ("foot hi-hat", "hi-hat", "open hi-hat", "ride bow", "ride bell", "crash", "splash", "china")
FLAT = ((200.0, 0.0), (16_000.0, 0.0))
GONG = Plate(
    cymbal="gong", base_hz=10.0, power=1.9, spectrum=FLAT, t60=((200.0, 3.0), (16_000.0, 1.0)), attack_ms=0.0
)
TIP = Stick(spectrum=FLAT, contact_ms=0.08, late_ms=0.3)


def blow(seed=1, halvings=0.0):
    return Blow(
        velocity_halvings=halvings,
        tilt_db=0.0,
        stroke_rng=np.random.default_rng(seed),
        drum_rng=np.random.default_rng(99),
    )


@pytest.fixture(scope="module")
def strokes():
    """A few accents on every cymbal."""
    return {
        name: [make_one_shot(load_kit_recipes(), name, ACCENT_VELOCITY, number) for number in range(3)]
        for name in CYMBALS
    }


def test_plate_modes_are_many_and_below_the_top():
    hz = compute_plate_modes("gong", 10.0, 1.9)
    assert len(hz) > 600
    assert hz[-1] < TOP_HZ
    assert np.all(np.diff(hz) >= 0)


def test_another_cymbal_has_other_modes():
    assert compute_plate_modes("gong", 10.0, 1.9) is compute_plate_modes("gong", 10.0, 1.9)
    assert not np.array_equal(
        compute_plate_modes("gong", 10.0, 1.9)[:50], compute_plate_modes("bell", 10.0, 1.9)[:50]
    )


def test_fewer_modes_in_the_highs_sound_as_loud_as_all():
    """A flat curve gives as much in each half octave."""
    power = np.abs(np.fft.rfft(render_plate(GONG, blow()).mean(axis=1)[: SAMPLE_RATE // 10])) ** 2
    hz = np.linspace(0, SAMPLE_RATE / 2, len(power))
    loud = [10 * np.log10(power[(hz >= low) & (hz < low * 2)].sum()) for low in (1000, 2000, 4000, 8000)]
    assert np.ptp(loud) < 4


def test_a_plate_is_over_in_time():
    long = Plate(cymbal="gong", base_hz=10.0, power=1.9, spectrum=FLAT, t60=((200.0, 20.0), (16_000.0, 20.0)))
    assert len(render_plate(long, blow())) <= LONGEST_SECONDS * SAMPLE_RATE + 1


def test_a_plate_with_a_rise_time_swells_after_the_blow():
    slow = Plate(
        cymbal="gong",
        base_hz=10.0,
        power=1.9,
        spectrum=FLAT,
        t60=GONG.t60,
        rise_ms=((200.0, 30.0), (16_000.0, 30.0)),
    )
    made = render_plate(slow, blow())
    levels = [np.std(made[round(at * SAMPLE_RATE) :][:300]) for at in (0.0, 0.01, 0.03, 0.08)]
    assert levels == sorted(levels)
    assert levels[0] < levels[-1] / 5


def test_highs_of_a_blow_arrive_first():
    made = render_stick(TIP, blow())[:, 0]
    assert np.argmax(np.abs(made)) < 0.0005 * SAMPLE_RATE
    assert np.abs(made).max() == pytest.approx(1.0)
    early, late = (np.abs(np.fft.rfft(made[start:][:64], 512)) ** 2 for start in (0, 12))
    centre = [np.sum(power * np.arange(len(power))) / np.sum(power) for power in (early, late)]
    assert centre[1] < centre[0]


def test_a_softer_stick_touches_for_longer():
    hard, soft = (np.abs(np.fft.rfft(render_stick(TIP, blow(halvings=h))[:, 0])) for h in (0.0, 2.0))
    half = len(hard) // 2
    assert soft[half:].sum() / soft[:half].sum() < 0.9 * hard[half:].sum() / hard[:half].sum()


@pytest.mark.parametrize("name", CYMBALS)
def test_strokes_in_a_row_are_not_the_same_sound(strokes, name):
    for one, other in pairwise(strokes[name]):
        length = min(len(one), len(other))
        assert np.corrcoef(one[:length].ravel(), other[:length].ravel())[0, 1] < 0.98


@pytest.mark.parametrize("name", CYMBALS)
def test_strokes_in_a_row_are_as_loud(strokes, name):
    peaks = [20 * np.log10(np.abs(stroke).max()) for stroke in strokes[name]]
    assert np.ptp(peaks) < 4


@pytest.mark.parametrize("name", CYMBALS)
def test_mono_loses_little_level(strokes, name):
    """Left and right together are at most 3 dB less than apart."""
    for stroke in strokes[name]:
        assert np.mean(stroke.mean(axis=1) ** 2) > 0.5 * np.mean(stroke**2)


@pytest.mark.parametrize("name", ["crash", "second crash", "splash", "china", "ride bow", "open hi-hat"])
def test_no_single_mode_dominates_the_ring(name):
    """A second after the blow the loudest tone has less than a third of what is heard above 300 Hz."""
    late = make_one_shot(load_kit_recipes(), name, ACCENT_VELOCITY, 0)[SAMPLE_RATE:][: SAMPLE_RATE // 2].mean(
        axis=1
    )
    power = np.abs(np.fft.rfft(late * np.hanning(len(late)))) ** 2
    power = power[300 * len(late) // SAMPLE_RATE :]
    strongest = int(np.argmax(power))
    assert power[max(0, strongest - 3) : strongest + 4].sum() < power.sum() / 3


def test_a_hard_crash_blooms():
    """Its highs are stronger a twentieth of a second after the blow than at once."""
    made = make_one_shot(load_kit_recipes(), "crash", ACCENT_VELOCITY, 0).mean(axis=1)
    powers = [np.abs(np.fft.rfft(made[round(at * SAMPLE_RATE) :][:441])) ** 2 for at in (0.006, 0.06)]
    assert powers[1][40:].sum() > 1.6 * powers[0][40:].sum()
