"""What a recording is, is read from its bytes alone."""

from __future__ import annotations

import io

import av
import numpy as np
import pytest

from fillwright.errors import TakeError
from fillwright.store.takes import FILE_SUFFIXES, LARGEST_TAKE_BYTES
from fillwright.studio.web.request import UploadedFile
from fillwright.studio.web.uploads import check_recording

_MADE = {
    "audio/wav": ("wav", "pcm_s16le"),
    "audio/flac": ("flac", "flac"),
    "audio/ogg": ("ogg", "libopus"),
    "audio/webm": ("webm", "libopus"),
    "audio/mp4": ("mp4", "aac"),
    "audio/mpeg": ("mp3", "libmp3lame"),
    "audio/aac": ("adts", "aac"),
}


def _encoded(container: str, codec: str) -> bytes:
    """A fifth of a second of noise, as an encoder of others writes it."""
    memory = io.BytesIO()
    noise = np.random.default_rng(4).uniform(-0.5, 0.5, (1, 9600)).astype(np.float32)
    with av.open(memory, "w", format=container) as box:
        stream = box.add_stream(codec, rate=48_000, layout="mono")
        frame = av.AudioFrame.from_ndarray(noise, format="fltp", layout="mono")
        frame.rate = 48_000
        turn = av.AudioResampler(format=stream.format, layout="mono", rate=48_000, frame_size=stream.frame_size)
        for piece in (*turn.resample(frame), *turn.resample(None)):
            box.mux(stream.encode(piece))
        box.mux(stream.encode(None))
    return memory.getvalue()


@pytest.mark.parametrize("media_type", _MADE)
def test_every_kind_is_known_by_its_bytes_whatever_its_name(media_type):
    content = _encoded(*_MADE[media_type])
    assert check_recording(UploadedFile(name="../../holiday.exe", content=content)) == (media_type, content)
    assert media_type in FILE_SUFFIXES


def test_midi_is_known():
    assert check_recording(UploadedFile(name="", content=b"MThd\0\0\0\6\0\0\0\1\1\xe0MTrk"))[0] == "audio/midi"


def test_a_tag_before_the_sound_is_passed_over():
    tag = b"ID3\4\0\0" + bytes((0, 0, 1, 2)) + bytes(130)
    for media_type in ("audio/mpeg", "audio/aac", "audio/flac"):
        content = _encoded(*_MADE[media_type])
        if content.startswith(b"ID3"):
            continue
        assert check_recording(UploadedFile(name="x", content=tag + content))[0] == media_type


@pytest.mark.parametrize(
    "content",
    [
        b"<!doctype html><script>alert(1)</script>",
        b"<svg xmlns='http://www.w3.org/2000/svg'/>",
        b"%PDF-1.7\n",
        b"PK\3\4" + bytes(40),
        b"\x89PNG\r\n\x1a\n" + bytes(40),
        b"\xff\xd8\xff\xe0" + bytes(40),
        b"\xff\xfeh\0e\0l\0l\0o\0",
        b"\xff\xff\xff\xff" * 8,
        b"RIFF\x24\0\0\0AVI LIST" + bytes(40),
        b"\x1a\x45\xdf\xa3" + bytes(60),
        b"\0\0\0\x18ftypheic" + bytes(40),
        b"\x7fELF" + bytes(60),
        b"MT",
        b"ID3",
        b"ID3\4\0\0\x7f\x7f\x7f\x7f" + bytes(60),
        b"\0",
    ],
)
def test_anything_else_is_refused(content):
    with pytest.raises(TakeError, match=r"^That file is not a recording; send WAV"):
        check_recording(UploadedFile(name="take.wav", content=content))


def test_nothing_is_refused():
    for sent in (None, UploadedFile(name="take.wav", content=b"")):
        with pytest.raises(TakeError, match=r"^There is no recording. Record a take"):
            check_recording(sent)


def test_too_much_is_refused_in_one_sentence():
    content = b"RIFF\0\0\0\0WAVE" + bytes(LARGEST_TAKE_BYTES)
    with pytest.raises(TakeError, match=r"^The recording is larger than 40 MB. Shorten it"):
        check_recording(UploadedFile(name="take.wav", content=content))
