"""Onsets of finished files, found by an independent detector.

It looks for rises of energy above 2 kHz in the decoded file: the energy of the coming millisecond against the
strongest millisecond of the eight before. What it finds is held against `music.timing.time_phrase`.

Source: Common practice (rises of high-frequency energy as onsets; no source)
Source: scipy (Butterworth filter, sliding maximum)
"""

import io
from dataclasses import replace
from fractions import Fraction

import numpy as np
import pytest
import soundfile
from scipy.ndimage import maximum_filter1d
from scipy.signal import butter, sosfilt

from fillwright.music.grooves import find_groove
from fillwright.music.hit import Hit
from fillwright.music.phrase import Fill, build_landing, build_phrase, locate_last_beats
from fillwright.music.stroke import Kind, Level, Limb, Stroke
from fillwright.music.surfaces import find_surface
from fillwright.music.timing import time_phrase
from fillwright.sound.files.encode import SUFFIXES, encode_audio
from fillwright.sound.playalong.options import Options
from fillwright.sound.playalong.render import render
from fillwright.sound.playalong.sections import unroll_repeats

MS = 0.001
WINDOW, LOOK_BACK, APART = 44, 352, 350
RISE, FLOOR = 2.4, 1e-4


def onsets(samples, rate):
    """Seconds of every rise of energy."""
    high = sosfilt(butter(2, 2000, "high", fs=rate, output="sos"), samples.mean(axis=1).astype(np.float64))
    edge = np.zeros(500)
    total = np.concatenate([[0.0], np.cumsum(np.concatenate([edge, high**2, edge]))])
    energy = total[WINDOW:] - total[:-WINDOW]
    recent = maximum_filter1d(energy, LOOK_BACK, origin=LOOK_BACK // 2 - 1)[:-WINDOW]
    before = np.concatenate([np.zeros(WINDOW), recent])
    rise = energy - RISE * before
    top = (rise == maximum_filter1d(rise, 2 * APART + 1)) & (rise > FLOOR * energy.max())
    return (np.flatnonzero(top) - len(edge)) / rate


def fill_of(names, kinds=(Kind.SINGLE,), groove="straight eighths"):
    """A bar of sixteenths on these surfaces after three bars of groove, with its landing."""
    found = find_groove(groove)
    step = Fraction(1, 16)
    hits = tuple(
        Hit(
            at=index * step,
            length=step,
            stroke=Stroke(
                hand=(Limb.RIGHT, Limb.LEFT)[index % 2],
                kind=kinds[index % len(kinds)],
                level=Level.TAP if index % 4 else Level.ACCENT,
            ),
            surface=find_surface(names[index * len(names) // 16]),
        )
        for index in range(16)
    )
    span = locate_last_beats(found.meter, 4, Fraction(4))
    return build_phrase(found, Fill(span=span, hits=hits), land=build_landing(found.meter, Limb.RIGHT))


FLAMS = (Kind.FLAM, Kind.SINGLE, Kind.SINGLE, Kind.SINGLE)
DRAGS = (Kind.DRAG, Kind.SINGLE, Kind.SINGLE, Kind.SINGLE)
ROUND_THE_KIT = ("snare", "high tom", "mid tom", "floor tom")
CASES = {
    "sixteenths on the snare": (fill_of(("snare",)), 90, 1),
    "round the kit twice": (fill_of(ROUND_THE_KIT), 110, 2),
    "flams on the snare": (fill_of(("snare",), FLAMS), 80, 1),
    "flams round the kit": (fill_of(ROUND_THE_KIT, FLAMS), 80, 1),
    "drags": (fill_of(("snare",), DRAGS), 70, 1),
    "ghost notes": (fill_of(ROUND_THE_KIT, groove="funk with ghost notes"), 90, 1),
    "ride": (fill_of(ROUND_THE_KIT, groove="swing ride"), 100, 1),
    "open hi-hat": (fill_of(ROUND_THE_KIT, groove="off-beat open hi-hat"), 120, 1),
    "fast": (fill_of(("snare", "floor tom")), 160, 1),
}


def written(case, repeats, tempo, start):
    """Onsets as the timeline has them, grace notes included."""
    timed = time_phrase(unroll_repeats(case, repeats), tempo)
    return np.unique([start + at for one in timed for at in (one.onset_seconds, *one.grace_seconds)])


@pytest.mark.parametrize("suffix", SUFFIXES)
@pytest.mark.parametrize("name", CASES)
def test_every_onset_is_heard_within_a_millisecond(name, suffix):
    case, tempo, repeats = CASES[name]
    audio = render(case, tempo, Options(count_in_bars=0, repeats=repeats))
    samples, rate = soundfile.read(io.BytesIO(encode_audio(audio, suffix)), dtype="float32")
    found = onsets(samples, rate)
    expected = written(case, repeats, tempo, audio.start_seconds)
    errors = np.array([found[np.argmin(np.abs(found - at))] - at for at in expected])
    assert np.abs(errors).max() <= 1 * MS
    assert abs(np.median(errors)) <= 0.25 * MS
    # and nothing is heard where nothing was written
    assert len(found) <= len(expected) * 1.03


@pytest.mark.parametrize("late_ms", [-3, 3])
def test_the_detector_notices_a_stroke_that_is_off(late_ms):
    """The check above can fail: it detects a shift of three milliseconds."""
    case = fill_of(("snare",))
    hits = case.bars[3].hits
    whole_seconds = 4 * 60 / 90
    moved = replace(hits[5], at=hits[5].at + Fraction(late_ms, 1000) / Fraction(whole_seconds))
    off = replace(
        case, bars=(*case.bars[:3], replace(case.bars[3], hits=(*hits[:5], moved, *hits[6:])), *case.bars[4:])
    )
    found = onsets(render(off, 90, Options(count_in_bars=0)).samples, 44_100)
    expected = written(case, 1, 90, 0.0)
    errors = [found[np.argmin(np.abs(found - at))] - at for at in expected]
    assert sum(abs(error) > 2 * MS for error in errors) == 1
    assert max(errors, key=abs) == pytest.approx(late_ms * MS, abs=1 * MS)
