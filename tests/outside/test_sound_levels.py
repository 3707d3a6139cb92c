"""Loudness and true peak of play-alongs, against independent code.

Source: ITU-R BS.1770-4, Algorithms to measure audio programme loudness and true-peak audio level
Source: pyloudnorm (integrated loudness with gating)
Source: scipy (true peak by four times oversampling with resample_poly)
"""

from dataclasses import replace
from fractions import Fraction

import numpy as np
import pyloudnorm
import pytest
from scipy.signal import resample_poly

from fillwright.music.grooves import find_groove
from fillwright.music.hit import Hit
from fillwright.music.phrase import Fill, build_landing, build_phrase, locate_last_beats
from fillwright.music.stroke import Level, Limb, Stroke
from fillwright.music.surfaces import find_surface
from fillwright.sound.files.peak import measure_true_peak
from fillwright.sound.playalong.options import Options
from fillwright.sound.playalong.render import render
from fillwright.sound.signal import SAMPLE_RATE

TARGET_LUFS = -19.0
ROUND_THE_KIT = ("snare", "high tom", "mid tom", "floor tom")


def sixteenths(names, groove="straight eighths"):
    """Three bars of groove, a bar of sixteenths with accents on the beats, the landing on crash and kick."""
    found = find_groove(groove)
    step = Fraction(1, 16)
    hits = tuple(
        Hit(
            at=index * step,
            length=step,
            stroke=Stroke(
                hand=(Limb.RIGHT, Limb.LEFT)[index % 2],
                level=Level.TAP if index % 4 else Level.ACCENT,
            ),
            surface=find_surface(names[index * len(names) // 16]),
        )
        for index in range(16)
    )
    span = locate_last_beats(found.meter, 4, Fraction(4))
    return build_phrase(found, Fill(span=span, hits=hits), land=build_landing(found.meter, Limb.RIGHT))


def peak_by_resampling(samples):
    return max(np.abs(resample_poly(side.astype(np.float64), 4, 1)).max() for side in samples.T)


@pytest.mark.parametrize("names", [("snare",), ROUND_THE_KIT], ids=["snare", "round the kit"])
@pytest.mark.parametrize("groove", ["straight eighths", "straight eighths, busy kick", "half-time"])
@pytest.mark.parametrize("tempo", [80, 100, 120])
def test_phrases_lie_near_the_target(groove, names, tempo):
    audio = render(sixteenths(names, groove), tempo, Options(count_in_bars=0))
    loudness = pyloudnorm.Meter(SAMPLE_RATE).integrated_loudness(audio.samples.astype(np.float64))
    assert loudness == pytest.approx(TARGET_LUFS, abs=1.5)


@pytest.mark.parametrize(
    "groove", ["straight eighths", "four on the floor", "off-beat open hi-hat", "tom groove"]
)
def test_no_file_is_above_the_ceiling(groove):
    audio = render(sixteenths(ROUND_THE_KIT, groove), 120)
    assert 20 * np.log10(peak_by_resampling(audio.samples)) <= -1.0


@pytest.mark.parametrize("name", ["kick", "snare", "high tom", "crash", "hi-hat"])
def test_true_peak_agrees_with_resampling(name):
    struck = replace(sixteenths((name,)), bars=sixteenths((name,)).bars[3:4])
    samples = render(struck, 100, Options(count_in_bars=0)).samples
    assert 20 * np.log10(measure_true_peak(samples) / peak_by_resampling(samples)) == pytest.approx(0, abs=0.2)


@pytest.mark.parametrize("seed", range(5))
def test_true_peak_agrees_with_resampling_for_noise(seed):
    noise = np.random.default_rng(seed).normal(0, 0.1, (SAMPLE_RATE, 2)).astype(np.float32)
    spectrum = np.fft.rfft(noise, axis=0)
    spectrum[int(len(spectrum) * 0.8) :] = 0  # both filters fall off near half the rate, each in its own way
    smooth = np.fft.irfft(spectrum, SAMPLE_RATE, axis=0).astype(np.float32)
    assert 20 * np.log10(measure_true_peak(smooth) / peak_by_resampling(smooth)) == pytest.approx(0, abs=0.15)
