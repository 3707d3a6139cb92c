import numpy as np
import pytest

from fillwright.sound.model.blow import Blow
from fillwright.sound.model.head import (
    compute_membrane_modes,
    compute_mode_ratios,
    compute_strike_gains,
    render_head,
)
from fillwright.sound.model.part_types import Membrane
from fillwright.sound.signal import SAMPLE_RATE

FIELDS = {
    "hz": 100.0,
    "t60": ((50.0, 1.0), (2000.0, 0.5)),
    "strike": 0.3,
    "contact_ms": 1.5,
    "glide": 0.1,
    "glide_ms": 30.0,
    "air": 1.0,
    "second": (1.7, -10.0),
    "colour": ((100.0, 0.0), (200.0, -12.0)),
}
HEAD = Membrane(**FIELDS)


def blow(halvings=0.0, seed=1):
    return Blow(
        velocity_halvings=halvings,
        tilt_db=0.0,
        stroke_rng=np.random.default_rng(seed),
        drum_rng=np.random.default_rng(99),
    )


def struck_head(changes=None, **how):
    return render_head(Membrane(**{**FIELDS, **(changes or {})}), blow(**how))[:, 0]


def pitch(samples, start_seconds, seconds=0.1):
    """The strongest frequency below 150 Hz."""
    piece = samples[int(start_seconds * SAMPLE_RATE) :][: int(seconds * SAMPLE_RATE)]
    spectrum = np.abs(np.fft.rfft(piece * np.hanning(len(piece)), 1 << 17))
    return np.argmax(spectrum[: 150 * (1 << 17) // SAMPLE_RATE]) * SAMPLE_RATE / (1 << 17)


def brightness(samples):
    power = np.abs(np.fft.rfft(samples)) ** 2
    return np.sum(power * np.arange(len(power))) / np.sum(power) / len(power)


def test_a_head_glides_down_to_its_pitch():
    made = struck_head()
    assert pitch(made, 0.0, 0.06) > 102.5
    assert pitch(made, 0.4) == pytest.approx(100, abs=1)


def test_a_softer_blow_glides_less():
    assert pitch(struck_head(halvings=2.0), 0.0, 0.06) < pitch(struck_head(), 0.0, 0.06) - 1.5


def test_the_glide_ends_without_a_step():
    """No step where the reading between samples ends."""
    made = struck_head({"glide": 0.4, "glide_ms": 15.0})
    jumps = np.abs(np.diff(made, 2))
    place = round(9 * 0.015 * SAMPLE_RATE)
    assert jumps[place - 5 : place + 5].max() < 1.5 * jumps[place - 400 : place - 5].max()


def test_a_soft_blow_is_duller():
    assert brightness(struck_head(halvings=2.0)) < 0.97 * brightness(struck_head())


def test_a_longer_contact_is_duller():
    assert brightness(struck_head({"contact_ms": 4.0})) < brightness(struck_head())


def test_highs_die_first():
    made = struck_head({"t60": ((100.0, 1.0), (400.0, 0.2))})
    assert brightness(made[SAMPLE_RATE // 4 :][: SAMPLE_RATE // 4]) < brightness(made[: SAMPLE_RATE // 4])


def test_strokes_differ_in_pitch_by_a_few_cents_at_most():
    heights = [pitch(struck_head(seed=seed), 0.4, 0.4) for seed in range(8)]
    assert len(set(heights)) > 1
    assert max(heights) / min(heights) < 1.02


def test_the_lugs_of_a_drum_stay_the_same():
    """The same stroke on the same drum is the same sound."""
    assert np.array_equal(struck_head(), struck_head())


def test_a_blow_in_the_centre_drives_no_mode_with_a_nodal_diameter():
    woken = compute_strike_gains(0.0)
    assert woken[compute_membrane_modes().diameters > 0] == pytest.approx(0.0, abs=1e-12)
    assert woken[0] > 1


def test_a_blow_near_the_edge_wakes_the_high_modes_more():
    centre, edge = compute_strike_gains(0.1), compute_strike_gains(0.7)
    assert edge[20:].sum() / edge.sum() > centre[20:].sum() / centre.sum()


def test_without_air_modes_lie_where_an_ideal_membrane_has_them():
    zeros = compute_membrane_modes().zeros
    assert compute_mode_ratios(0.0) == pytest.approx(zeros / zeros[0])


def test_the_second_head_adds_a_mode():
    def at_125(second_db):
        made = struck_head({"second": (1.25, second_db), "glide": 0.001})[SAMPLE_RATE // 10 :]
        return np.abs(np.fft.rfft(made, 1 << 17))[
            round(122 * (1 << 17) / SAMPLE_RATE) : round(128 * (1 << 17) / SAMPLE_RATE)
        ].max()

    assert at_125(0.0) > 5 * at_125(-40.0)
