"""A SoundFont through our bank against FluidSynth's own playing of the same MIDI file.

FluidSynth reads a MIDI file by a clock of whole milliseconds and starts notes on blocks of 64 samples, after a
wait that is the same for all; a recording has its own silence before the attack, which it plays and we take
away. Beyond these nothing may differ.

Source: FluidSynth (its command line plays the MIDI file with Debian's timgm6mb-soundfont)
"""

import shutil
import subprocess
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest
import soundfile
from scipy.signal import butter, correlate, sosfilt

from fillwright.music.grooves import find_groove
from fillwright.music.hit import Hit
from fillwright.music.phrase import Bar, Part, Phrase
from fillwright.music.stroke import Level, Limb, Stroke
from fillwright.music.surfaces import find_surface
from fillwright.music.timing import time_phrase
from fillwright.score.export.midi import encode_midi
from fillwright.sound.playalong.mix import mix
from fillwright.sound.playalong.strikes import list_strikes
from fillwright.sound.signal import SAMPLE_RATE
from fillwright.tables.sounds import open_sounds
from tests.needs import need

SOUNDFONT = Path("/usr/share/sounds/sf2/TimGM6mb.sf2")
BLOCK, CLOCK = 64, 44
ROUND = (
    *("snare", "kick", "high tom", "hi-hat", "crash", "floor tom"),
    *("rim", "mid tom", "ride bow", "open hi-hat", "foot hi-hat", "ride bell"),
)
TEMPO = 113
BEFORE, PART, REACH = 200, 1600, 900


def phrase_of(names, bars):
    """Eighths on one surface after the other, at every level."""
    groove = find_groove("straight eighths")
    made, number = [], 0
    for _ in range(bars):
        hits = []
        for place in range(8):
            found = find_surface(names[number % len(names)])
            hand = found.foot or (Limb.RIGHT, Limb.LEFT)[number % 2]
            stroke = Stroke(hand=hand, level=tuple(Level)[number % 2])
            hits.append(Hit(at=Fraction(place, 8), length=Fraction(1, 8), stroke=stroke, surface=found))
            number += 1
        made.append(Bar(part=Part.FILL, hits=tuple(hits)))
    return Phrase(meter=groove.meter, bars=tuple(made))


def by_fluidsynth(phrase, folder):
    """Return FluidSynth's own audio of our MIDI file."""
    (folder / "a.mid").write_bytes(encode_midi(phrase, TEMPO))
    quiet = ["-n", "-i", "-q", "-R", "0", "-C", "0", "-g", "0.6", "-r", str(SAMPLE_RATE)]
    command = ["fluidsynth", *quiet, "-F", "a.wav", str(SOUNDFONT), "a.mid"]
    subprocess.run(command, cwd=folder, check=True, capture_output=True, timeout=120)
    return soundfile.read(str(folder / "a.wav"), dtype="float64")[0]


def high(samples):
    """Return one side without the low frequencies that ring on from stroke to stroke."""
    return sosfilt(butter(2, 150, "high", fs=SAMPLE_RATE, output="sos"), samples.sum(axis=1))


def lag(ours, theirs):
    """Return by how many samples a piece of ours is later in theirs, and their correlation."""
    found = correlate(theirs, ours, "valid")
    sizes = np.sqrt(np.convolve(theirs**2, np.ones(len(ours)), "valid") * np.sum(ours**2))
    best = int(np.argmax(found / sizes))
    return best, found[best] / sizes[best]


@pytest.fixture(scope="module")
def compared(tmp_path_factory):
    """Return for each stroke its name, its lag without the removed latency, and the correlation."""
    need(shutil.which("fluidsynth"), "fluidsynth, Debian's package of that name")
    need(SOUNDFONT.exists(), f"{SOUNDFONT}, Debian's timgm6mb-soundfont")
    phrase = phrase_of(ROUND, 6)
    played = list_strikes(time_phrase(phrase, TEMPO))
    bank = open_sounds(SOUNDFONT, warn=pytest.fail)
    ours = high(mix(played, bank=bank))
    theirs = np.concatenate([np.zeros(BEFORE), high(by_fluidsynth(phrase, tmp_path_factory.mktemp("midi")))])
    rows = []
    for strike in played:
        place = round(strike.onset_seconds * SAMPLE_RATE)
        piece = ours[place : place + PART]
        where, alike = lag(piece, theirs[place : place + PART + BEFORE + REACH])
        rows.append((strike.name, where - BEFORE - bank.find_latency(strike.name, strike.velocity), alike))
    return rows


def test_every_stroke_is_the_same_sound_in_the_same_order(compared):
    assert len(compared) == 48
    assert np.median([alike for _, _, alike in compared]) > 0.8
    for name, _, alike in compared:  # soft strokes under a crash that rings on
        assert alike > 0.35, name


def test_onsets_agree_within_a_block_after_one_shift_for_all(compared):
    late = [samples for _, samples, _ in compared]
    assert max(late) - min(late) <= BLOCK + CLOCK
    assert 0 <= min(late) <= 3 * BLOCK


def test_times_of_fluidsynth_jitter(compared):
    """This is the reason why FluidSynth fills a bank but places no note."""
    late = [samples for _, samples, _ in compared]
    assert max(late) - min(late) > BLOCK // 2
    assert len(set(late)) > 20
