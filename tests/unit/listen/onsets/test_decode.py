"""Reading a take: every common format, and one sentence for a file that can't be read."""

import os
import struct
import subprocess
import sys
import time
from pathlib import Path

import av
import numpy as np
import pytest
import soundfile

from fillwright import budget
from fillwright.errors import TakeError
from fillwright.listen.onsets.decode import decode_take, read_take

RATE = 44_100
SECONDS = 2.0
BURST = 44_100


@pytest.fixture
def burst():
    """Silence with a short noise in the middle."""
    signal = np.zeros(round(SECONDS * RATE), np.float32)
    signal[BURST : BURST + 900] = 0.5 * np.random.default_rng(1).uniform(-1, 1, 900)
    return signal


def encode_with_av(folder, signal, codec, form, options=None, rate=RATE):
    """Return the bytes of a file that PyAV writes."""
    path = folder / "written"
    with av.open(str(path), "w", format=form, options=options or {}) as container:
        stream = container.add_stream(codec, rate=rate)
        stream.layout = "mono"
        context = stream.codec_context
        resampler = av.AudioResampler(
            format=context.format, layout="mono", rate=rate, frame_size=context.frame_size or 1024
        )
        frame = av.AudioFrame.from_ndarray(signal[None], format="fltp", layout="mono")
        frame.sample_rate = RATE
        for piece in (*resampler.resample(frame), *resampler.resample(None)):
            container.mux(stream.encode(piece))
        container.mux(stream.encode(None))
    return path.read_bytes()


def start_of(samples, rate):
    size = np.abs(samples[:, 0])
    return int(np.argmax(size > 0.3 * size.max())) / rate


@pytest.mark.parametrize(
    ("name", "subtype"),
    [
        ("a.wav", "PCM_16"),
        ("a.wav", "PCM_U8"),
        ("a.wav", "FLOAT"),
        ("a.wav", "IMA_ADPCM"),
        ("a.flac", "PCM_24"),
    ],
)
def test_plain_files_keep_every_sample_in_its_place(tmp_path, burst, name, subtype):
    soundfile.write(tmp_path / name, burst, RATE, subtype=subtype)
    samples, rate = read_take(tmp_path / name)
    assert (samples.shape[1], rate) == (1, RATE)
    assert start_of(samples, rate) == pytest.approx(BURST / RATE, abs=0.0005)


@pytest.mark.parametrize(
    ("codec", "form", "options", "rate"),
    [
        ("aac", "mp4", {}, RATE),
        ("aac", "mp4", {"movflags": "frag_keyframe+empty_moov"}, RATE),
        ("aac", "adts", {}, RATE),
        ("libmp3lame", "mp3", {}, RATE),
        ("libopus", "webm", {}, 48_000),
        ("libopus", "ogg", {}, 48_000),
    ],
)
def test_files_of_phones_and_browsers_are_read_up_to_a_codecs_delay(
    tmp_path, burst, codec, form, options, rate
):
    path = tmp_path / "take.bin"
    path.write_bytes(encode_with_av(tmp_path, burst, codec, form, options, rate))
    samples, found = read_take(path)
    assert found == rate
    assert -0.005 < start_of(samples, found) - BURST / RATE < 0.06


def test_a_rate_that_is_needlessly_high_is_lowered_and_keeps_its_time(tmp_path, burst):
    soundfile.write(tmp_path / "a.wav", np.repeat(burst, 2), 2 * RATE)
    samples, rate = read_take(tmp_path / "a.wav")
    assert rate == 48_000
    assert len(samples) / rate == pytest.approx(SECONDS, abs=0.01)
    assert start_of(samples, rate) == pytest.approx(BURST / RATE, abs=0.001)


def test_seven_channels_are_mixed(tmp_path, burst):
    soundfile.write(tmp_path / "a.wav", np.stack([burst] * 7, axis=1), RATE)
    samples, _ = read_take(tmp_path / "a.wav")
    assert samples.shape[1] == 1
    assert np.allclose(samples[:, 0], burst, atol=1e-3)


def test_a_telephones_rate_is_accepted_and_a_lower_one_is_not(tmp_path, burst):
    soundfile.write(tmp_path / "a.wav", burst, 8_000)
    assert read_take(tmp_path / "a.wav")[1] == 8_000
    soundfile.write(tmp_path / "b.wav", burst, 4_000)
    with pytest.raises(TakeError, match="has 4000 samples per second, too few"):
        read_take(tmp_path / "b.wav")


def test_a_few_samples_that_are_not_numbers_become_silence(tmp_path, burst):
    burst[:50] = np.nan
    burst[60] = np.inf
    soundfile.write(tmp_path / "a.wav", burst, RATE, subtype="FLOAT")
    samples, _ = read_take(tmp_path / "a.wav")
    assert not samples[:61].any()


def test_many_samples_that_are_not_numbers_are_a_damaged_file(tmp_path, burst):
    burst[: RATE // 2] = np.nan
    soundfile.write(tmp_path / "a.wav", burst, RATE, subtype="FLOAT")
    with pytest.raises(TakeError, match="25% of its samples are not numbers"):
        read_take(tmp_path / "a.wav")


@pytest.mark.parametrize(
    ("contents", "sentence"),
    [
        (b"", '"take.wav" is empty'),
        (b"not a recording at all\n" * 200, "is not a recording, or is damaged or cut short"),
        (b"RIFF" + bytes(200), "is not a recording, or is damaged or cut short"),
        (b"MThd" + bytes(60), "is a MIDI file and holds no sound"),
        (np.random.default_rng(3).bytes(20_000), "(holds no sound|is not a recording)"),
    ],
)
def test_a_file_that_is_not_a_recording_is_reported_in_one_sentence(tmp_path, contents, sentence):
    path = tmp_path / "take.wav"
    path.write_bytes(contents)
    with pytest.raises(TakeError, match=sentence) as caught:
        read_take(path)
    assert "WAV, FLAC, MP3, M4A, Ogg or WebM" in str(caught.value)


def test_a_recording_of_no_length_holds_no_sound(tmp_path):
    soundfile.write(tmp_path / "a.wav", np.zeros(0, np.float32), RATE)
    with pytest.raises(TakeError, match="holds no sound"):
        read_take(tmp_path / "a.wav")


def test_a_film_without_sound_is_reported(tmp_path):
    with av.open(str(tmp_path / "film.mp4"), "w") as container:
        stream = container.add_stream("mpeg4", rate=10)
        stream.width = stream.height = 32
        stream.pix_fmt = "yuv420p"
        container.mux(stream.encode(av.VideoFrame.from_ndarray(np.zeros((32, 32, 3), np.uint8))))
        container.mux(stream.encode(None))
    with pytest.raises(TakeError, match=r'"film.mp4" holds no sound'):
        read_take(tmp_path / "film.mp4")


@pytest.mark.parametrize("name", ["missing.wav", "."])
def test_a_path_that_is_not_a_file_is_reported(tmp_path, name):
    with pytest.raises(TakeError, match=r"can't be read: (no such file or directory|is a directory)"):
        read_take(tmp_path / name)


@pytest.mark.parametrize("name", ["long.wav", "long.flac"])
def test_a_recording_of_hours_is_refused_before_it_is_decoded(tmp_path, name, monkeypatch):
    soundfile.write(tmp_path / name, np.zeros(8_000 * (round(budget.TAKE_SECONDS) + 60), np.int16), 8_000)
    monkeypatch.setattr(soundfile.SoundFile, "read", lambda *_a, **_k: pytest.fail("it was decoded"))
    with pytest.raises(TakeError, match="lasts 16 minutes; a take may last 15 minutes"):
        read_take(tmp_path / name)


def test_a_long_recording_without_a_length_is_refused_on_the_way(tmp_path, burst, monkeypatch):
    monkeypatch.setattr("fillwright.budget.TAKE_SECONDS", 1)
    path = tmp_path / "take.webm"
    path.write_bytes(encode_with_av(tmp_path, burst, "libopus", "webm", {"live": "1"}, 48_000))
    with pytest.raises(TakeError, match="a take may last 0 minutes"):
        read_take(path)


@pytest.mark.parametrize(
    ("codec", "form", "options", "rate"),
    [
        ("aac", "mp4", {"movflags": "faststart"}, RATE),
        ("libopus", "webm", {}, 48_000),
        ("libmp3lame", "mp3", {}, RATE),
    ],
)
def test_the_beginning_of_a_file_that_breaks_off_is_kept(tmp_path, burst, codec, form, options, rate):
    whole = encode_with_av(tmp_path, np.tile(burst, 3), codec, form, options, rate)
    path = tmp_path / "take.bin"
    path.write_bytes(whole[: len(whole) * 2 // 3])
    samples, found = read_take(path)
    assert 0.5 < len(samples) / found < 3 * SECONDS - 0.5
    assert start_of(samples, found) == pytest.approx(BURST / RATE, abs=0.06)


def test_an_mp4_without_its_table_is_reported(tmp_path, burst):
    whole = encode_with_av(tmp_path, burst, "aac", "mp4")
    path = tmp_path / "take.m4a"
    path.write_bytes(whole[: len(whole) * 2 // 3])
    with pytest.raises(TakeError, match="cut short"):
        read_take(path)


def change_byte(content, place):
    return content[:place] + bytes([content[place] ^ 0x10]) + content[place + 1 :]


def test_every_flac_with_a_changed_bit_is_read_in_part_or_refused(tmp_path, burst):
    noise = np.random.default_rng(4).normal(0, 0.01, len(burst)).astype(np.float32)
    soundfile.write(tmp_path / "a.flac", burst + noise, RATE)
    whole = (tmp_path / "a.flac").read_bytes()
    damaged = tmp_path / "b.flac"
    remarks = 0
    for place in range(4, len(whole), len(whole) // 60):
        damaged.write_bytes(change_byte(whole, place))
        try:
            decoded = decode_take(damaged)
        except TakeError:
            continue
        remarks += bool(decoded.remarks)
        assert np.isfinite(decoded.take_samples()).all()
    assert remarks > 20


def test_the_sound_after_the_damage_in_a_flac_keeps_its_time(tmp_path, burst):
    noise = np.random.default_rng(4).normal(0, 0.01, len(burst)).astype(np.float32)
    soundfile.write(tmp_path / "a.flac", burst + noise, RATE)
    whole = (tmp_path / "a.flac").read_bytes()
    (tmp_path / "b.flac").write_bytes(change_byte(whole, len(whole) // 5))
    decoded = decode_take(tmp_path / "b.flac")
    assert "is damaged" in decoded.remarks[0]
    assert start_of(decoded.take_samples(), decoded.rate) == pytest.approx(BURST / RATE, abs=0.001)


@pytest.mark.parametrize("share", [0.02, 0.3, 0.6, 0.95])
def test_a_flac_that_breaks_off_is_read_up_to_there(tmp_path, burst, share):
    noise = np.random.default_rng(4).normal(0, 0.01, len(burst)).astype(np.float32)
    soundfile.write(tmp_path / "a.flac", burst + noise, RATE)
    whole = (tmp_path / "a.flac").read_bytes()
    (tmp_path / "b.flac").write_bytes(whole[: round(len(whole) * share)])
    if share < 0.1:
        with pytest.raises(TakeError, match=r"holds no sound|is not a recording"):
            decode_take(tmp_path / "b.flac")
        return
    decoded = decode_take(tmp_path / "b.flac")
    assert decoded.remarks
    assert len(decoded.take_samples()) / RATE == pytest.approx(share * SECONDS, abs=0.15)


def make_wav(rate=44_100, channels=1, bits=16, form=1, data=b""):
    width = channels * bits // 8
    head = struct.pack("<HHIIHH", form, channels, rate, rate * width % 2**32, width % 2**16, bits)
    body = b"WAVEfmt " + struct.pack("<I", len(head)) + head + b"data" + struct.pack("<I", len(data)) + data
    return b"RIFF" + struct.pack("<I", len(body)) + body


@pytest.mark.parametrize(
    "content",
    [
        *(make_wav(data=bytes(200))[:length] for length in range(12, 145, 7)),
        make_wav(rate=2_000_000_000, data=bytes(100)),
        make_wav(rate=0, data=bytes(100)),
        make_wav(bits=64, data=bytes(8_000)),
        make_wav(channels=0, data=bytes(100)),
        make_wav(channels=60_000, data=bytes(200_000)),
        make_wav(form=0x1234, data=bytes(100)),
    ],
)
def test_a_strange_wav_is_refused_in_a_sentence(tmp_path, content):
    (tmp_path / "a.wav").write_bytes(content)
    start = time.monotonic()
    with pytest.raises(TakeError, match=r'^"a.wav" '):
        read_take(tmp_path / "a.wav")
    assert time.monotonic() - start < 2


def test_a_rate_that_changes_in_mid_file_keeps_the_length(tmp_path, burst):
    first = encode_with_av(tmp_path, burst, "aac", "adts", rate=RATE)
    second = encode_with_av(tmp_path, burst[:RATE], "aac", "adts", rate=24_000)
    (tmp_path / "a.aac").write_bytes(first + second)
    decoded = decode_take(tmp_path / "a.aac")
    assert decoded.remarks == (
        "The sample rate changes after 2.0 s from 44,100 to 24,000; all of it is read at 44,100.",
    )
    assert len(decoded.take_samples()) / decoded.rate == pytest.approx(3.0, abs=0.15)


def test_channels_that_change_in_mid_file_are_mixed(tmp_path, burst, monkeypatch):
    def blocks(*_):
        yield np.stack([burst, burst], axis=1), RATE
        yield burst[:, None], RATE
        yield np.stack([burst, burst], axis=1), RATE

    monkeypatch.setattr("fillwright.listen.onsets.decode.read_with_soundfile", blocks)
    (tmp_path / "a.wav").write_bytes(b"RIFF" + bytes(100))
    decoded = decode_take(tmp_path / "a.wav")
    assert (
        decoded.remarks[0] == "The number of channels changes after 2.0 s from 2 to 1; they are mixed into one."
    )
    assert np.allclose(decoded.take_samples()[:, 0], np.tile(burst, 3), atol=1e-6)


def test_channels_that_cancel_each_other_leave_the_louder(tmp_path, burst):
    soundfile.write(tmp_path / "a.wav", np.stack([0.9 * burst, -burst], axis=1), RATE, subtype="FLOAT")
    assert np.allclose(read_take(tmp_path / "a.wav")[0][:, 0], -burst, atol=1e-6)


def test_a_playlist_opens_no_other_file(tmp_path, burst):
    soundfile.write(tmp_path / "secret.wav", burst, RATE)
    path = tmp_path / "list.m3u8"
    path.write_text("#EXTM3U\n#EXT-X-TARGETDURATION:2\n#EXTINF:2,\nsecret.wav\n#EXT-X-ENDLIST\n")
    with pytest.raises(TakeError, match="is not a recording"):
        read_take(path)


def test_a_name_that_is_not_utf_8(tmp_path, burst):
    for name, content in (
        (b"\xff.wav", None),
        (b"\xff.mp3", encode_with_av(tmp_path, burst, "libmp3lame", "mp3")),
    ):
        path = tmp_path / os.fsdecode(name)
        if content is None:
            soundfile.write(os.fsencode(path), burst, RATE, format="WAV")
        else:
            path.write_bytes(content)
        assert len(read_take(path)[0])


def test_samples_on_many_channels_are_counted(tmp_path, burst, monkeypatch):
    monkeypatch.setattr("fillwright.budget.DECODED_SAMPLES", 200_000)
    soundfile.write(tmp_path / "a.wav", np.stack([burst] * 3, axis=1), RATE)
    with pytest.raises(TakeError, match="too many to read"):
        read_take(tmp_path / "a.wav")


DENSE = """
import sys
from pathlib import Path
from fillwright.score.parts.midi_notes import get_default_notes
from fillwright.take.take import detect_take
detected, remarks = detect_take(Path(sys.argv[1]), get_default_notes())
status = Path("/proc/self/status").read_text().splitlines()
print(len(detected.onsets), *(int(line.split()[1]) // 1024 for line in status if line.startswith("VmHWM")))
"""


@pytest.mark.skipif(not Path("/proc/self/status").exists(), reason="needs /proc")
def test_a_dense_take_of_14_minutes_stays_small(tmp_path):
    stroke = np.random.default_rng(5).normal(0, 0.2, 2_400) * np.exp(-np.arange(2_400) / 400)
    second = np.zeros((48_000, 2), np.int16)
    for number in range(10):
        second[number * 4_800 :][:2_400] = (20_000 * stroke[:, None]).clip(-32_000, 32_000)
    path = tmp_path / "dense.ogg"
    with av.open(str(path), "w", format="ogg") as container:
        stream = container.add_stream("libopus", rate=48_000)
        stream.layout = "stereo"
        for _ in range(14 * 60):
            frame = av.AudioFrame.from_ndarray(second.reshape(1, -1), format="s16", layout="stereo")
            frame.sample_rate = 48_000
            container.mux(stream.encode(frame))
        container.mux(stream.encode(None))
    command = [sys.executable, "-c", DENSE, str(path)]
    done = subprocess.run(command, capture_output=True, text=True, check=True, timeout=300)
    onsets, megabytes = map(int, done.stdout.split())
    assert onsets > 7_000
    assert megabytes < 700  # 453 measured before the onset network, which keeps 200 more; the aim is 500
    assert done.stderr == ""
