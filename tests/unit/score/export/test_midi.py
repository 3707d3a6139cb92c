"""MIDI files: tracks, markers, places, lengths, loudness, text."""

from __future__ import annotations

import io
from fractions import Fraction

import mido
import pytest

from fillwright.errors import TempoError
from fillwright.music.grooves import find_groove
from fillwright.music.hit import Hit
from fillwright.music.meter import find_meter
from fillwright.music.phrase import Bar, Fill, Part, Phrase, build_landing, build_phrase, locate_last_beats
from fillwright.music.sticking import parse_sticking
from fillwright.music.stroke import Level, Limb, Stroke
from fillwright.music.surfaces import find_surface
from fillwright.score.export.midi import TICKS_PER_QUARTER, encode_midi

GROOVE = find_groove("straight eighths")


def bar(sticking: str, length: str = "1/16", start: str = "0", drum: str = "snare") -> Phrase:
    """Return one bar with a sticking at even places."""
    step = Fraction(length)
    hits = tuple(
        Hit(at=Fraction(start) + number * step, length=step, stroke=stroke, surface=find_surface(drum))
        for number, stroke in enumerate(parse_sticking(sticking))
        if stroke
    )
    return Phrase(meter=find_meter("4/4"), bars=(Bar(part=Part.FILL, hits=hits),))


def with_fill(beats: str, bars: int = 4) -> Phrase:
    span = locate_last_beats(GROOVE.meter, bars, Fraction(beats))
    return build_phrase(
        GROOVE, Fill(span=span, hits=()), bars=bars, land=build_landing(GROOVE.meter, Limb.RIGHT)
    )


def tracks(music: Phrase, tempo: float = 120, title: str = "") -> list[list[tuple[int, mido.Message]]]:
    """Return the messages of each track at absolute ticks."""
    made = []
    for track in mido.MidiFile(file=io.BytesIO(encode_midi(music, tempo, title=title)), charset="utf-8").tracks:
        now, messages = 0, []
        for message in track:
            now += message.time
            messages.append((now, message))
        made.append(messages)
    return made


def notes(music: Phrase, tempo: float = 120) -> list[tuple[int, int, int, int]]:
    """Return tick, key, velocity and length of every note."""
    made, sounding = [], {}
    for tick, message in tracks(music, tempo)[1]:
        if message.type == "note_on":
            assert message.note not in sounding, "a key struck again before it stopped"
            sounding[message.note] = (tick, message.velocity)
        elif message.type == "note_off":
            start, velocity = sounding.pop(message.note)
            made.append((start, message.note, velocity, tick - start))
    assert not sounding
    return sorted(made)


def markers(music: Phrase) -> list[tuple[int, str]]:
    return [(tick, message.text) for tick, message in tracks(music)[0] if message.type == "marker"]


def test_two_tracks_as_long_as_the_phrase() -> None:
    conductor, drums = tracks(with_fill("2"))
    end = 5 * 4 * TICKS_PER_QUARTER
    assert [(tick, message.type) for tick, message in (conductor[-1], drums[-1])] == [(end, "end_of_track")] * 2
    assert {message.channel for _, message in drums if message.type.startswith("note")} == {9}
    assert [message.name for _, message in drums if message.type == "track_name"] == ["Drums"]


def test_markers_are_at_each_bar_and_where_the_fill_starts() -> None:
    quarter = TICKS_PER_QUARTER
    assert markers(with_fill("2")) == [
        (0, "groove"),
        (4 * quarter, "groove"),
        (8 * quarter, "groove"),
        (12 * quarter, "groove"),
        (14 * quarter, "fill"),
        (16 * quarter, "landing"),
    ]
    assert markers(with_fill("4", bars=1)) == [(0, "fill"), (4 * quarter, "landing")]


@pytest.mark.parametrize(
    ("beats", "wanted"),
    [
        ("8", ["groove", "groove", "fill", "fill, bar 2", "landing"]),
        ("6", ["groove", "groove", "groove", "fill", "fill, bar 2", "landing"]),
        ("12", ["groove", "fill", "fill, bar 2", "fill, bar 3", "landing"]),
    ],
)
def test_bars_of_a_long_fill_are_counted(beats: str, wanted: list[str]) -> None:
    assert [words for _, words in markers(with_fill(beats))] == wanted


def test_the_fill_marker_and_its_first_stroke_are_on_one_tick() -> None:
    span = locate_last_beats(GROOVE.meter, 4, Fraction(5, 2))
    stroke = Stroke(hand=Limb.RIGHT, level=Level.ACCENT)
    hit = Hit(at=Fraction(0), length=Fraction(1, 8), stroke=stroke, surface=find_surface("high tom"))
    music = build_phrase(GROOVE, Fill(span=span, hits=(hit,)))
    fill = next(tick for tick, words in markers(music) if words == "fill")
    assert [tick for tick, key, _, _ in notes(music, 120) if key == 50] == [fill]


def test_each_stroke_has_its_drum_and_its_loudness() -> None:
    notes_found = notes(bar("R> L (R) L", drum="floor tom"))
    assert [(key, velocity) for _, key, velocity, _ in notes_found] == [(43, 112), (43, 80), (43, 38), (43, 80)]
    assert [tick for tick, *_ in notes_found] == [0, 240, 480, 720]


def test_grace_notes_come_before_the_main_note() -> None:
    notes_found = notes(bar("R lR", length="1/4"), 60)
    # 25 ms at 60 quarters a minute is 24 ticks of 960.
    assert notes_found == [(0, 38, 80, 120), (936, 38, 45, 24), (960, 38, 80, 120)]


def test_a_grace_note_before_the_start_leaves_the_main_note_exact() -> None:
    assert notes(bar("lR L")) == [(0, 38, 80, 120), (240, 38, 80, 120)]
    near_the_start = notes(bar("lR", start="1/256"), 120)
    assert near_the_start == [(0, 38, 45, 15), (15, 38, 80, 120)]


def test_a_quick_note_stops_before_the_next_on_its_key() -> None:
    notes_found = notes(bar("R L R L", length="1/64"))
    assert [(tick, length) for tick, _, _, length in notes_found] == [(0, 60), (60, 60), (120, 60), (180, 120)]


def test_both_hands_on_one_drum_are_one_note_as_loud_as_the_louder() -> None:
    soft, loud = (
        Hit(
            at=Fraction(0),
            length=Fraction(1, 4),
            stroke=Stroke(hand=hand, level=level),
            surface=find_surface("snare"),
        )
        for hand, level in ((Limb.RIGHT, Level.GHOST), (Limb.LEFT, Level.ACCENT))
    )
    music = Phrase(meter=find_meter("4/4"), bars=(Bar(part=Part.FILL, hits=(loud, soft)),))
    assert notes(music) == [(0, 38, 112, 120)]


def test_the_last_note_stops_with_the_file() -> None:
    music = bar("R", start="127/128")
    assert [tick + length for tick, _, _, length in notes(music)] == [4 * TICKS_PER_QUARTER]


@pytest.mark.parametrize(("tempo", "us"), [(120, 500_000), (92.5, 648_649), (20, 3_000_000), (400, 150_000)])
def test_tempo_in_whole_microseconds(tempo: float, us: int) -> None:
    notes_found = [message.tempo for _, message in tracks(bar("R"), tempo)[0] if message.type == "set_tempo"]
    assert notes_found == [us]


def test_the_tempo_of_six_eight_counts_dotted_quarters() -> None:
    music = build_phrase(find_groove("six-eight"), None, bars=1)
    notes_found = [message.tempo for _, message in tracks(music, 60)[0] if message.type == "set_tempo"]
    assert notes_found == [round(1e6 * 2 / 3)]


@pytest.mark.parametrize("title", ["", "Fill no. 1", "Übung über Flams", "練習 🥁"])
def test_the_title_is_written_in_utf_8(title: str) -> None:
    data = encode_midi(bar("R"), 100, title=title)
    assert title.encode("utf-8") in data
    assert next(message.name for _, message in tracks(bar("R"), title=title)[0]) == title


def test_a_title_that_no_text_can_hold_is_still_written() -> None:
    assert b"Fill ?" in encode_midi(bar("R"), 100, title="Fill \udc80")


def test_the_same_bytes_every_time() -> None:
    music = with_fill("1")
    assert encode_midi(music, 97.3, title="Fill") == encode_midi(with_fill("1"), 97.3, title="Fill")


@pytest.mark.parametrize("tempo", [0, 19.9, 401, float("nan"), float("inf")])
def test_a_tempo_that_can_not_be_played(tempo: float) -> None:
    with pytest.raises(TempoError, match="can't be played; use 20 to 400 bpm"):
        encode_midi(bar("R"), tempo)


def test_a_phrase_without_a_fill_has_markers_of_its_bars_alone() -> None:
    assert [words for _, words in markers(build_phrase(GROOVE, None, bars=2))] == ["groove", "groove"]
