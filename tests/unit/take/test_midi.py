import io
import time

import mido
import pytest

from fillwright.errors import FillwrightError
from fillwright.score.parts.drum_part import Clock
from fillwright.score.parts.midi_notes import get_default_notes
from fillwright.take.midi import is_midi, name_as_written, read_bytes, read_midi_take, read_written_midi


def midi(notes, *, tempo=120, signature=(4, 4), quarter=480, channel=9):
    """A MIDI file of notes: quarters from the start, key, velocity."""
    file = mido.MidiFile(type=0, ticks_per_beat=quarter)
    track = mido.MidiTrack()
    file.tracks.append(track)
    track.append(mido.MetaMessage("set_tempo", tempo=mido.bpm2tempo(tempo)))
    track.append(mido.MetaMessage("time_signature", numerator=signature[0], denominator=signature[1]))
    now = 0
    for at, key, velocity in sorted(notes):
        tick = round(at * quarter)
        track.append(mido.Message("note_on", channel=channel, note=key, velocity=velocity, time=tick - now))
        now = tick
    memory = io.BytesIO()
    file.save(file=memory)
    return memory.getvalue()


def read_take(notes, **how):
    return read_midi_take(midi(notes, **how), '"take.mid"', get_default_notes())


def read_written(notes, *, asked=None, **how):
    return read_written_midi(midi(notes, **how), '"it.mid"', get_default_notes(), tempo=asked)


class TestTakes:
    def test_strokes_have_times_surfaces_and_levels(self):
        detected = read_take([(0, 36, 127), (1, 38, 127), (2, 38, 64)]).detected
        assert detected.from_midi
        assert [onset.seconds for onset in detected.onsets] == pytest.approx([0, 0.5, 1.0])
        assert [onset.surface for onset in detected.onsets] == ["kick", "snare", "snare"]
        assert detected.onsets[1].loudness_db - detected.onsets[2].loudness_db == pytest.approx(11.9, abs=0.1)

    def test_a_pad_that_triggers_twice_is_one_stroke(self):
        found = read_take([(0, 38, 90), (0.02, 38, 30), (1, 38, 90)])  # 10 ms later
        assert len(found.detected.onsets) == 2
        assert found.remarks == ("Merged at 0.01 s: snare, triggered twice.",)

    @pytest.mark.parametrize("ahead", [0.01, 0.02, 0.05])  # 5, 10 and 25 ms
    def test_a_flam_is_two_strokes(self, ahead):
        found = read_take([(1 - ahead, 38, 40), (1, 38, 100)])
        assert [onset.seconds for onset in found.detected.onsets] == pytest.approx(
            [(1 - ahead) / 2, 0.5], abs=1e-3
        )
        assert found.remarks == ()

    def test_a_stroke_picked_up_from_a_neighbour_is_skipped(self):
        found = read_take([(0, 38, 120), (0, 49, 120), (0, 43, 12)])
        assert [onset.surface for onset in found.detected.onsets] == ["snare", "crash"]
        assert "crosstalk from" in found.remarks[0]

    def test_an_unknown_note_is_listed(self):
        assert "MIDI note 3 is unknown; once taken as" in read_take([(0, 3, 90), (1, 38, 90)]).remarks[0]

    def test_no_notes(self):
        with pytest.raises(FillwrightError, match=r'"take.mid" has no drum notes'):
            read_take([])


class TestWritten:
    def test_bars_and_beats_from_the_first_note_on(self):
        found = read_written([(4, 36, 90), (5, 38, 90), (8, 36, 90)])  # bar 1 is empty
        assert found.expected.bar_starts == pytest.approx((0, 2, 4))
        assert found.expected.beats == pytest.approx([0, 0.5, 1, 1.5, 2, 2.5, 3, 3.5])
        assert [stroke.seconds for stroke in found.expected.strokes] == pytest.approx([0, 0.5, 2])
        assert found.meter.name == "4/4"

    def test_dotted_beats_have_their_own_tempo(self):
        found = read_written([(0, 36, 90), (1.5, 38, 90)], tempo=120, signature=(6, 8))
        assert found.tempo == pytest.approx(80)
        assert found.expected.beats == pytest.approx([0, 0.75])

    def test_a_meter_that_is_not_ours(self):
        found = read_written([(0, 36, 90), (5.5, 38, 90)], signature=(11, 8))
        assert found.meter is None
        assert found.expected.bar_starts == pytest.approx((0, 2.75, 5.5))
        assert len(found.expected.beats) == 22

    def test_another_tempo_scales_everything(self):
        found = read_written([(0, 36, 90), (4, 38, 90)], asked=60.0)
        assert found.expected.strokes[1].seconds == pytest.approx(4.0)

    def test_no_notes(self):
        with pytest.raises(FillwrightError, match="has no drum notes"):
            read_written([])

    def test_more_than_64_bars(self):
        with pytest.raises(FillwrightError, match="at most 64 bars"):
            read_written([(4 * bar, 36, 90) for bar in range(70)])


def test_the_first_bytes_say_what_it_is():
    assert is_midi(midi([(0, 38, 90)]))
    assert not is_midi(b"RIFF")


def test_a_missing_file(tmp_path):
    with pytest.raises(FillwrightError, match="can't be read: no such file"):
        read_bytes(tmp_path / "none.mid")


def test_no_more_than_the_limit_is_read(tmp_path):
    path = tmp_path / "long"
    path.write_bytes(bytes(100))
    assert len(read_bytes(path, 10)) == 11


class TestAttacks:
    def test_a_stroke_an_hour_later_is_refused(self):
        content = midi([(0, 38, 90), (7200, 38, 90)])
        assert len(content) < 100
        with pytest.raises(FillwrightError, match="lasts 60 minutes; at most 15 minutes are accepted"):
            read_midi_take(content, '"take.mid"', get_default_notes())

    @pytest.mark.parametrize("read", [read_take, read_written])
    def test_a_stroke_after_years_is_refused(self, read):
        with pytest.raises(FillwrightError, match="longer than 200,000 quarter notes"):
            read([(0, 38, 90), (500_000, 38, 90)], quarter=480)

    @pytest.mark.parametrize("read", [read_take, read_written])
    def test_thousands_of_strokes_at_once_are_refused(self, read):
        notes = [(number / 4800, 36 + number % 20, 10 + number % 110) for number in range(8000)]
        with pytest.raises(FillwrightError, match=r"more than 64 drum notes within 0.1 s, at 0.00 s"):
            read(notes)

    @pytest.mark.parametrize("bar", [40_000, 40_001])
    def test_a_late_first_note_is_found_at_once(self, bar):
        start = time.monotonic()
        written = read_written([(bar * 4 + beat, 38, 90) for beat in range(4)])
        assert [stroke.seconds for stroke in written.expected.strokes] == [0.0, 0.5, 1.0, 1.5]
        assert written.expected.bar_starts == (0.0, 2.0)
        assert time.monotonic() - start < 1

    def test_a_late_first_note_after_a_change_of_meter(self):
        clock = Clock(meters=((0.0, (4, 4)), (8.0, (3, 4))))
        assert clock.list_bars(14.5, 18.0) == [14.0, 17.0, 20.0]
        assert clock.list_bars(1.0, 9.0) == [0.0, 4.0, 8.0, 11.0]

    @pytest.mark.parametrize("signature", [(255, 4), (4, 2**40)])
    def test_a_meter_that_no_music_has_is_refused(self, signature):
        with pytest.raises(FillwrightError, match="has a meter that can't be read"):
            read_written([(0, 38, 90)], signature=signature)

    def test_eight_thousand_notes_with_a_thousand_changes_are_read_in_time(self):
        track = mido.MidiTrack()
        for number in range(8_000):
            if number % 9 == 0:
                track.append(mido.MetaMessage("set_tempo", tempo=500_000 + number))
            track.append(mido.Message("note_on", channel=9, note=38, velocity=1 + number % 127, time=48))
        memory = io.BytesIO()
        mido.MidiFile(type=0, ticks_per_beat=480, tracks=[track]).save(file=memory)
        start = time.monotonic()
        take = read_midi_take(memory.getvalue(), '"take.mid"', get_default_notes())
        assert len(take.detected.onsets) == 8_000
        assert time.monotonic() - start < 5

    def test_remarks_are_counted_past_the_fiftieth(self):
        notes = [(number + part / 100, 38, 90) for number in range(70) for part in (0, 1)]
        remarks = read_take(notes).remarks
        assert remarks[-1] == "There are 20 more remarks like these."
        assert len(remarks) == 51


@pytest.mark.parametrize("note", [52, 55])
def test_a_note_with_two_names_is_the_written_surface(note):
    notes = get_default_notes()
    strokes = [*((beat, 38, 90) for beat in range(4)), (4, note, 110)]
    expected = read_written(strokes).expected
    played = read_take([(at + 0.013 * (at % 3), key, 100) for at, key, _ in strokes]).detected
    named = name_as_written(played, expected, notes)
    assert named.onsets[-1].surface == expected.strokes[-1].surface
    assert [onset.surface for onset in named.onsets[:-1]] == ["snare"] * 4
