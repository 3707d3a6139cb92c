"""Every rudiment by itself, from its table to a recording, a MIDI file and a MusicXML file."""

import io

import mido
import numpy as np
import pytest
from lxml import etree

from fillwright.craft.rudiment_sheet import build_sheet_phrase
from fillwright.music.rudiments import load_rudiments
from fillwright.music.stroke import GRACE_VELOCITY
from fillwright.music.timing import time_phrase
from fillwright.score.export.midi import encode_midi
from fillwright.score.export.musicxml import format_musicxml
from fillwright.score.sheet import Sheet
from fillwright.sound.playalong.options import Options
from fillwright.sound.playalong.render import render

MS = 0.001
FIGURES = [pytest.param(figure, id=figure.name) for figure in load_rudiments()]


@pytest.mark.parametrize("tempo", [60, 110])
@pytest.mark.parametrize("figure", FIGURES)
def test_is_heard_as_it_is_written(ear, figure, tempo):
    music = build_sheet_phrase(figure)
    audio = render(music, tempo, Options(count_in_bars=1))
    heard = ear(audio.samples, audio.rate)
    timed = time_phrase(music, tempo)
    assert len(timed) == len(list(music.hits())) > 0
    for one in timed:
        for at in (one.onset_seconds, *one.grace_seconds):
            off, _ = heard.nearest(audio.start_seconds + at)
            assert abs(off) <= MS, f"a stroke at {at:.4f} s is heard {off * 1000:.2f} ms off"


@pytest.mark.parametrize("figure", FIGURES)
def test_is_written_as_midi_and_musicxml(figure):
    music = build_sheet_phrase(figure)
    strokes = len(list(music.hits()))
    file = mido.MidiFile(file=io.BytesIO(encode_midi(music, 80, title=figure.name)))
    notes = [m for track in file.tracks for m in track if m.type == "note_on" and m.velocity]
    assert sum(note.velocity != GRACE_VELOCITY for note in notes) == strokes
    score = etree.fromstring(format_musicxml(Sheet(phrase=music), title=figure.name, tempo=80).encode())
    heads = [note for note in score.iter("note") if note.find("grace") is None and note.find("rest") is None]
    assert len([note for note in heads if note.find("tie[@type='stop']") is None]) == strokes
    graces = sum(hit.stroke.kind.graces for hit in music.hits())
    assert len(score.findall(".//note/grace")) == graces


def test_there_are_forty():
    assert len(FIGURES) == 40
    assert np.all([len(build_sheet_phrase(figure).bars) >= 1 for figure in load_rudiments()])
