"""MIDI files as other programs read them.

Source: mido
Source: pretty_midi
Source: MIDI Manufacturers Association, Standard MIDI Files 1.0 (from memory)
"""

from __future__ import annotations

import io
from collections.abc import Callable
from fractions import Fraction

import mido
import pretty_midi
import pytest

from fillwright.music.grooves import find_groove, load_grooves
from fillwright.music.meter import find_meter
from fillwright.music.phrase import Phrase, build_landing, build_phrase
from fillwright.music.rudiments import load_rudiments
from fillwright.music.stroke import GRACE_VELOCITY, Limb
from fillwright.music.timing import STRAIGHT, Feel, time_phrase
from fillwright.score.export.midi import encode_midi

NAMES = [figure.name for figure in load_rudiments()]
Struck = tuple[float, int, int]
"""Seconds, key, velocity."""


def list_played(music: Phrase, tempo: float, feel: Feel = STRAIGHT) -> list[Struck]:
    """Return what the phrase says, straight from its own timeline."""
    notes = []
    for timed in time_phrase(music, tempo, feel):
        key = timed.hit.surface.key
        notes.append((timed.onset_seconds, key, timed.hit.stroke.level.velocity))
        graced = timed.hit.grace_surface.key
        notes += [(seconds, graced, GRACE_VELOCITY) for seconds in timed.grace_seconds if seconds >= 0]
    return sorted(notes)


def tick_seconds(file: mido.MidiFile) -> float:
    tempos = [message.tempo for message in file.tracks[0] if message.type == "set_tempo"]
    assert len(tempos) == 1
    return float(tempos[0]) / 1e6 / file.ticks_per_beat


def read_by_mido(file: mido.MidiFile) -> list[Struck]:
    """Return notes at the seconds that mido's own player calculates."""
    now, notes = 0.0, []
    for message in file:
        now += message.time
        if message.type == "note_on":
            assert message.channel == 9, "drums go on channel 10"
            notes.append((now, message.note, message.velocity))
    return sorted(notes)


def read_by_pretty_midi(data: bytes) -> list[Struck]:
    read = pretty_midi.PrettyMIDI(io.BytesIO(data))
    assert [instrument.is_drum for instrument in read.instruments] == [True]
    return sorted((note.start, note.pitch, note.velocity) for note in read.instruments[0].notes)


def assert_within_a_tick(found: list[Struck], wanted: list[Struck], tick: float) -> None:
    """Check the same strokes, pair by pair within one tick; strokes closer than a tick may change places."""
    assert len(found) == len(wanted)
    by_key = [sorted(notes, key=lambda note: (note[1], note[0])) for notes in (found, wanted)]
    for (at, key, velocity), (at_wanted, key_wanted, velocity_wanted) in zip(*by_key, strict=True):
        assert (key, velocity) == (key_wanted, velocity_wanted)
        assert at == pytest.approx(at_wanted, abs=tick)


@pytest.mark.parametrize("name", NAMES)
def test_other_programs_read_every_stroke_within_a_tick(
    name: str, phrases_of: Callable[[str], tuple[Phrase, ...]]
) -> None:
    phrases = phrases_of(name)
    assert phrases
    for turn, music in enumerate(phrases):
        tempo = 61.7 + 13 * (turn % 9)
        data = encode_midi(music, tempo, title=name)
        file = mido.MidiFile(file=io.BytesIO(data))
        wanted = list_played(music, tempo)
        assert_within_a_tick(read_by_mido(file), wanted, tick_seconds(file))
        assert_within_a_tick(read_by_pretty_midi(data), wanted, tick_seconds(file))


@pytest.mark.parametrize("groove", load_grooves(), ids=lambda groove: groove.name)
@pytest.mark.parametrize("tempo", [20, 143.3, 400])
def test_sixty_bars_do_not_drift(groove, tempo: float) -> None:
    music = build_phrase(groove, None, bars=60, land=build_landing(groove.meter, Limb.RIGHT))
    data = encode_midi(music, tempo)
    file = mido.MidiFile(file=io.BytesIO(data))
    assert_within_a_tick(read_by_mido(file), list_played(music, tempo), tick_seconds(file))
    whole_seconds = 60 / tempo / float(groove.meter.tempo_unit)
    assert file.length == pytest.approx(61 * float(groove.meter.bar) * whole_seconds, abs=tick_seconds(file))


def test_swung_eighths_are_where_they_are_played() -> None:
    music = build_phrase(find_groove("straight eighths"), None, bars=2)
    feel = Feel(swing=Fraction(2, 3))
    data = encode_midi(music, 96, feel=feel)
    file = mido.MidiFile(file=io.BytesIO(data))
    assert_within_a_tick(read_by_mido(file), list_played(music, 96, feel), tick_seconds(file))
    assert read_by_mido(file) != read_by_mido(mido.MidiFile(file=io.BytesIO(encode_midi(music, 96))))


@pytest.mark.parametrize(("name", "clocks"), [("4/4", 24), ("3/4", 24), ("6/8", 36), ("12/8", 36), ("7/8", 12)])
def test_the_meter_is_read_with_its_clicks(name: str, clocks: int) -> None:
    groove = next(groove for groove in load_grooves() if groove.meter == find_meter(name))
    data = encode_midi(build_phrase(groove, None, bars=1), 100)
    read = pretty_midi.PrettyMIDI(io.BytesIO(data)).time_signature_changes
    assert [f"{change.numerator}/{change.denominator}" for change in read] == [name]
    signs = [m for m in mido.MidiFile(file=io.BytesIO(data)).tracks[0] if m.type == "time_signature"]
    # A click of 24 MIDI clocks is a quarter, 36 a dotted quarter (Standard MIDI Files 1.0, from memory).
    assert [sign.clocks_per_click for sign in signs] == [clocks]


def test_the_first_bytes_are_those_of_a_type_1_file_of_two_tracks() -> None:
    data = encode_midi(build_phrase(find_groove("waltz"), None, bars=1), 100)
    # "MThd", length 6, format 1, 2 tracks, 960 ticks a quarter (Standard MIDI Files 1.0, from memory).
    assert data[:14] == bytes.fromhex("4d546864 00000006 0001 0002 03c0")
