"""Onsets measured by mir_eval, and compared with librosa's on the same recordings.

The recordings are fills of the demo lesson on the modelled kit, dry and in noise, so that the truth is exact.

Source: mir_eval (onset F-measure)
Source: librosa (onset detector)
"""

import importlib.util
import warnings
from functools import cache

import mir_eval
import numpy as np
import pytest

from fillwright.lesson.file import parse_lesson, read_demo_text
from fillwright.lesson.fills import build_fills
from fillwright.listen.onsets.detect import detect_onsets
from fillwright.music.timing import time_phrase
from fillwright.sound.playalong.mix import mix
from fillwright.sound.playalong.strikes import list_strikes
from tests.needs import need

RATE = 44_100
TOGETHER = 0.002
FILLS = ("single-stroke-four-whole-bar-round-the-kit", "single-paradiddle-whole-bar", "flam-tap")
SNR_DB = (None, 30)


@cache
def recording(slug, snr_db):
    """Return a fill in its phrase as samples, and the seconds of its strokes."""
    made = build_fills(parse_lesson(read_demo_text())).fills
    fill = next(one for one in made if slug in one.slug)
    played = list_strikes(time_phrase(fill.phrase, fill.ladder[-1]), 0.5)
    samples = mix(played).mean(axis=1)
    if snr_db is not None:
        size = np.sqrt(np.mean(samples**2)) * 10 ** (-snr_db / 20)
        samples = samples + size * np.random.default_rng(0).normal(size=len(samples))
    places = np.array([one.onset_seconds for one in played])
    return samples, places[np.diff(places, prepend=-1) > TOGETHER]


def f_measure(truth, found, window):
    return mir_eval.onset.f_measure(truth, np.array(found), window=window)[0]


def ours(samples):
    return [one.seconds for one in detect_onsets(samples, RATE).onsets]


@pytest.mark.parametrize("snr_db", SNR_DB)
@pytest.mark.parametrize("slug", FILLS)
def test_mir_eval_finds_the_onsets_right_within_two_milliseconds(slug, snr_db):
    samples, truth = recording(slug, snr_db)
    assert f_measure(truth, ours(samples), 0.002) > 0.97


@pytest.mark.parametrize("slug", FILLS)
def test_librosa_detects_the_same_strokes_and_is_not_more_exact(slug):
    need(importlib.util.find_spec("librosa"), "the package librosa")
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # librosa's parts use what others deprecate
        import librosa  # noqa: PLC0415 - only where it is there

        samples, truth = recording(slug, 30)
        envelope = librosa.onset.onset_strength(y=samples, sr=RATE, hop_length=128, n_fft=1024)
        theirs = librosa.onset.onset_detect(onset_envelope=envelope, sr=RATE, hop_length=128, units="time")
    assert f_measure(np.array(ours(samples)), theirs, 0.025) > 0.85
    for window in (0.005, 0.010, 0.025):
        assert f_measure(truth, ours(samples), window) >= f_measure(truth, theirs, window)
