"""Frames and sound as an MP4 that plays while it is still being loaded."""

from __future__ import annotations

import tempfile
from collections.abc import Callable, Iterator
from fractions import Fraction
from pathlib import Path
from typing import cast

import av
import numpy as np
from av import AudioStream, VideoStream
from av.container import OutputContainer

from fillwright.clip.frames import FRAMES_PER_SECOND, Planes
from fillwright.clip.picture import HEIGHT, WIDTH
from fillwright.errors import OutputError
from fillwright.sound.files.audio import Audio

_WISHED = "libx264"
_ENCODERS: dict[str, dict[str, str]] = {
    _WISHED: {"preset": "veryfast", "crf": "16", "tune": "animation"},
    "libopenh264": {},
    "h264_videotoolbox": {},
    "mpeg4": {},
}
"""What is tried, in order."""

_SOUND_ENCODER = "aac"
_BITS_A_SECOND, _SOUND_BITS_A_SECOND = 12_000_000, 192_000
_SOUND_FRAME = 1024
_BT709, _STUDIO_RANGE = 1, 1
_KEY_EVERY_SECONDS = 2


def encode_mp4(pictures: Iterator[Planes], audio: Audio, *, warn: Callable[[str], None]) -> bytes:
    """A clip as the bytes of a file.

    Args:
        pictures: its frames.
        audio: its sound, starting with the first frame.
        warn: told a sentence where another encoder than the one we would choose has to do.

    Raises:
        OutputError: where this machine has no encoder, or the encoder refuses.
    """
    encoder = _encoder(warn)
    with tempfile.TemporaryDirectory(prefix="fillwright-") as folder:
        path = Path(folder) / "clip.mp4"
        try:
            with av.open(str(path), "w", format="mp4", options={"movflags": "+faststart"}) as file:
                _write(file, encoder, pictures, audio)
        except av.FFmpegError as error:
            raise OutputError(f"The clip can't be encoded with {encoder}: {error.strerror}.") from error
        return path.read_bytes()


def _encoder(warn: Callable[[str], None]) -> str:
    """The first of our encoders that this machine has."""
    if not _has(_SOUND_ENCODER):
        raise OutputError("The clip can't be made: this machine's PyAV has no encoder for AAC sound.")
    found = next((name for name in _ENCODERS if _has(name)), None)
    if found is None:
        raise OutputError(
            f"The clip can't be made: this machine's PyAV has none of the encoders {', '.join(_ENCODERS)}; "
            "install PyAV from its own wheels."
        )
    if found != _WISHED:
        warn(f"This machine's PyAV has no {_WISHED}; the clip is encoded with {found}, a little less sharply.")
    return found


def _has(name: str) -> bool:
    try:
        av.codec.Codec(name, "w")
    except av.codec.codec.UnknownCodecError:
        return False
    return True


def _write(file: OutputContainer, encoder: str, pictures: Iterator[Planes], audio: Audio) -> None:
    """Frames and sound side by side, so that a player never has to look far ahead for either."""
    video, sound = _video(file, encoder), _sound(file, audio)
    heard = _sound_frames(audio)
    reached = 0
    for number, planes in enumerate(pictures):
        frame = av.VideoFrame.from_ndarray(planes, format="yuv420p")
        frame.pts, frame.time_base = number, Fraction(1, FRAMES_PER_SECOND)
        file.mux(video.encode(frame))
        while reached * FRAMES_PER_SECOND < (number + 1) * audio.rate and (more := next(heard, None)):
            reached += more.samples
            file.mux(sound.encode(more))
    file.mux(video.encode(None))
    for more in heard:
        file.mux(sound.encode(more))
    file.mux(sound.encode(None))


def _video(file: OutputContainer, encoder: str) -> VideoStream:
    made = cast(VideoStream, file.add_stream(encoder, rate=FRAMES_PER_SECOND, options=_ENCODERS[encoder]))
    made.width, made.height, made.pix_fmt = WIDTH, HEIGHT, "yuv420p"
    if encoder != _WISHED:
        made.bit_rate = _BITS_A_SECOND
    context = made.codec_context
    context.gop_size = _KEY_EVERY_SECONDS * FRAMES_PER_SECOND
    context.color_primaries = context.color_trc = context.colorspace = _BT709
    context.color_range = _STUDIO_RANGE
    return made


def _sound(file: OutputContainer, audio: Audio) -> AudioStream:
    made = cast(AudioStream, file.add_stream(_SOUND_ENCODER, rate=audio.rate, options={}, layout="stereo"))
    made.bit_rate = _SOUND_BITS_A_SECOND
    return made


def _sound_frames(audio: Audio) -> Iterator[av.AudioFrame]:
    for start in range(0, len(audio.samples), _SOUND_FRAME):
        piece = np.ascontiguousarray(audio.samples[start : start + _SOUND_FRAME].T)
        frame = av.AudioFrame.from_ndarray(piece, format="fltp", layout="stereo")
        frame.sample_rate, frame.pts, frame.time_base = audio.rate, start, Fraction(1, audio.rate)
        yield frame
