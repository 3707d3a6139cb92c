"""Audio in a file: the format is that of its ending, and nothing is half written."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import soundfile

from fillwright.errors import OutputError
from fillwright.sound.files.audio import Audio
from fillwright.sound.files.encode import Tags
from fillwright.workbench.play import write_audio

RATE = 44_100


@pytest.fixture
def tone() -> Audio:
    wave = 0.3 * np.sin(2 * np.pi * 220 * np.arange(RATE // 2) / RATE)
    return Audio(samples=np.stack([wave, -wave], axis=1).astype(np.float32), rate=RATE, start_seconds=0.0)


@pytest.mark.parametrize(
    ("name", "kind"),
    [("a.wav", "WAV"), ("a.flac", "FLAC"), ("a.ogg", "OGG"), ("a.mp3", "MP3"), ("A.FLAC", "FLAC")],
)
def test_the_ending_says_the_format(tmp_path: Path, tone: Audio, name: str, kind: str) -> None:
    write_audio(tmp_path / name, tone, tags=Tags(title="Fill 3"))
    with soundfile.SoundFile(tmp_path / name) as file:
        assert (file.format, file.samplerate, file.channels) == (kind, RATE, 2)
        assert file.frames / RATE == pytest.approx(0.5, abs=0.06)


def test_lossless_files_hold_the_samples(tmp_path: Path, tone: Audio) -> None:
    write_audio(tmp_path / "a.flac", tone)
    samples, _ = soundfile.read(tmp_path / "a.flac", dtype="float32")
    assert np.abs(samples - tone.samples).max() < 1e-4


def test_tags_have_the_title(tmp_path: Path, tone: Audio) -> None:
    write_audio(tmp_path / "a.flac", tone, tags=Tags(title="Fill 3"))
    with soundfile.SoundFile(tmp_path / "a.flac") as file:
        assert file.copy_metadata()["title"] == "Fill 3"


@pytest.mark.parametrize("name", ["a.txt", "a"])
def test_another_ending_is_refused_and_nothing_is_left(tmp_path: Path, tone: Audio, name: str) -> None:
    with pytest.raises(OutputError):
        write_audio(tmp_path / name, tone)
    assert not list(tmp_path.iterdir())


def test_what_was_there_stays_where_nothing_can_be_written(tmp_path: Path, tone: Audio) -> None:
    (tmp_path / "a.wav").mkdir()
    with pytest.raises(OutputError):
        write_audio(tmp_path / "a.wav", tone)
    assert [path.name for path in tmp_path.iterdir()] == ["a.wav"]


def test_the_same_bytes_twice(tmp_path: Path, tone: Audio) -> None:
    for name in ("a.ogg", "b.ogg"):
        write_audio(tmp_path / name, tone, tags=Tags(title="Fill 3"))
    assert (tmp_path / "a.ogg").read_bytes() == (tmp_path / "b.ogg").read_bytes()
