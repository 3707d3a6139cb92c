import io

import mido
import pytest

from fillwright.errors import FillwrightError
from fillwright.score.parts.midi_notes import get_default_notes
from fillwright.take.midi import is_midi, read_bytes, read_midi_take, read_written_midi


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
