"""Onset detection: strokes, their starts, loudness and timbre."""

import numpy as np
import pytest

from fillwright.listen.onsets.detect import detect_onsets
from fillwright.listen.onsets.prepare import prepare_recording
from fillwright.sound.playalong.mix import mix
from fillwright.sound.playalong.strikes import Strike

RATE = 44_100
NAMES = ("snare", "kick", "hi-hat", "high tom", "floor tom", "ride bow")


def played(*strikes, seconds=None):
    """Return strikes as (name, seconds, velocity) on the modelled kit, in mono."""
    struck = [Strike(name=name, onset_seconds=at, velocity=velocity) for name, at, velocity in strikes]
    return mix(struck, samples=None if seconds is None else round(seconds * RATE)).mean(axis=1)


def seconds_of(detected):
    return [one.seconds for one in detected.onsets]


@pytest.mark.parametrize("name", NAMES)
def test_every_stroke_on_a_drum_is_detected_at_its_time(name):
    places = [0.3 + 0.31 * n for n in range(8)]
    detected = detect_onsets(played(*((name, at, 60 + 8 * n) for n, at in enumerate(places))), RATE)
    assert seconds_of(detected) == pytest.approx(places, abs=0.001)


@pytest.mark.parametrize("gap", [0.012, 0.018, 0.025, 0.04, 0.06])
def test_both_notes_of_a_flam_are_detected(gap):
    places = [0.5, 1.1, 1.7, 2.3]
    strikes = [one for at in places for one in (("snare", at - gap, 45), ("snare", at, 100))]
    found = seconds_of(detect_onsets(played(*strikes), RATE))
    assert found == pytest.approx([t for at in places for t in (at - gap, at)], abs=0.0015)


def test_one_stroke_is_one_onset_in_a_noisy_recording():
    chance = np.random.default_rng(2)
    places = [0.4 + 0.5 * n for n in range(10)]
    clean = played(*(("snare", at, 90) for at in places), seconds=6)
    noisy = clean + 0.01 * np.abs(clean).max() * chance.normal(size=len(clean))
    assert seconds_of(detect_onsets(noisy, RATE)) == pytest.approx(places, abs=0.002)


def test_a_stroke_at_the_start_of_the_recording_is_detected():
    samples = played(("snare", 0.0, 90), ("snare", 0.5, 90))
    assert seconds_of(detect_onsets(samples, RATE)) == pytest.approx([0.0, 0.5], abs=0.001)


@pytest.mark.parametrize("rate", [16_000, 22_050, 32_000, 48_000, 96_000])
def test_other_rates_give_the_same_onsets(rate):
    places = [0.4, 0.9, 1.4, 1.9]
    samples = played(*(("snare", at, 90) for at in places), seconds=3)
    at = np.arange(round(3 * rate)) / rate
    other = np.interp(at, np.arange(len(samples)) / RATE, samples)
    assert seconds_of(detect_onsets(other, rate)) == pytest.approx(places, abs=0.002)


def test_channels_that_cancel_each_other_are_detected():
    places = [0.4, 0.9, 1.4]
    samples = played(*(("snare", at, 90) for at in places))
    assert seconds_of(detect_onsets(np.stack([samples, -samples], axis=1), RATE)) == pytest.approx(
        places, abs=0.001
    )


@pytest.mark.parametrize("samples", [np.zeros(0), np.zeros(10), np.zeros((44_100, 2)), np.full(44_100, np.nan)])
def test_silence_has_no_onsets(samples):
    detected = detect_onsets(samples, RATE)
    assert (detected.onsets, detected.faint) == ((), ())
    assert detected.loudest_db == -120


@pytest.mark.parametrize("seed", range(3))
def test_steady_noise_and_a_steady_tone_have_hardly_an_onset(seed):
    chance = np.random.default_rng(seed)
    tone = np.sin(2 * np.pi * 440 * np.arange(10 * RATE) / RATE)
    assert len(detect_onsets(chance.normal(size=10 * RATE), RATE).onsets) <= 2
    assert len(detect_onsets(tone + 0.01 * chance.normal(size=10 * RATE), RATE).onsets) <= 2


def test_loudness_separates_accents_from_taps_and_follows_the_recordings_level():
    strikes = [("snare", 0.4 + 0.4 * n, 112 if n % 2 else 56) for n in range(8)]
    samples = played(*strikes) * 0.5
    loud = detect_onsets(samples, RATE)
    taps, accents = (np.array([one.loudness_db for one in loud.onsets[start::2]]) for start in (0, 1))
    assert taps.max() + 3 < accents.min()
    soft = detect_onsets(samples / 4, RATE)
    assert [one.loudness_db for one in soft.onsets] == pytest.approx(
        [o.loudness_db - 12.04 for o in loud.onsets], abs=0.1
    )


def test_timbres_separate_drums_whatever_the_loudness_or_a_ringing_crash():
    strikes = [
        (name, 0.4 + 0.35 * n + 2.5 * turn, (70, 105)[turn]) for turn in (0, 1) for n, name in enumerate(NAMES)
    ]
    crash = ("crash", 2.6, 80)
    detected = detect_onsets(played(*sorted([*strikes, crash], key=lambda one: one[1])), RATE)
    at = np.array(seconds_of(detected))
    timbres = {s[:2]: detected.onsets[int(np.argmin(np.abs(at - s[1])))].timbre for s in strikes}
    turns = [[c for (name, when), c in timbres.items() if (when > 2.8) == turn] for turn in (False, True)]
    away = np.linalg.norm(np.array(turns[1])[:, None] - np.array(turns[0])[None], axis=2)
    assert away.argmin(axis=1).tolist() == list(range(len(NAMES)))


def test_the_quality_of_the_recording_is_measured():
    samples = played(*(("snare", 0.4 + 0.4 * n, 100) for n in range(8)), seconds=4)
    samples = samples / np.abs(samples).max()
    noise = 10 ** (-50 / 20) * np.random.default_rng(5).normal(size=len(samples))
    clean, clipped = (
        detect_onsets(samples + noise, RATE),
        detect_onsets(np.clip(6 * samples, -1, 1) + noise / 100, RATE),
    )
    assert clean.noise_db == pytest.approx(-50, abs=4)
    assert clean.clipped_share < 0.02
    assert clipped.clipped_share > 0.2
    assert clean.seconds == 4


def test_a_recording_without_high_frequencies_has_a_low_cutoff():
    samples = played(*(("snare", 0.4 + 0.4 * n, 100) for n in range(8)))
    spectrum = np.fft.rfft(samples)
    spectrum[np.fft.rfftfreq(len(samples), 1 / RATE) > 7_000] = 0
    low = np.fft.irfft(spectrum, len(samples))
    assert detect_onsets(low, RATE).cutoff_hz < 8_500
    assert detect_onsets(samples, RATE).cutoff_hz > 12_000


def test_a_recording_is_prepared_in_mono_at_a_peak_of_one():
    ready = prepare_recording(np.full((200, 2), 0.25), 96_000)
    assert ready.rate == 48_000
    assert ready.seconds == pytest.approx(200 / 96_000)
    assert not ready.signal[: ready.lead].any()
    assert np.abs(ready.signal).max() == pytest.approx(1)
    assert ready.gain_db == pytest.approx(-12.04, abs=1)
