"""Reading a take: any recording that a phone, a browser or a computer makes, as samples.

WAV, AIFF and FLAC are read by soundfile, everything else by PyAV, which also takes the sound out of a film. The
constant delay of a codec stays in (fragmented MP4 941 samples, MP3 without a header 1105, ADTS 1024): it moves
a whole take, never one stroke against another.
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
"""A piece of shape (n, channels) and its rate."""

LONGEST_SECONDS = 900
"""The longest take that is accepted."""

_HIGHEST_RATE, _LOWERED_RATE = 50_000, 48_000
_LOWEST_RATE = 8_000
_SHORTEST_SECONDS = 0.05
_MOST_NOT_NUMBERS = 0.01
_BLOCK = 1 << 17
_GAP_SECONDS = (0.02, 5.0)
_ACCEPTED = "give a recording: WAV, FLAC, MP3, M4A, Ogg or WebM"
_BY_SOUNDFILE = (b"RIFF", b"RF64", b"fLaC", b"FORM")


def read_take(path: Path) -> tuple[Samples, int]:
    """The samples of a recording.

    What a file holds says how it is read, not its name. More than two channels are mixed into one, and more
    than 50,000 samples a second are brought down to 48,000. Samples that are not numbers count as silence while
    they are few. Of a file that breaks off, what can be decoded is kept.

    Returns:
        Samples of shape (n, channels), one or two channels, and their rate.

    Raises:
        TakeError: for what can't be read, holds no sound, or lasts longer than 15 minutes.
    """
    head = _head(path)
    if head.startswith(b"MThd"):
        raise TakeError(f'"{path.name}" is a MIDI file and holds no sound; {_ACCEPTED}.')
    blocks: list[Samples] = []
    rate, length, wrong = 0, 0, 0.0
    for block, rate in _lowered(_blocks(path, head)):
        good = np.isfinite(block)
        wrong += len(block) * (1 - float(good.mean()))
        blocks.append(np.where(good, block, np.float32(0)))
        length += len(block)
        if length > LONGEST_SECONDS * rate:
            raise _too_long(path.name)
    if length < _SHORTEST_SECONDS * rate or not rate:
        raise TakeError(f'"{path.name}" holds no sound; {_ACCEPTED}.')
    if wrong > _MOST_NOT_NUMBERS * length:
        raise TakeError(
            f'"{path.name}" is damaged: {wrong / length:.0%} of its samples are not numbers; '
            "export it again as 16-bit WAV."
        )
    return np.concatenate(blocks), rate


def _head(path: Path) -> bytes:
    try:
        with path.open("rb") as file:
            head = file.read(16)
    except OSError as error:
        why = (error.strerror or str(error)).lower()
        raise TakeError(f'"{path}" can\'t be read: {why}; {_ACCEPTED}.') from error
    if not head:
        raise TakeError(f'"{path.name}" is empty; {_ACCEPTED}.')
    return head


def _too_long(name: str, seconds: float = 0.0) -> TakeError:
    found = f"lasts {seconds / 60:.0f} minutes" if seconds else "is too long"
    return TakeError(
        f'"{name}" {found}; a take may last {LONGEST_SECONDS // 60} minutes, so cut it down first.'
    )


def _blocks(path: Path, head: bytes) -> Iterable[Block]:
    import soundfile  # noqa: PLC0415 - its library takes time to load, and phones make nothing it reads

    if head.startswith(_BY_SOUNDFILE):
        with suppress(soundfile.LibsndfileError):  # WAV may hold a codec that soundfile has not got
            return _by_soundfile(soundfile.SoundFile(path), path.name)
    return _by_av(path)


def _by_soundfile(file: Any, name: str) -> Iterator[Block]:
    with file:
        _check(name, file.samplerate, file.frames / file.samplerate)
        while len(block := file.read(_BLOCK, dtype="float32", always_2d=True)):
            yield block, file.samplerate


def _check(name: str, rate: int, seconds: float) -> None:
    if seconds > LONGEST_SECONDS:
        raise _too_long(name, seconds)
    if rate < _LOWEST_RATE:
        raise TakeError(
            f'"{name}" has {rate} samples a second, too few to hear drums in; record at 44,100 or more.'
        )


def _by_av(path: Path) -> Iterator[Block]:
    import av  # noqa: PLC0415 - its libraries take time to load, and WAV needs none of them

    try:
        with av.open(str(path), metadata_errors="ignore") as box:
            if not box.streams.audio:
                raise TakeError(f'There is no sound in "{path.name}", or it is cut short; {_ACCEPTED}.')
            stream = box.streams.audio[0]
            ends = [box.duration / av.time_base if box.duration else 0.0]
            if stream.duration and stream.time_base:
                ends.append(float(stream.duration * stream.time_base))
            _check(path.name, stream.rate or _LOWEST_RATE, max(ends))
            yield from _without_gaps(_frames(box, stream))
    except (av.FFmpegError, EOFError) as error:
        raise TakeError(f'"{path.name}" is no recording, or is damaged or cut short; {_ACCEPTED}.') from error


def _frames(box: Any, stream: Any) -> Iterator[Any]:
    """Every frame that can be decoded; a damaged one is left out, and the end is where no more can be read."""
    import av  # noqa: PLC0415 - as above

    packets = box.demux(stream)
    while True:
        try:
            packet = next(packets, None)
        except (av.FFmpegError, EOFError):
            return
        if packet is None:
            return
        with suppress(av.FFmpegError):
            yield from packet.decode()


def _without_gaps(frames: Iterable[Any]) -> Iterator[Block]:
    """Frames as blocks, with silence where the recorder dropped some, so that what follows keeps its time."""
    clock: float | None = None
    for frame in frames:
        block, rate = _samples(frame), frame.sample_rate
        now = frame.time
        if clock is not None and now is not None and _GAP_SECONDS[0] < now - clock < _GAP_SECONDS[1]:
            yield np.zeros((round((now - clock) * rate), block.shape[1]), np.float32), rate
        if now is not None:
            clock = now + len(block) / rate
        yield block, rate


def _samples(frame: Any) -> Samples:
    """A frame between -1 and 1, shape (n, channels)."""
    raw = frame.to_ndarray()
    channels = len(frame.layout.channels)
    shaped = raw.T if frame.format.is_planar else raw.reshape(-1, channels)
    if shaped.dtype.kind == "f":
        return np.asarray(shaped, np.float32)
    whole = np.iinfo(shaped.dtype)
    middle = (int(whole.max) + int(whole.min) + 1) / 2
    return np.asarray((shaped - middle) / ((int(whole.max) - int(whole.min) + 1) / 2), np.float32)


def _lowered(blocks: Iterable[Block]) -> Iterator[Block]:
    """Blocks of at most two channels and at a rate that is worth the work."""
    turn: Any = None
    for block, rate in blocks:
        few = block if block.shape[1] <= 2 else block.mean(axis=1, keepdims=True)
        if rate <= _HIGHEST_RATE:
            yield few, rate
            continue
        turn = turn or _resampler(few.shape[1])
        yield from _resampled(turn, _as_frame(few, rate))
    if turn is not None:
        yield from _resampled(turn, None)


def _resampler(channels: int) -> Any:
    import av  # noqa: PLC0415 - as above

    return av.AudioResampler(format="fltp", layout=("mono", "stereo")[channels - 1], rate=_LOWERED_RATE)


def _as_frame(block: Samples, rate: int) -> Any:
    import av  # noqa: PLC0415 - as above

    layout = ("mono", "stereo")[block.shape[1] - 1]
    frame = av.AudioFrame.from_ndarray(np.ascontiguousarray(block.T), format="fltp", layout=layout)
    frame.sample_rate = rate
    return frame


def _resampled(turn: Any, frame: Any) -> Iterator[Block]:
    for made in turn.resample(frame):
        yield np.asarray(made.to_ndarray().T, np.float32), _LOWERED_RATE
