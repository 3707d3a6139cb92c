from dataclasses import dataclass

import numpy as np
import pytest

from fillwright.sound.model.blow import Blow
from fillwright.sound.model.part_types import Noise, Partials, Plate, SoundPart
from fillwright.sound.model.parts import render_part
from fillwright.sound.signal import SAMPLE_RATE

NOISE = Noise(t60=0.2, spectrum=((20.0, 0.0), (20000.0, 0.0)))
PLATE = Plate(
    cymbal="gong",
    base_hz=40.0,
    power=1.6,
    spectrum=((300.0, 0.0), (9000.0, 0.0)),
    t60=((300.0, 1.0), (9000.0, 0.3)),
)


def blow(halvings=0.0, tilt_db=0.0, seed=1):
    return Blow(
        velocity_halvings=halvings,
        tilt_db=tilt_db,
        stroke_rng=np.random.default_rng(seed),
        drum_rng=np.random.default_rng(99),
    )


def pitch(samples, start_seconds, seconds=0.1):
    piece = samples[int(start_seconds * SAMPLE_RATE) :][: int(seconds * SAMPLE_RATE), 0]
    spectrum = np.abs(np.fft.rfft(piece * np.hanning(len(piece)), 1 << 17))
    return np.argmax(spectrum) * SAMPLE_RATE / (1 << 17)


@pytest.mark.parametrize("part", [NOISE, PLATE], ids=lambda part: type(part).__name__)
def test_a_soft_blow_is_duller(part):
    def brightness(made):
        power = np.abs(np.fft.rfft(made[:, 0])) ** 2
        return np.sum(power * np.arange(len(power))) / np.sum(power) / len(power)

    assert brightness(render_part(part, blow(halvings=1.5, tilt_db=6.0))) < 0.9 * brightness(
        render_part(part, blow())
    )


def test_soft_db_takes_more_from_soft_blows():
    part = Noise(t60=0.2, soft_db=6.0, spectrum=NOISE.spectrum)
    usual, softer = (np.std(render_part(one, blow(halvings=1.0))) for one in (NOISE, part))
    assert 20 * np.log10(usual / softer) == pytest.approx(6.0)


def test_noise_falls_by_60_db_in_its_time():
    made = render_part(NOISE, blow())
    early, late = (np.std(made[start:][:400]) for start in (0, round(0.2 * SAMPLE_RATE) - 400))
    assert 20 * np.log10(early / late) == pytest.approx(60, abs=5)
    assert len(made) > round(0.2 * SAMPLE_RATE)
    assert np.abs(made[-1]).max() < 1e-12


def test_width_sets_the_sides_apart():
    def alike(width):
        left, right = render_part(Noise(t60=0.2, width=width, spectrum=NOISE.spectrum), blow()).T
        return np.corrcoef(left, right)[0, 1]

    assert alike(0.0) == pytest.approx(1.0)
    assert abs(alike(1.0)) < 0.1
    assert 0.3 < alike(0.5) < 0.7


def test_partials_ring_at_their_pitches():
    made = render_part(Partials(tones=((500.0, 0.0, 0.5), (1300.0, -6.0, 0.5))), blow())
    assert pitch(made, 0.05, 0.3) == pytest.approx(500, abs=3)


def test_a_cymbal_keeps_its_modes_from_stroke_to_stroke():
    """Two strokes on one cymbal have the same peaks in their spectra, in other proportions."""
    first, second = (np.abs(np.fft.rfft(render_part(PLATE, blow(seed=seed))[:, 0], 1 << 16)) for seed in (1, 2))
    assert 0.4 < np.corrcoef(first, second)[0, 1] < 0.999


def test_an_unknown_kind_of_part_is_a_bug():
    @dataclass(frozen=True, slots=True, kw_only=True)
    class Gong(SoundPart):
        pass

    with pytest.raises(TypeError, match="no synthesis for Gong"):
        render_part(Gong(), blow())
