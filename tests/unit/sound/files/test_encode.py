import io
import os
import subprocess
import sys
from dataclasses import replace

import numpy as np
import pytest
import soundfile

from fillwright.errors import OutputError
from fillwright.sound.files.audio import Audio
from fillwright.sound.files.encode import NO_TAGS, SUFFIXES, Tags, encode_audio
from fillwright.sound.model.bank import default_bank
from fillwright.sound.model.cache import CACHE_VARIABLE
from fillwright.sound.signal import SAMPLE_RATE


def write_audio(path, audio, tags=NO_TAGS):
    path.write_bytes(encode_audio(audio, path.suffix.lower(), tags=tags))


@pytest.fixture(scope="module")
def audio():
    """A little more than two seconds, so that it is written in pieces."""
    samples = np.zeros((2 * SAMPLE_RATE + 777, 2), np.float32)
    for start in (0, SAMPLE_RATE // 2, SAMPLE_RATE):
        shot = default_bank().get_shot("snare", 112, start)
        samples[start : start + len(shot)] += shot
    return Audio(samples=samples)


@pytest.mark.parametrize("suffix", SUFFIXES)
def test_written_files_can_be_read(tmp_path, audio, suffix):
    path = tmp_path / f"fill{suffix}"
    write_audio(path, audio, tags=Tags(title="Größer & < louder >", artist="A teacher", album="Lesson 3"))
    with soundfile.SoundFile(path) as file:
        assert (file.title, file.artist, file.album) == ("Größer & < louder >", "A teacher", "Lesson 3")
        assert (file.samplerate, file.channels) == (SAMPLE_RATE, 2)
        read = file.read(dtype="float32")
    assert read.shape == audio.samples.shape
    closeness = np.corrcoef(read.ravel(), audio.samples.ravel())[0, 1]
    assert closeness > (0.95 if suffix in (".ogg", ".mp3") else 0.99999)


@pytest.mark.parametrize("suffix", [".wav", ".flac"])
def test_lossless_formats_are_right_to_the_sixteenth_bit(audio, suffix):
    read, _ = soundfile.read(io.BytesIO(encode_audio(audio, suffix)), dtype="float32")
    assert np.abs(read - audio.samples).max() <= 1.01 / 2**15


def test_an_untagged_file_has_no_tags(tmp_path, audio):
    write_audio(tmp_path / "a.flac", audio)
    with soundfile.SoundFile(tmp_path / "a.flac") as file:
        assert file.title == file.artist == file.album == ""


@pytest.mark.parametrize("suffix", SUFFIXES)
def test_track_and_comment_are_written(tmp_path, audio, suffix):
    write_audio(tmp_path / f"a{suffix}", audio, tags=Tags(track=12, comment="90 beats a minute, 4/4"))
    with soundfile.SoundFile(tmp_path / f"a{suffix}") as file:
        assert (file.tracknumber, file.comment) == ("12", "90 beats a minute, 4/4")
        assert file.title == ""


def test_a_loop_can_not_be_an_mp3(tmp_path, audio):
    with pytest.raises(OutputError, match=r"An MP3 can't be a seamless loop.* as \.wav, \.flac or \.ogg"):
        write_audio(tmp_path / "a.mp3", replace(audio, loops=True))
    assert not os.listdir(tmp_path)


@pytest.mark.parametrize("suffix", SUFFIXES)
@pytest.mark.parametrize("samples", [1, 1000])
def test_silence_and_very_short_audio_can_be_written(tmp_path, suffix, samples):
    write_audio(tmp_path / f"short{suffix}", Audio(samples=np.zeros((samples, 2), np.float32)))
    read, _ = soundfile.read(tmp_path / f"short{suffix}")
    assert read.shape == (samples, 2)


@pytest.mark.parametrize("suffix", SUFFIXES)
def test_empty_audio_is_refused(tmp_path, suffix):
    with pytest.raises(OutputError, match="The audio is empty: it lasts 0 seconds"):
        write_audio(tmp_path / f"nothing{suffix}", Audio(samples=np.zeros((0, 2), np.float32)))
    assert not os.listdir(tmp_path)


def test_capital_suffixes_are_understood(tmp_path, audio):
    write_audio(tmp_path / "FILL.WAV", audio)
    assert soundfile.info(tmp_path / "FILL.WAV").format == "WAV"


def test_a_file_is_replaced(tmp_path, audio):
    path = tmp_path / "fill.wav"
    path.write_bytes(b"old")
    write_audio(path, audio)
    assert path.read_bytes()[:4] == b"RIFF"
    assert os.listdir(tmp_path) == ["fill.wav"]


_HASH = """
import hashlib, sys
import numpy as np
from fillwright.sound.files.audio import Audio
from fillwright.sound.files.encode import SUFFIXES, encode_audio
from fillwright.sound.model.bank import default_bank
shots = [default_bank().get_shot(name, 112, 0) for name in ("snare", "crash", "kick")]
samples = np.concatenate(shots)
for suffix in SUFFIXES:
    print(hashlib.sha256(encode_audio(Audio(samples=samples), suffix)).hexdigest())
"""


def test_another_process_makes_the_same_bytes(tmp_path):
    """Fresh interpreters, each with an empty cache, random hashes, an Ogg serial and a way to multiply matrices
    of its own."""
    runs = [
        subprocess.run(
            [sys.executable, "-c", _HASH],
            capture_output=True,
            text=True,
            check=True,
            env={**os.environ, "OPENBLAS_NUM_THREADS": threads, CACHE_VARIABLE: str(tmp_path / threads)},
        ).stdout.split()
        for threads in ("1", "2")
    ]
    assert len(runs[0]) == len(SUFFIXES)
    assert runs[0] == runs[1]


@pytest.mark.parametrize("name", ["fill", "fill.aac", "fill.txt", "fill."])
def test_an_unknown_ending_is_refused(tmp_path, audio, name):
    with pytest.raises(OutputError, match=r"is not an ending of an audio file; use \.wav"):
        write_audio(tmp_path / name, audio)
    assert not os.listdir(tmp_path)


def test_a_failing_encoder_is_reported(tmp_path):
    odd = Audio(samples=np.zeros((100, 2), np.float32), rate=12_345_678)
    with pytest.raises(OutputError, match="The audio can't be encoded as MP3"):
        write_audio(tmp_path / "fill.mp3", odd)
    assert not os.listdir(tmp_path)
