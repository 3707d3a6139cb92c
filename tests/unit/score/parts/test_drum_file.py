from __future__ import annotations

import io
import struct
import time
from fractions import Fraction
from pathlib import Path

import mido
import pytest

from fillwright.craft.player.kits import Kit, find_kit
from fillwright.craft.player.players import find_player
from fillwright.errors import FillwrightError, TempoError
from fillwright.music.grooves import find_groove
from fillwright.music.hit import Hit
from fillwright.music.phrase import Fill, Phrase, build_landing, build_phrase, locate_last_beats
from fillwright.music.rudiments import find_figure
from fillwright.music.stroke import Limb
from fillwright.music.surfaces import find_surface, load_surfaces
from fillwright.score.export.midi import encode_midi
from fillwright.score.export.musicxml import format_musicxml
from fillwright.score.parts.drum_file import read_drum_part
from fillwright.score.parts.drum_part import Clock, DrumPart
from fillwright.score.parts.midi_notes import get_default_notes
from fillwright.score.parts.part_sticking import find_part_sticking
from fillwright.score.parts.sticking_text import count_beat, describe_part
from fillwright.score.sheet import Sheet

Note = tuple[float, int, int]
"""Seconds, key, velocity; a thousand ticks a second."""


def midi(notes: list[Note], *, channel: int = 9, tempo: int | None = 500_000, kind: int = 0) -> bytes:
    """Return a file of 500 ticks a quarter: at 120 quarters a minute a tick is a millisecond."""
    file = mido.MidiFile(type=kind, ticks_per_beat=500)
    track = mido.MidiTrack()
    file.tracks.append(track)
    if tempo is not None:
        track.append(mido.MetaMessage("set_tempo", tempo=tempo))
    now = 0
    for seconds, key, velocity in sorted(notes):
        tick = round(seconds * 1000)
        track.append(mido.Message("note_on", channel=channel, note=key, velocity=velocity, time=tick - now))
        now = tick
    out = io.BytesIO()
    file.save(file=out)
    return out.getvalue()


def read(folder: Path, content: bytes, name: str = "part.mid") -> DrumPart:
    path = folder / name
    path.write_bytes(content)
    return read_drum_part(path)


def names(part: DrumPart) -> list[str]:
    return [item.struck.surface for item in part.strokes]


def seconds(part: DrumPart) -> list[float]:
    return [round(item.struck.onset_seconds, 4) for item in part.strokes]


OFF = [(0.0, 38, 80), (0.507, 38, 80), (1.013, 38, 80), (1.511, 38, 80)]
"""Strokes that only hands put there."""


def test_notes_become_strokes_with_seconds_bars_and_beats(tmp_path: Path) -> None:
    part = read(tmp_path, midi([(0.0, 36, 100), (0.5, 38, 90), (2.25, 43, 80)]))
    assert names(part) == ["kick", "snare", "floor tom"]
    assert seconds(part) == [0.0, 0.5, 2.25]
    assert [(item.bar, item.beat) for item in part.strokes] == [(1, 1.0), (1, 2.0), (2, 1.5)]
    assert (part.tempo, part.meter, part.recorded) == (120.0, "4/4", False)


def test_a_file_without_a_tempo_goes_at_120(tmp_path: Path) -> None:
    assert seconds(read(tmp_path, midi([(0.0, 38, 90), (0.5, 38, 90)], tempo=None))) == [0.0, 0.5]


def test_the_tempo_map_is_followed(tmp_path: Path) -> None:
    file = mido.MidiFile(ticks_per_beat=480)
    track = mido.MidiTrack()
    file.tracks.append(track)
    on = {"channel": 9, "note": 38, "velocity": 80}
    track += [
        mido.MetaMessage("set_tempo", tempo=1_000_000),
        mido.MetaMessage("time_signature", numerator=3, denominator=4),
        mido.Message("note_on", **on),
        mido.MetaMessage("set_tempo", tempo=500_000, time=480),
        mido.Message("note_on", **on, time=960),
    ]
    file.save(tmp_path / "a.mid")
    part = read_drum_part(tmp_path / "a.mid")
    assert seconds(part) == [0.0, 2.0]
    assert (part.strokes[1].bar, part.strokes[1].beat) == (2, 1.0)
    assert part.meter == "3/4"


def test_a_note_on_of_velocity_0_is_not_a_stroke(tmp_path: Path) -> None:
    assert len(read(tmp_path, midi([(0.0, 38, 90), (0.1, 38, 0), (0.5, 38, 90)])).strokes) == 2


def test_channel_10_goes_before_all_others(tmp_path: Path) -> None:
    file = mido.MidiFile(ticks_per_beat=480)
    for channel, key in ((0, 60), (9, 38)):
        track = mido.MidiTrack()
        track.append(mido.Message("note_on", channel=channel, note=key, velocity=80))
        file.tracks.append(track)
    file.save(tmp_path / "a.mid")
    assert names(read_drum_part(tmp_path / "a.mid")) == ["snare"]


def test_without_channel_10_every_channel_is_read_and_reported(tmp_path: Path) -> None:
    part = read(tmp_path, midi([(0.0, 38, 90)], channel=3))
    assert names(part) == ["snare"]
    assert "channel 4" in part.report[0]


def test_every_key_of_general_midi_has_a_surface() -> None:
    assert all(get_default_notes().find(key, recorded=False) in load_surfaces() for key in range(35, 82))


@pytest.mark.parametrize(
    ("key", "name"),
    [
        *((22, "hi-hat"), (26, "open hi-hat"), (40, "snare"), (37, "rim"), (58, "floor tom"), (50, "high tom")),
        *((48, "high tom"), (47, "mid tom"), (45, "mid tom"), (43, "floor tom"), (41, "second floor tom")),
        *((55, "crash"), (52, "second crash"), (59, "ride bow"), (53, "ride bell"), (44, "foot hi-hat")),
    ],
)
def test_rims_and_edges_of_electronic_kits(key: int, name: str, tmp_path: Path) -> None:
    assert names(read(tmp_path, midi([*OFF, (1.777, key, 90)])))[-1] == name


def test_an_unknown_key_is_named_and_stays_a_stroke(tmp_path: Path) -> None:
    part = read(tmp_path, midi([(0.0, 38, 90), (0.5, 99, 90), (1.0, 99, 90)]))
    assert names(part) == ["snare", "snare", "snare"]
    assert any("MIDI note 99 is unknown; 2 times" in sentence for sentence in part.report)


def test_a_users_own_notes_come_before_the_projects(tmp_path: Path) -> None:
    notes = get_default_notes().override({99: "china", 38: "floor tom", 55: "splash"}, {})
    path = tmp_path / "a.mid"
    path.write_bytes(midi([*OFF, (1.777, 99, 90), (1.999, 55, 90)]))
    assert names(read_drum_part(path, notes)) == ["floor tom"] * 4 + ["china", "splash"]


def test_one_pad_twice_within_15_ms_is_one_stroke(tmp_path: Path) -> None:
    part = read(tmp_path, midi([(0.0, 40, 60), (0.015, 38, 90), (0.3, 38, 90), (0.316, 38, 80)]))
    assert seconds(part) == [0.0, 0.3, 0.316]
    assert part.strokes[0].struck.velocity == 90
    assert any("triggered twice" in sentence for sentence in part.report)


def test_bow_and_bell_are_one_cymbal_and_two_drums_are_two(tmp_path: Path) -> None:
    part = read(tmp_path, midi([(0.0, 51, 60), (0.004, 53, 90), (0.5, 38, 90), (0.504, 43, 90)]))
    assert names(part) == ["ride bell", "snare", "floor tom"]


def test_a_soft_third_hand_at_once_is_crosstalk(tmp_path: Path) -> None:
    part = read(tmp_path, midi([*OFF, (1.777, 38, 100), (1.779, 49, 120), (1.781, 48, 40)]))
    assert names(part)[-2:] == ["snare", "crash"]
    assert any("high tom, crosstalk from the crash" in sentence for sentence in part.report)


def test_three_loud_hands_at_once_stay(tmp_path: Path) -> None:
    part = read(tmp_path, midi([*OFF, (1.777, 38, 100), (1.779, 49, 120), (1.781, 48, 90)]))
    sticking = find_part_sticking(part, find_player("professional"))
    assert len(part.strokes) == 7
    assert not sticking.sticking.playable
    assert any(sentence.startswith("three hands at once on bar 1") for sentence in sticking.unplayable)
    assert any("snare, crash, high tom" in sentence for sentence in sticking.unplayable)


def test_a_soft_second_hand_goes_only_where_no_hand_was_free(tmp_path: Path) -> None:
    slow = read(tmp_path, midi([*OFF, (1.777, 49, 120), (1.779, 48, 40)]))
    assert len(find_part_sticking(slow, find_player("professional")).strokes) == 6
    roll = [(1.7 + n * 0.063, 38, 100) for n in range(8)]
    quick = read(tmp_path, midi([*OFF, *roll, (1.7 + 4 * 0.063 + 0.004, 48, 40)]))
    sticking = find_part_sticking(quick, find_player("professional"))
    assert len(sticking.strokes) == len(quick.strokes) - 1
    assert any("since no hand was free" in sentence for sentence in sticking.report)


def test_the_pedal_of_the_hi_hat_is_a_foot_and_settles(tmp_path: Path) -> None:
    part = read(tmp_path, midi([(0.0, 44, 60), (0.06, 44, 30), (0.0, 42, 80), (0.5, 44, 60)]))
    assert sorted(names(part)) == ["foot hi-hat", "foot hi-hat", "hi-hat"]
    assert find_part_sticking(part, find_player("gigging")).sticking.playable


def test_written_music_has_no_jitter_and_a_recording_has(tmp_path: Path) -> None:
    written = read(tmp_path, midi([(n * 0.125, 38, 80) for n in range(8)]))
    assert not written.recorded
    assert read(tmp_path, midi(OFF)).recorded


def test_a_quick_run_of_kicks_is_played_on_two_pedals(tmp_path: Path) -> None:
    part = read(tmp_path, midi([(n * 0.083, 36, 100) for n in range(16)]))
    sticking = find_part_sticking(part, find_player("professional"))
    assert sticking.sticking.playable
    assert any("two pedals" in sentence for sentence in sticking.report)


def test_the_tempo_asked_scales_every_gap(tmp_path: Path) -> None:
    part = read(tmp_path, midi([(n * 0.125, 38 if n % 4 else 43, 80) for n in range(16)]))
    asked = find_part_sticking(part, find_player("gigging"), tempo=240.0)
    limbs = find_part_sticking(part, find_player("gigging"))
    assert limbs.ceiling_bpm == asked.ceiling_bpm
    assert asked.ceiling_bpm is not None
    at_limit = find_part_sticking(part, find_player("gigging"), tempo=asked.ceiling_bpm)
    assert at_limit.sticking.peak_demand == pytest.approx(1.0)
    with pytest.raises(TempoError, match="is not a valid tempo"):
        find_part_sticking(part, find_player("gigging"), tempo=0.0)


def test_a_kit_without_the_surface_takes_the_nearest(tmp_path: Path) -> None:
    part = read(tmp_path, midi([(0.0, 47, 80), (0.5, 41, 80)]))
    sticking = find_part_sticking(part, find_player("gigging"), kit=find_kit("four-piece"))
    assert [item.struck.surface for item in sticking.strokes] == ["high tom", "floor tom"]
    assert "The four-piece kit has no mid tom; it is played on the high tom." in sticking.report
    assert find_part_sticking(part, find_player("gigging")).kit.name == "six-piece"


def test_travel_is_described(tmp_path: Path) -> None:
    part = read(tmp_path, midi([(0.0, 43, 80), (0.0, 38, 80), (0.06, 50, 80), (0.06, 42, 80)]))
    sentences = find_part_sticking(part, find_player("gigging")).unplayable
    assert any("right hand travels from snare to high tom in 72 ms, needs" in item for item in sentences)
    assert all(item.endswith("(bar 1, beat 1.12)") for item in sentences)


def fill(name: str) -> Phrase:
    """Return a bar of eighths round the kit with the strokes of a figure, as often as they go in."""
    groove, eighth = find_groove("straight eighths"), Fraction(1, 8)
    strokes = [stroke for stroke in find_figure(name).strokes if stroke] * 8
    drums = ("snare", "high tom", "mid tom", "floor tom")
    hits = tuple(
        Hit(at=n * eighth, length=eighth, stroke=strokes[n], surface=find_surface(drums[n // 2]))
        for n in range(8)
    )
    span = locate_last_beats(groove.meter, 2, Fraction(4))
    return build_phrase(
        groove, Fill(span=span, hits=hits), bars=2, land=build_landing(groove.meter, Limb.RIGHT)
    )


@pytest.mark.parametrize("name", ["single paradiddle", "flam accent", "single drag tap", "six stroke roll"])
def test_our_own_files_are_read_back(name: str, tmp_path: Path) -> None:
    bars_of_hats = fill(name)
    from_xml = read(tmp_path, format_musicxml(Sheet(phrase=bars_of_hats), tempo=90).encode(), "a.musicxml")
    from_midi = read(tmp_path, encode_midi(bars_of_hats, 90))
    graces = sum(hit.stroke.kind.graces for hit in bars_of_hats.hits())
    assert len(from_xml.strokes) == len(list(bars_of_hats.hits())) + graces
    assert sorted(names(from_midi)) == sorted(names(from_xml))
    assert (from_xml.tempo, round(from_midi.tempo)) == (90.0, 90)
    places = sorted(float(hit.at / Fraction(1, 4)) * 60 / 90 for hit in bars_of_hats.hits())
    mains = sorted(item.struck.onset_seconds for item in from_xml.strokes if not item.struck.ahead_seconds)
    assert mains == pytest.approx(places)
    assert find_part_sticking(from_xml, find_player("gigging")).sticking.playable


def score(notes: str, before: str = "") -> bytes:
    return (
        f"{before}<score-partwise><part-list><score-part id='P1'><part-name>Drums</part-name>"
        "<score-instrument id='I1'><instrument-name>x</instrument-name></score-instrument>"
        "<midi-instrument id='I1'><midi-unpitched>44</midi-unpitched></midi-instrument></score-part>"
        "</part-list><part id='P1'><measure number='1'><attributes><divisions>4</divisions>"
        "<time><beats>4</beats><beat-type>4</beat-type></time></attributes>"
        f"{notes}</measure></part></score-partwise>"
    ).encode()


def head(step: str, octave: int, rest: str = "") -> str:
    return (
        f"<note>{rest}<unpitched><display-step>{step}</display-step><display-octave>{octave}</display-octave>"
        "</unpitched><duration>4</duration></note>"
    )


def test_musicxml_by_instrument_or_by_place_with_chords_backup_and_ties(tmp_path: Path) -> None:
    by_instrument = "<note><unpitched/><duration>4</duration><instrument id='I1'/></note>"
    tied = head("C", 5).replace("<duration>", "<tie type='stop'/><duration>")
    back = "<backup><duration>8</duration></backup><forward><duration>4</duration></forward>"
    notes = (
        f"<sound tempo='60'/>{by_instrument}{head('C', 5)}{head('A', 5, '<chord/>')}{tied}{back}{head('F', 4)}"
    )
    part = read(tmp_path, score(notes), "a.xml")
    assert list(zip(names(part), seconds(part), strict=True)) == [
        ("floor tom", 0.0),
        ("snare", 1.0),
        ("crash", 1.0),
        ("kick", 2.0),
    ]


def test_musicxml_metronome_and_grace_notes(tmp_path: Path) -> None:
    grace = head("C", 5).replace("<note>", "<note><grace/>").replace("<duration>4</duration>", "")
    mark = "<direction><direction-type><metronome><beat-unit>half</beat-unit><per-minute>60</per-minute>"
    mark += "</metronome></direction-type></direction>"
    part = read(tmp_path, score(mark + head("C", 5) + grace + head("E", 5)), "a.xml")
    assert part.tempo == 120.0
    assert names(part) == ["snare", "snare", "high tom"]
    assert seconds(part) == [0.0, 0.475, 0.5]


def test_musicxml_reports_what_it_left_out(tmp_path: Path) -> None:
    roll = head("C", 5).replace(
        "</note>", "<notations><ornaments><tremolo>3</tremolo></ornaments></notations></note>"
    )
    repeat = "<barline><repeat direction='backward'/></barline>"
    report = " ".join(read(tmp_path, score(roll + head("B", 2) + repeat), "a.xml").report)
    assert "rolls" in report
    assert "Repeats" in report
    assert "B2 is unknown" in report


BOMB = "<!DOCTYPE x [<!ENTITY a 'ha'><!ENTITY b '&a;&a;&a;&a;&a;&a;&a;&a;'>]>"
OUTWARDS = "<!DOCTYPE x [<!ENTITY a SYSTEM 'file:///etc/hostname'>]>"


@pytest.mark.parametrize(
    ("content", "says"),
    [
        (b"", "is empty"),
        (b"hello there", "neither a MIDI file nor MusicXML"),
        (b"PK\x03\x04", "is compressed"),
        (midi([(0.0, 38, 90)])[:30], "cut short or damaged"),
        (b"MThd", "cut short or damaged"),
        (midi([]), "no drum notes"),
        (midi([(0.0, 38, 90)], tempo=0), "tempo of 0"),
        (midi([(0.0, 38, 90)]).replace(b"\x00\x00\x00\x01", b"\x00\x02\x00\x01", 1), "format 2"),
        (b"MThd" + struct.pack(">lhhh", 6, 0, 1, -6360) + b"MTrk" + struct.pack(">l", 0), "in frames"),
        (b"MThd" + struct.pack(">lhhh", 6, 0, 0, 480), "no track"),
        (midi([(0.0, 38, 90), (131.0, 38, 90)]), "66 bars"),
        (b"MThd" + b"\x00" * 2_000_000, "larger than 1 MB"),
        (b"<", "cut short or damaged"),
        (b"<score-timewise/>", "score-timewise"),
        (b"<a>" * 100, "deep"),
        (score(head("C", 5), BOMB), "declares XML entities"),
        (score(head("C", 5), OUTWARDS), "declares XML entities"),
        (score("<sound tempo='0'/>" + head("C", 5)), "tempo of 0"),
        (score("<sound tempo='fast'/>" + head("C", 5)), "tempo of nan"),
        (score(""), "no drum notes"),
        (score(head("C", 5).replace("<duration>4", "<duration>-4")), "duration"),
        (score(head("C", 5)).replace(b"<divisions>4", b"<divisions>0"), "divides a quarter"),
    ],
)
def test_bad_input_is_one_clear_sentence(content: bytes, says: str, tmp_path: Path) -> None:
    with pytest.raises(FillwrightError, match=says) as caught:
        read(tmp_path, content, "x")
    assert "\n" not in str(caught.value)
    assert str(caught.value).endswith(".")


def test_a_folder_or_nothing_is_refused(tmp_path: Path) -> None:
    for path in (tmp_path, tmp_path / "none.mid"):
        with pytest.raises(FillwrightError, match="can't be read"):
            read_drum_part(path)


def test_sixty_four_bars_and_a_landing_are_read(tmp_path: Path) -> None:
    part = read(tmp_path, midi([(n * 0.25, 38, 80) for n in range(64 * 8 + 1)]))
    assert part.strokes[-1].bar == 65


def test_a_beat_is_counted_in_fours_threes_or_sixes() -> None:
    assert count_beat(2, [2.0, 2.25, 2.5, 2.75]) == ["2", "e", "&", "a"]
    assert count_beat(1, [1.01, 1.34, 1.66]) == ["1", "trip", "let"]
    assert count_beat(4, [4.0, 4.17, 4.33, 4.5, 4.67, 4.83]) == ["4", "trip", "let", "&", "trip", "let"]
    assert count_beat(1, [1.08]) == ["~"]


def test_bars_are_counted_over_changes_of_meter() -> None:
    clock = Clock(meters=((0.0, (3, 4)), (6.0, (7, 8)), (13.0, (4, 4))))
    assert [clock.locate(quarter) for quarter in (0.0, 5.5, 6.5, 9.5, 13.0, 18.0)] == [
        (1, 1.0),
        (2, 3.5),
        (3, 2.0),
        (4, 1.0),
        (5, 1.0),
        (6, 2.0),
    ]
    assert clock.meter(7.0) == (7, 8)


def test_too_many_notes_or_changes_are_refused(tmp_path: Path) -> None:
    with pytest.raises(FillwrightError, match="9,000 drum notes"):
        read(tmp_path, midi([(n * 0.001, 38, 80) for n in range(9000)]))
    marks = "".join(
        f"<sound tempo='{60 + n % 2}'/><forward><duration>4</duration></forward>" for n in range(1100)
    )
    with pytest.raises(FillwrightError, match="changes its tempo or meter more than"):
        read(tmp_path, score(marks + head("C", 5)), "a.xml")


def test_a_kit_without_a_place_for_a_stroke_is_refused() -> None:
    bare = Kit(name="bare", title="Bare", spots={})
    with pytest.raises(FillwrightError, match="bare kit has nothing to play the crash on"):
        get_default_notes().choose_surface(bare, "crash")


def test_the_text_names_every_bar_and_what_is_wrong(tmp_path: Path) -> None:
    part = read(tmp_path, midi([(0.0, 43, 80), (0.0, 38, 80), (0.06, 50, 80), (0.06, 42, 80), (2.0, 99, 80)]))
    text = "\n".join(describe_part(find_part_sticking(part, find_player("gigging"))))
    assert "not playable" in text
    assert "bar 2" in text
    assert "high tom*" in text
    assert "MIDI note 99" in text


PLACE = "<unpitched><display-step>C</display-step><display-octave>5</display-octave></unpitched>"
GRACE = f"<note><grace/>{PLACE}</note>"


@pytest.mark.parametrize(
    ("notes", "says"),
    [
        (GRACE * 400 + head("C", 5), "has 17 grace notes before one note; use at most 16"),
        (head("C", 5).replace("<duration>4", "<duration>1e308"), "longer than 200,000 quarter notes"),
        (head("C", 5) + "<forward><duration>1e300</duration></forward>", "longer than 200,000 quarter notes"),
        (head("C", 5).replace("<duration>4", "<duration>inf"), 'has a duration "inf"'),
        ("<attributes><time><beats>1e30</beats><beat-type>4</beat-type></time></attributes>", "has a meter"),
        ("<a/>" * 400_001, "400,001 or more XML elements; use at most 400,000"),
    ],
)
def test_musicxml_that_no_program_writes_is_refused_at_once(notes: str, says: str, tmp_path: Path) -> None:
    start = time.monotonic()
    with pytest.raises(FillwrightError, match=says):
        read(tmp_path, score(notes), "a.xml")
    assert time.monotonic() - start < 5


@pytest.mark.parametrize(("dynamics", "velocity"), [("1e308", 127), ("-1e308", 1), ("nan", 80)])
def test_musicxml_dynamics_without_bounds(dynamics: str, velocity: int, tmp_path: Path) -> None:
    part = read(tmp_path, score(head("C", 5).replace("<note", f"<note dynamics='{dynamics}'")), "a.xml")
    usual = read(tmp_path, score(head("C", 5)), "b.xml").strokes[0].struck.velocity
    assert part.strokes[0].struck.velocity == (usual if dynamics == "nan" else velocity)
