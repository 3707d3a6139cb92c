"""The samples of a take: any recording that a phone, a browser or a computer makes, decoded.

soundfile reads WAV, AIFF and FLAC; PyAV reads everything else, the sound of a film too. The constant delay of a
codec stays in (measured: fragmented MP4 941 samples, MP3 without a header 1105, ADTS 1024): it
moves a whole take, never one stroke against another.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from contextlib import suppress
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt

from fillwright.errors import TakeError

Samples = npt.NDArray[np.float32]
Block = tuple[Samples, int]
"""Samples of shape (n, channels) and their rate."""

LONGEST_SECONDS = 900
"""Length of the longest take that is accepted; ours, not measured."""

_HIGHEST_RATE = 50_000  # samples per second that are kept as they are; ours, not measured
_RESAMPLED_RATE = 48_000  # samples per second of what was faster; a common rate of recorders
_LOWEST_RATE = 8_000  # samples per second that are accepted: a telephone's
_SHORTEST_SECONDS = 0.05  # a shorter recording holds no sound; ours, not measured
_MOST_NOT_FINITE = 0.01  # share of samples that aren't finite, above which a file is damaged; ours
_BLOCK = 1 << 17  # samples read at a time, for memory
_GAP_SECONDS = (
    0.02,
    5.0,
)  # a gap between frames is filled with silence between these lengths; ours, not measured
_ACCEPTED = "give a recording: WAV, FLAC, MP3, M4A, Ogg or WebM"
_BY_SOUNDFILE = (b"RIFF", b"RF64", b"fLaC", b"FORM")


def read_take(path: Path) -> tuple[Samples, int]:
    """Read the samples of a recording.

    The content of a file decides how it is read, not its name. More than two channels are mixed into one, and
    more than 50,000 samples per second are resampled to 48,000. A few samples that aren't finite count as
    silence. Of a file that breaks off, the part that can be decoded is kept.

    Returns:
        Samples of shape (n, channels), one or two channels, and their rate.

    Raises:
        TakeError: for a file that can't be read, holds no sound, or lasts longer than 15 minutes.
    """
    head = _read_head(path)
    if head.startswith(b"MThd"):
        raise TakeError(f'"{path.name}" is a MIDI file and holds no sound; {_ACCEPTED}.')
    blocks: list[Samples] = []
    rate, length, not_finite = 0, 0, 0.0
    for block, rate in _limit_rate(_read_blocks(path, head)):
        finite = np.isfinite(block)
        not_finite += len(block) * (1 - float(finite.mean()))
        blocks.append(np.where(finite, block, np.float32(0)))
        length += len(block)
        if length > LONGEST_SECONDS * rate:
            raise _build_length_error(path.name)
    if length < _SHORTEST_SECONDS * rate or not rate:
        raise TakeError(f'"{path.name}" holds no sound; {_ACCEPTED}.')
    if not_finite > _MOST_NOT_FINITE * length:
        raise TakeError(
            f'"{path.name}" is damaged: {not_finite / length:.0%} of its samples are not numbers; '
            "export it again as 16-bit WAV."
        )
    return np.concatenate(blocks), rate


def _read_head(path: Path) -> bytes:
    try:
        with path.open("rb") as file:
            head = file.read(16)
    except OSError as error:
        reason = (error.strerror or str(error)).lower()
        raise TakeError(f'"{path}" can\'t be read: {reason}; {_ACCEPTED}.') from error
    if not head:
        raise TakeError(f'"{path.name}" is empty; {_ACCEPTED}.')
    return head


def _build_length_error(name: str, seconds: float = 0.0) -> TakeError:
    length = f"lasts {seconds / 60:.0f} minutes" if seconds else "is too long"
    return TakeError(
        f'"{name}" {length}; a take may last {LONGEST_SECONDS // 60} minutes, so cut it down first.'
    )


def _read_blocks(path: Path, head: bytes) -> Iterable[Block]:
    import soundfile  # noqa: PLC0415 - its library takes time to load, and phones make nothing it reads

    if head.startswith(_BY_SOUNDFILE):
        with suppress(soundfile.LibsndfileError):  # WAV may hold a codec that soundfile lacks
            return _read_with_soundfile(soundfile.SoundFile(path), path.name)
    return _read_with_av(path)


def _read_with_soundfile(file: Any, name: str) -> Iterator[Block]:
    with file:
        _check_format(name, file.samplerate, file.frames / file.samplerate)
        while len(block := file.read(_BLOCK, dtype="float32", always_2d=True)):
            yield block, file.samplerate


def _check_format(name: str, rate: int, seconds: float) -> None:
    if seconds > LONGEST_SECONDS:
        raise _build_length_error(name, seconds)
    if rate < _LOWEST_RATE:
        raise TakeError(
            f'"{name}" has {rate} samples per second, too few to detect strokes; record at 44,100 or more.'
        )


def _read_with_av(path: Path) -> Iterator[Block]:
    import av  # noqa: PLC0415 - its libraries take time to load, and WAV needs none of them

    try:
        with av.open(str(path), metadata_errors="ignore") as container:
            if not container.streams.audio:
                raise TakeError(f'"{path.name}" holds no sound, or is cut short; {_ACCEPTED}.')
            stream = container.streams.audio[0]
            ends = [container.duration / av.time_base if container.duration else 0.0]
            if stream.duration and stream.time_base:
                ends.append(float(stream.duration * stream.time_base))
            _check_format(path.name, stream.rate or _LOWEST_RATE, max(ends))
            yield from _fill_gaps(_decode_frames(container, stream))
    except (av.FFmpegError, EOFError) as error:
        raise TakeError(
            f'"{path.name}" is not a recording, or is damaged or cut short; {_ACCEPTED}.'
        ) from error


def _decode_frames(container: Any, stream: Any) -> Iterator[Any]:
    """Yield every frame that can be decoded, up to the first unreadable packet; damaged ones are skipped."""
    import av  # noqa: PLC0415 - as above

    packets = container.demux(stream)
    while True:
        try:
            packet = next(packets, None)
        except (av.FFmpegError, EOFError):
            return
        if packet is None:
            return
        with suppress(av.FFmpegError):
            yield from packet.decode()


def _fill_gaps(frames: Iterable[Any]) -> Iterator[Block]:
    """Yield frames as blocks, with silence for dropped ones, so that later ones keep their time."""
    clock: float | None = None
    for frame in frames:
        block, rate = _scale_frame(frame), frame.sample_rate
        now = frame.time
        if clock is not None and now is not None and _GAP_SECONDS[0] < now - clock < _GAP_SECONDS[1]:
            yield np.zeros((round((now - clock) * rate), block.shape[1]), np.float32), rate
        if now is not None:
            clock = now + len(block) / rate
        yield block, rate


def _scale_frame(frame: Any) -> Samples:
    """Return a frame's samples between -1 and 1, shape (n, channels)."""
    raw = frame.to_ndarray()
    channels = len(frame.layout.channels)
    shaped = raw.T if frame.format.is_planar else raw.reshape(-1, channels)
    if shaped.dtype.kind == "f":
        return np.asarray(shaped, np.float32)
    span = np.iinfo(shaped.dtype)
    middle = (int(span.max) + int(span.min) + 1) / 2
    return np.asarray((shaped - middle) / ((int(span.max) - int(span.min) + 1) / 2), np.float32)


def _limit_rate(blocks: Iterable[Block]) -> Iterator[Block]:
    """Yield blocks of at most two channels and at most 50,000 samples per second."""
    resampler: Any = None
    for block, rate in blocks:
        mixed = block if block.shape[1] <= 2 else block.mean(axis=1, keepdims=True)
        if rate <= _HIGHEST_RATE:
            yield mixed, rate
            continue
        resampler = resampler or _build_resampler(mixed.shape[1])
        yield from _resample(resampler, _build_frame(mixed, rate))
    if resampler is not None:
        yield from _resample(resampler, None)


def _build_resampler(channels: int) -> Any:
    import av  # noqa: PLC0415 - as above

    return av.AudioResampler(format="fltp", layout=("mono", "stereo")[channels - 1], rate=_RESAMPLED_RATE)


def _build_frame(block: Samples, rate: int) -> Any:
    import av  # noqa: PLC0415 - as above

    layout = ("mono", "stereo")[block.shape[1] - 1]
    frame = av.AudioFrame.from_ndarray(np.ascontiguousarray(block.T), format="fltp", layout=layout)
    frame.sample_rate = rate
    return frame


def _resample(resampler: Any, frame: Any) -> Iterator[Block]:
    for resampled in resampler.resample(frame):
        yield np.asarray(resampled.to_ndarray().T, np.float32), _RESAMPLED_RATE
