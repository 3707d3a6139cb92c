"""The blocks of samples of a recording, as libraries decode them, with what they could not decode.

soundfile reads WAV, AIFF and FLAC; PyAV reads everything else, the sound of a film too, and what soundfile
gives up on. Both are written in C and read files of strangers: whatever they raise means a damaged file, so
every exception is caught where they are called.
"""

from __future__ import annotations

import os
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any, BinaryIO

import numpy as np
import numpy.typing as npt

from fillwright import budget
from fillwright.errors import FillwrightError, TakeError

Samples = npt.NDArray[np.float32]
Block = tuple[Samples, int]
"""Samples of shape (n, channels) and their rate."""

ACCEPTED = "give a recording: WAV, FLAC, MP3, M4A, Ogg or WebM"
"""End of a sentence about a file that is not a recording."""

BLOCK = 1 << 17
"""Samples read at a time, for memory; ours, not measured."""

_GAP_SECONDS = (0.02, 5.0)  # lengths of a gap between frames that is filled with silence; ours, not measured
_BY_SOUNDFILE = (b"RIFF", b"RF64", b"fLaC", b"FORM")
_FORMATS = "aac,aiff,amr,asf,au,avi,caf,flac,loas,matroska,mov,mp3,mp4,mpeg,mpegts,ogg,w64,wav,webm,wv"
"""Formats that PyAV may recognise. Playlists are not among them: they open other files and addresses."""


class DamagedError(Exception):
    """Raised where a library gives up on a file.

    Attributes:
        begun: True if it had begun to decode it; False for a codec that it lacks.
    """

    def __init__(self, reason: str, *, begun: bool) -> None:
        """Take the words of the library."""
        super().__init__(reason)
        self.begun = begun


@dataclass(slots=True, kw_only=True)
class Losses:
    """Parts of a file that could not be decoded. Mutable: counted while it is read.

    Attributes:
        packets: number of pieces that were skipped.
        broken_off: True if it breaks off before its end.
    """

    packets: int = 0
    broken_off: bool = False


def is_read_by_soundfile(head: bytes) -> bool:
    """Return True if a file with these first bytes is read with soundfile first."""
    return head.startswith(_BY_SOUNDFILE)


def read_with_soundfile(path: Path) -> Iterator[Block]:
    """Yield the blocks of a WAV, AIFF or FLAC file.

    Raises:
        DamagedError: where soundfile gives up, at the start or later.
        TakeError: for a length or rate that is not accepted.
    """
    import soundfile  # noqa: PLC0415 - its library takes time to load, and phones make nothing it reads

    begun = False
    try:
        with soundfile.SoundFile(os.fsencode(path)) as file:
            rate = int(file.samplerate)
            check_format(path.name, rate, file.channels, file.frames / max(1, rate))
            begun = True
            size = max(1, BLOCK // file.channels)
            while len(block := file.read(size, dtype="float32", always_2d=True)):
                yield block, rate
    except FillwrightError:
        raise
    except Exception as error:
        raise DamagedError(str(error), begun=begun) from error


def check_format(name: str, rate: int, channels: int, seconds: float) -> None:
    """Refuse a recording that is too long, or has a rate or number of channels that no recorder makes.

    Raises:
        TakeError: with what was found and what is accepted.
    """
    if seconds > budget.TAKE_SECONDS:
        raise build_length_error(name, seconds)
    low, high = budget.RATES
    if rate < low:
        raise TakeError(
            f'"{name}" has {rate} samples per second, too few to detect strokes; record at 44,100 or more.'
        )
    if rate > high or channels > budget.CHANNELS:
        raise TakeError(
            f'"{name}" has {channels:,} channels and {rate:,} samples per second; at most {budget.CHANNELS} '
            f"and {high:,} can be read, so export it as 16-bit WAV."
        )


def build_length_error(name: str, seconds: float = 0.0) -> TakeError:
    """Return the error for a take that is too long; 0 seconds for an unknown length."""
    length = f"lasts {budget.format_seconds(seconds)}" if seconds else "is too long"
    return TakeError(
        f'"{name}" {length}; a take may last {budget.TAKE_SECONDS / 60:.0f} minutes, so cut it down first.'
    )


def read_with_av(path: Path, losses: Losses) -> Iterator[Block]:
    """Yield the blocks of the first sound in a file; gaps are filled with silence.

    Raises:
        TakeError: for a file that is not a recording, or too long.
    """
    try:
        with path.open("rb") as file, _open_container(file) as container:
            if not container.streams.audio:
                raise TakeError(f'"{path.name}" holds no sound, or is cut short; {ACCEPTED}.')
            stream = container.streams.audio[0]
            context = stream.codec_context
            if context is None:
                raise TakeError(f'"{path.name}" holds sound that can\'t be decoded; {ACCEPTED}.')
            if context.name == "flac":  # it has checksums; a damaged frame is left out, not played as noise
                context.options = {"err_detect": "crccheck+explode"}
            seconds = _measure_seconds(container, stream)
            check_format(path.name, context.sample_rate or budget.RATES[0], context.channels or 1, seconds)
            yield from _fill_gaps(_decode_frames(container, stream, losses), losses)
    except FillwrightError:
        raise
    except Exception as error:
        raise TakeError(f'"{path.name}" is not a recording, or is damaged or cut short; {ACCEPTED}.') from error


def _open_container(file: BinaryIO) -> Any:
    import av  # noqa: PLC0415 - its libraries take time to load, and WAV needs none of them

    settings: dict[str, Any] = {"container_options": {"format_whitelist": _FORMATS}}
    try:
        return av.open(file, **settings)
    except UnicodeDecodeError:  # of a title; PyAV 19 and later read past it by themselves
        file.seek(0)
        return av.open(file, **settings, metadata_errors="ignore")


def _measure_seconds(container: Any, stream: Any) -> float:
    """Return the longest length that the file states, 0 if it states none."""
    import av  # noqa: PLC0415 - as above

    seconds = [container.duration / av.time_base if container.duration else 0.0]
    if stream.duration and stream.time_base:
        seconds.append(float(stream.duration * stream.time_base))
    return max(seconds)


def _decode_frames(container: Any, stream: Any, losses: Losses) -> Iterator[Any]:
    """Yield every frame that can be decoded, up to the first unreadable packet; damaged ones are skipped."""
    packets = container.demux(stream)
    while True:
        try:
            packet = next(packets, None)
        except Exception:
            losses.broken_off = True
            return
        if packet is None:
            return
        try:
            frames = packet.decode()
        except Exception:
            losses.packets += 1
            continue
        yield from frames


def _fill_gaps(frames: Iterable[Any], losses: Losses) -> Iterator[Block]:
    """Yield frames as blocks, with silence for dropped ones, so that later ones keep their time."""
    clock: float | None = None
    for frame in frames:
        try:
            block, rate, now = _scale_frame(frame), int(frame.sample_rate), frame.time
        except Exception:
            losses.packets += 1
            continue
        low, high = budget.RATES
        if not low <= rate <= high or block.shape[1] > budget.CHANNELS:
            losses.packets += 1
            continue
        if clock is not None and now is not None and _GAP_SECONDS[0] < now - clock < _GAP_SECONDS[1]:
            yield np.zeros((round((now - clock) * rate), block.shape[1]), np.float32), rate
        start = clock if now is None else now
        clock = None if start is None else start + len(block) / rate
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
