"""Reading a take: every common format, and one sentence for a file that can't be read."""

import av
import numpy as np
import pytest
import soundfile

from fillwright import budget
from fillwright.errors import TakeError
from fillwright.listen.onsets.decode import read_take

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
