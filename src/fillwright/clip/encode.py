"""Frames and sound as an MP4 that plays while it is still being loaded."""

from __future__ import annotations

import errno
from collections.abc import Callable, Iterator
from fractions import Fraction
from typing import cast

import av
import numpy as np
from av import AudioStream, VideoStream
from av.container import OutputContainer

from fillwright.atomic import make_temporary_folder
from fillwright.clip.frames import FRAMES_PER_SECOND, Planes
from fillwright.clip.picture import HEIGHT, WIDTH
from fillwright.errors import OutputError
from fillwright.sound.files.audio import Audio

_PREFERRED = "libx264"
_ENCODERS: dict[str, dict[str, str]] = {
    _PREFERRED: {"preset": "veryfast", "crf": "16", "tune": "animation"},
    "libopenh264": {},
    "h264_videotoolbox": {},
    "mpeg4": {},
}
"""Video encoders to try, in order, with their options."""

_SOUND_ENCODER = "aac"
_BITS_A_SECOND = 12_000_000  # of the picture, where the encoder has no constant quality (ours, not measured)
_SOUND_BITS_A_SECOND = 192_000  # of the sound (common practice for stereo AAC, no source)
_SOUND_FRAME = 1024  # samples in a frame of AAC (from memory)
_BT709, _STUDIO_RANGE = 1, 1  # codes of colour matrix and range in the video stream (ITU-T H.273, from memory)
_KEY_EVERY_SECONDS = 2  # seconds from one key frame to the next (ours, not measured)


def encode_mp4(pictures: Iterator[Planes], audio: Audio, *, warn: Callable[[str], None]) -> bytes:
    """Encode a clip as the bytes of an MP4 file.

    Args:
        pictures: its frames.
        audio: its sound, starting with the first frame.
        warn: called with a sentence if the preferred encoder is missing.

    Raises:
        OutputError: where this machine has no encoder, or the encoder refuses.
    """
    encoder = _choose_encoder(warn)
    with make_temporary_folder() as folder:
        path = folder / "clip.mp4"
        try:
            with av.open(str(path), "w", format="mp4", options={"movflags": "+faststart"}) as file:
                _write_streams(file, encoder, pictures, audio)
        except av.FFmpegError as error:
            if error.errno == errno.ENOSPC:
                raise OSError(error.errno, error.strerror) from error
            raise OutputError(f"The clip can't be encoded with {encoder}: {error.strerror}.") from error
        return path.read_bytes()


def _choose_encoder(warn: Callable[[str], None]) -> str:
    """Find the first of our encoders that this machine has."""
    if not _has_encoder(_SOUND_ENCODER):
        raise OutputError("The clip can't be made: this machine's PyAV has no encoder for AAC sound.")
    encoder = next((name for name in _ENCODERS if _has_encoder(name)), None)
    if encoder is None:
        raise OutputError(
            f"The clip can't be made: this machine's PyAV has none of the encoders {', '.join(_ENCODERS)}; "
            "install PyAV from its own wheels."
        )
    if encoder != _PREFERRED:
        warn(f"This machine's PyAV has no {_PREFERRED}; the clip is encoded with {encoder}, less sharply.")
    return encoder


def _has_encoder(name: str) -> bool:
    try:
        av.codec.Codec(name, "w")
    except av.codec.codec.UnknownCodecError:
        return False
    return True


def _write_streams(file: OutputContainer, encoder: str, pictures: Iterator[Planes], audio: Audio) -> None:
    """Write frames and sound side by side, so that a player never has to read far ahead for either."""
    video, sound = _add_video(file, encoder), _add_sound(file, audio)
    heard = _cut_sound(audio)
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


def _add_video(file: OutputContainer, encoder: str) -> VideoStream:
    stream = cast(VideoStream, file.add_stream(encoder, rate=FRAMES_PER_SECOND, options=_ENCODERS[encoder]))
    stream.width, stream.height, stream.pix_fmt = WIDTH, HEIGHT, "yuv420p"
    if encoder != _PREFERRED:
        stream.bit_rate = _BITS_A_SECOND
    context = stream.codec_context
    context.gop_size = _KEY_EVERY_SECONDS * FRAMES_PER_SECOND
    context.color_primaries = context.color_trc = context.colorspace = _BT709
    context.color_range = _STUDIO_RANGE
    return stream


def _add_sound(file: OutputContainer, audio: Audio) -> AudioStream:
    stream = cast(AudioStream, file.add_stream(_SOUND_ENCODER, rate=audio.rate, options={}, layout="stereo"))
    stream.bit_rate = _SOUND_BITS_A_SECOND
    return stream


def _cut_sound(audio: Audio) -> Iterator[av.AudioFrame]:
    for start in range(0, len(audio.samples), _SOUND_FRAME):
        samples = np.ascontiguousarray(audio.samples[start : start + _SOUND_FRAME].T)
        frame = av.AudioFrame.from_ndarray(samples, format="fltp", layout="stereo")
        frame.sample_rate, frame.pts, frame.time_base = audio.rate, start, Fraction(1, audio.rate)
        yield frame
