import numpy as np
import pytest

from fillwright.sound.model.blow import Blow
from fillwright.sound.model.part_types import Wash, Wires
from fillwright.sound.model.wash import render_wash
from fillwright.sound.signal import SAMPLE_RATE

FIELDS = {
    "spectrum": ((100.0, 0.0), (8000.0, 0.0)),
    "t60": ((100.0, 0.6), (8000.0, 0.15)),
    "contact_ms": 0.3,
}
WIRES = {**FIELDS, "t60": ((100.0, 0.3), (8000.0, 0.3)), "hz": 180.0, "delay_ms": 2.0, "slap": 1.0}


def blow(halvings=0.0, seed=1):
    return Blow(
        velocity_halvings=halvings,
        tilt_db=0.0,
        stroke_rng=np.random.default_rng(seed),
        drum_rng=np.random.default_rng(9),
    )


def brightness(samples):
    power = np.abs(np.fft.rfft(samples)) ** 2
    return np.sum(power * np.arange(len(power))) / np.sum(power) / len(power)


def test_an_accent_starts_at_mean_square_1():
    starts = [render_wash(Wash(**FIELDS), blow(seed=seed))[:400, 0] for seed in range(20)]
    assert np.mean(np.square(starts)) == pytest.approx(1.0, rel=0.2)


def test_bands_decay_at_their_own_speeds():
    made = render_wash(Wash(**FIELDS), blow())[:, 0]
    assert brightness(made[SAMPLE_RATE // 5 :]) < brightness(made[: SAMPLE_RATE // 5]) / 3
    assert len(made) > 0.6 * SAMPLE_RATE
    assert made[-1] == 0


def test_strokes_of_one_loudness_have_one_energy():
    energy = [np.sum(render_wash(Wash(**FIELDS), blow(seed=seed)) ** 2) for seed in range(6)]
    assert 10 * np.log10(max(energy) / min(energy)) < 1.0


def test_softer_strokes_are_duller():
    hard, soft = (render_wash(Wash(**FIELDS), blow(halvings=halvings))[:, 0] for halvings in (0.0, 2.0))
    assert brightness(soft) < 0.9 * brightness(hard)


def test_width_sets_the_sides_apart():
    def alike(width):
        return np.corrcoef(*render_wash(Wash(**FIELDS, width=width), blow()).T)[0, 1]

    assert alike(0.0) == pytest.approx(1.0)
    assert 0.3 < alike(0.5) < 0.75
    assert abs(alike(1.0)) < 0.2


def test_wires_wait_for_the_blow_to_come_through():
    made = np.mean([render_wash(Wires(**WIRES), blow(seed=seed))[:, 0] ** 2 for seed in range(40)], axis=0)
    assert made[:10].mean() < 0.01 * made[200:300].mean()


def test_wires_slap_once_a_cycle_of_their_head_and_calm_down():
    """Their loudness goes up and down at the head's note, twice a cycle squared, less and less."""
    many = np.mean([render_wash(Wires(**WIRES), blow(seed=seed))[:, 0] ** 2 for seed in range(60)], axis=0)
    times = np.arange(len(many)) / SAMPLE_RATE
    flat = many * 10 ** (6 * times / 0.3)

    def swing(start):
        piece = flat[start:][: 10 * SAMPLE_RATE // 180]
        turn = np.exp(-2j * np.pi * 180 * np.arange(len(piece)) / SAMPLE_RATE)
        return abs(np.mean(piece * turn)) / np.mean(piece)

    assert swing(200) > 0.25
    assert swing(200) > 2 * swing(round(0.12 * SAMPLE_RATE))
