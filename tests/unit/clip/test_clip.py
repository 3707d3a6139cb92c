"""Clips: what is refused, what is said, and that nothing is half written."""

from __future__ import annotations

import io
from pathlib import Path

import av
import numpy as np
import pytest

from fillwright.clip import encode as clip_file
from fillwright.clip.clip import Clip, ClipSettings, make_clip, write_clip
from fillwright.clip.encode import encode_mp4
from fillwright.clip.frames import FRAMES_PER_SECOND
from fillwright.errors import FillwrightError, OutputError, UnknownNameError
from fillwright.lesson.single_fill import FillChoice, SingleFill, make_single_fill
from fillwright.sound.files.audio import Audio
from fillwright.sound.playalong.options import Options

GREY = np.full((1620, 1920), 128, np.uint8)
SHORT = Audio(samples=np.zeros((4410, 2), np.float32))


@pytest.fixture(scope="module")
def fill() -> SingleFill:
    return make_single_fill(FillChoice(figure="single paradiddle", bars=1))


class Silence:
    """A bank without a sound."""

    def get_shot(self, _name: str, _velocity: int, _index: int) -> np.ndarray:
        return np.zeros((1, 2), np.float32)


def test_a_clip_lasts_as_long_as_its_sound_and_has_its_start(fill):
    clip = make_clip(
        fill, ClipSettings(tempo=400, options=Options(count_in_bars=1), background="dark"), bank=Silence()
    )
    assert clip.start_seconds == pytest.approx(0.5 + 0.6)
    assert clip.seconds == pytest.approx(0.5 + 0.6 + 0.6, abs=1 / FRAMES_PER_SECOND + 1e-9)
    assert clip.report() == {
        "seconds": clip.seconds,
        "start_seconds": clip.start_seconds,
        "frames": clip.frames,
        "frames_per_second": 30,
    }
    with av.open(io.BytesIO(clip.content)) as file:
        assert sum(1 for _ in file.decode(video=0)) == clip.frames


def test_a_background_that_is_none_is_refused(fill):
    with pytest.raises(UnknownNameError, match='no background called "pink"'):
        make_clip(fill, ClipSettings(tempo=80, background="pink"))


def test_a_clip_of_a_quarter_of_an_hour_is_enough():
    long = make_single_fill(FillChoice(figure="single paradiddle", bars=4))
    with pytest.raises(FillwrightError, match="A clip of 52 minutes is too long; the limit is 15 minutes"):
        make_clip(long, ClipSettings(tempo=20, options=Options(repeats=64, count_in_bars=2)))


@pytest.mark.parametrize("name", ["a.mov", "a", "a.mp3"])
def test_another_ending_is_refused_before_anything_is_made(tmp_path: Path, name: str):
    def never() -> Clip:
        raise AssertionError("the clip was made")

    with pytest.raises(OutputError, match=r"is not an ending for a clip; use \.mp4"):
        write_clip(tmp_path / name, never)
    assert not list(tmp_path.iterdir())


def test_a_clip_that_fails_leaves_the_one_before(tmp_path: Path):
    path = tmp_path / "a.mp4"
    path.write_bytes(b"before")

    def fails() -> Clip:
        raise OutputError("It can't be encoded.")

    with pytest.raises(OutputError, match="It can't be encoded"):
        write_clip(path, fails)
    assert path.read_bytes() == b"before"
    write_clip(path, lambda: Clip(content=b"after", frames=1, start_seconds=0.0))
    assert path.read_bytes() == b"after"
    assert [fill.name for fill in tmp_path.iterdir()] == ["a.mp4"]


def test_where_the_first_encoder_is_missing_the_next_is_used_and_named(monkeypatch):
    encoders = clip_file._has_encoder
    monkeypatch.setattr(clip_file, "_has_encoder", lambda name: name in ("aac", "mpeg4") and encoders(name))
    warnings: list[str] = []
    clip = encode_mp4(iter([GREY] * 3), SHORT, warn=warnings.append)
    assert warnings == ["This machine's PyAV has no libx264; the clip is encoded with mpeg4, less sharply."]
    with av.open(io.BytesIO(clip)) as file:
        assert file.streams.video[0].codec_context.name == "mpeg4"


@pytest.mark.parametrize(
    ("encoders", "sentence"),
    [
        (("libx264",), "this machine's PyAV has no encoder for AAC sound"),
        (("aac",), "this machine's PyAV has none of the encoders libx264, libopenh264"),
    ],
)
def test_a_missing_encoder_is_reported(monkeypatch, encoders, sentence):
    monkeypatch.setattr(clip_file, "_has_encoder", lambda name: name in encoders)
    with pytest.raises(OutputError, match=sentence):
        encode_mp4(iter([GREY]), SHORT, warn=print)


def test_an_encoder_that_refuses_is_reported(monkeypatch):
    monkeypatch.setitem(clip_file._ENCODERS, "libx264", {"preset": "no such thing"})
    with pytest.raises(OutputError, match="The clip can't be encoded with libx264"):
        encode_mp4(iter([GREY]), SHORT, warn=print)


def test_an_unknown_encoder_is_missing():
    assert not clip_file._has_encoder("no such encoder")
