"""What is heard in the demo: every stroke where it is written, nothing else, at one level.

The ear of `conftest.py` knows only samples. Thresholds were set from what it hears: a main stroke grows by 3.5
times and more, a grace note 30 ms behind another one, or into a ringing cymbal, by 1.5; a shimmering cymbal by
up to 2.3 where nothing is struck.
"""

import mido
import numpy as np
import pyloudnorm
import pytest
import soundfile
from scipy.signal import resample_poly

from fillwright.lesson.file import parse_lesson, read_demo_text
from fillwright.lesson.fills import build_fills
from fillwright.music.stroke import GRACE_VELOCITY, Kind
from fillwright.music.timing import time_phrase

FILLS = [fill.number for fill in build_fills(parse_lesson(read_demo_text())).fills]
MS = 0.001
MAIN_GROWTH, STRANGE_GROWTH = 3.0, 3.3
RINGING = frozenset({"crash", "second crash", "splash", "china", "ride bow", "ride bell", "open hi-hat"})
COVERED_SECONDS = 1.5
"""So long after a ringing cymbal's stroke the next is hard to find in a mix; unit tests hold its place."""
GRACE_ALLOWED_MS = {"mp3": 2, "flac": 1}
"""In lossy files a soft grace note under a cymbal smears by up to 1.6 ms: 2 of 348 do by more than 1 ms."""


def mains_of(path, tempo):
    """Main strokes of the pack's own MIDI file, in seconds at another tempo."""
    file = mido.MidiFile(path)
    (own,) = (message for message in file.tracks[0] if message.type == "set_tempo")
    scale = mido.tempo2bpm(own.tempo) / tempo
    now, found = 0.0, []
    for message in file:
        now += message.time
        if message.type == "note_on" and message.velocity not in (0, GRACE_VELOCITY):
            found.append(now * scale)
    return sorted(found)


def written(pack, fill, tempo):
    """Main strokes, as MIDI and phrase agree on them, grace notes and buzzes, in seconds of the audio."""
    start = 4 * 60 / tempo  # a count-in of one bar of four
    timed = time_phrase(fill.phrase, tempo, pack.lesson.feel)
    mains = sorted(one.onset_seconds for one in timed)
    # the file counts whole microseconds a quarter and 960 ticks: a millisecond is out of reach for both
    assert mains_of(pack.file(fill, "mid"), tempo) == pytest.approx(mains, abs=0.6 * MS)
    graces = [at for one in timed for at in one.grace_seconds]
    buzzes = [
        (start + one.onset_seconds, start + one.onset_seconds + one.length_seconds)
        for one in timed
        if one.hit.stroke.kind is Kind.BUZZ
    ]
    return start + np.array(mains), start + np.array(graces), buzzes


def covering(pack, fill, tempo):
    """When a cymbal inside the fill is struck that rings over what comes next, in seconds of the audio."""
    timed = time_phrase(fill.phrase, tempo, pack.lesson.feel)
    struck = (one for one in timed if fill.phrase.is_in_fill(one.hit.at) and one.hit.surface.name in RINGING)
    return [4 * 60 / tempo + one.onset_seconds for one in struck]


def clicks(fill, tempo, *, on):
    """Clicks: of the count-in, and up to the landing's first beat where they go on."""
    bars = len(fill.phrase.bars) if on else 1
    return np.arange(4 * bars + on) * 60 / tempo


def strangers(heard, known, buzzes):
    """Clear attacks where nothing is written."""
    return [
        (round(float(at), 4), round(float(growth), 2))
        for at, growth in zip(heard.seconds, heard.growth, strict=True)
        if growth > STRANGE_GROWTH
        and np.abs(known - at).min() > MS
        and not any(first <= at < last for first, last in buzzes)
    ]


def check(pack, fill, tempo, ear, *, clicked):
    """Hold one file to what is written; gives what is heard."""
    kind = pack.lesson.audio
    samples, rate = soundfile.read(pack.file(fill, f"{tempo:03d}.{kind}"), dtype="float32")
    heard = ear(samples, rate)
    mains, graces, buzzes = written(pack, fill, tempo)
    covered = covering(pack, fill, tempo)
    for at in mains:
        if any(0 < at - ring < COVERED_SECONDS for ring in covered):
            continue
        off, growth = heard.nearest(at)
        assert abs(off) <= MS, (
            f"{fill.slug} at {tempo}: the stroke at {at:.4f} s is heard {off * 1000:.2f} ms off"
        )
        assert growth >= MAIN_GROWTH, f"{fill.slug} at {tempo}: the stroke at {at:.4f} s is hardly heard"
    for at in graces:
        if any(0 < at - ring < COVERED_SECONDS for ring in covered):
            continue
        off, _ = heard.nearest(at)
        assert abs(off) <= GRACE_ALLOWED_MS[kind] * MS, f"{fill.slug} at {tempo}: grace note at {at:.4f} s"
    known = np.concatenate([mains, graces, clicks(fill, tempo, on=clicked)])
    assert strangers(heard, known, buzzes) == [], f"{fill.slug} at {tempo}"
    return heard


@pytest.mark.parametrize("number", FILLS)
def test_without_click_every_stroke_is_heard_and_nothing_else(bare, ear, number):
    fill = bare.fills[number - 1]
    for tempo in fill.ladder:
        check(bare, fill, tempo, ear, clicked=False)


@pytest.mark.parametrize("number", FILLS)
def test_in_the_demo_every_stroke_is_heard_and_nothing_but_the_click(demo, ear, number):
    fill = demo.fills[number - 1]
    for tempo in fill.ladder:
        heard = check(demo, fill, tempo, ear, clicked=True)
        covered = covering(demo, fill, tempo)
        for at in clicks(fill, tempo, on=True):
            if any(0 < at - ring < COVERED_SECONDS for ring in covered):
                continue
            off, growth = heard.nearest(at)
            assert abs(off) <= MS
            assert growth >= MAIN_GROWTH


@pytest.mark.parametrize("late_ms", [-3, 3])
def test_the_ear_notices_a_stroke_that_is_off(bare, ear, late_ms):
    """The checks above can fail: of two halves of a recording one is moved by three milliseconds."""
    fill = bare.fills[20]
    samples, rate = soundfile.read(bare.file(fill, "090.flac"), dtype="float32")
    mains, _, _ = written(bare, fill, 90)
    cut = round((mains[30] - 0.02) * rate)
    moved = (
        np.concatenate([samples[:cut], samples[cut + round(late_ms * MS * rate) :]])
        if late_ms > 0
        else (
            np.concatenate(
                [samples[:cut], np.zeros((round(-late_ms * MS * rate), 2), np.float32), samples[cut:]]
            )
        )
    )
    heard = ear(moved, rate)
    offs = np.array([heard.nearest(at)[0] for at in mains])
    assert np.abs(offs[:30]).max() <= MS
    assert offs[30:] == pytest.approx(np.full(len(offs) - 30, -late_ms * MS), abs=MS)


def test_the_ear_notices_a_stroke_too_many_and_one_too_few(bare, ear):
    fill = bare.fills[0]
    samples, rate = soundfile.read(bare.file(fill, "090.flac"), dtype="float32")
    mains, graces, buzzes = written(bare, fill, 90)
    known = np.concatenate([mains, graces, clicks(fill, 90, on=False)])
    first = round(mains[-6] * rate)  # a stroke of the fill
    blow = samples[first : first + rate // 20].copy()
    place = round((mains[-6] - 0.05) * rate)
    samples[place : place + len(blow)] += blow
    (found,) = strangers(ear(samples, rate), known, buzzes)
    assert found[0] == pytest.approx(mains[-6] - 0.05, abs=MS)
    silent = samples.copy()
    silent[first - 100 :] = 0
    assert abs(ear(silent, rate).nearest(mains[-6])[0]) > MS


def true_peak_db(samples, rate):
    """After ITU-R BS.1770-4, Annex 2: four times oversampling, of the quarter seconds that are loud."""
    loud = 0.7 * np.abs(samples).max()
    highest = 0.0
    for start in range(0, len(samples), rate // 4):
        piece = samples[max(0, start - 64) : start + rate // 4 + 64]
        if np.abs(piece).max() > loud:
            highest = max(highest, float(np.abs(resample_poly(piece, 4, 1, axis=0)).max()))
    return 20 * np.log10(highest)


LEVELS = {"demo": (-22, -1 + 0.3), "bare": (-22.5, -1)}
"""Lowest loudness and highest true peak. Lossy files overshoot; without click the slowest fills are quieter."""


@pytest.mark.parametrize("number", FILLS)
@pytest.mark.parametrize("which", LEVELS)
def test_every_file_has_the_same_level(request, which, number):
    pack = request.getfixturevalue(which)
    lowest_lufs, highest_db = LEVELS[which]
    fill = pack.fills[number - 1]
    for tempo in fill.ladder:
        samples, rate = soundfile.read(pack.file(fill, f"{tempo:03d}.{pack.lesson.audio}"), dtype="float32")
        assert lowest_lufs <= pyloudnorm.Meter(rate).integrated_loudness(samples) <= -17
        assert true_peak_db(samples, rate) <= highest_db
