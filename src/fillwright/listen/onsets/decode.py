"""The samples of a take: any recording that a phone, a browser or a computer makes, decoded to one channel.

The constant delay of a codec stays in (measured: fragmented MP4 941 samples, MP3 without a header 1105, ADTS
1024): it moves a whole take, never one stroke against another.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt

from fillwright import budget
from fillwright.errors import TakeError
from fillwright.listen.onsets.blocks import (
    ACCEPTED,
    BLOCK,
    Block,
    DamagedError,
    Losses,
    Samples,
    build_length_error,
    is_read_by_soundfile,
    read_with_av,
    read_with_soundfile,
)
from fillwright.listen.onsets.prepare import CANCEL_SHARE

_HIGHEST_RATE = 50_000  # samples per second that are kept as they are; ours, not measured
_RESAMPLED_RATE = 48_000  # samples per second of what was faster; a common rate of recorders
_SHORTEST_SECONDS = 0.05  # a shorter recording holds no sound; ours, not measured
_LOUDEST = 1e9  # a sample from here is not sound, and its square may be too large to calculate with; ours
_MOST_NOT_FINITE = 0.01  # share of samples that aren't finite, above which a file is damaged; ours


class DecodedTake:
    """The samples of a take. Mutable: they can be taken out once, as they are large.

    Attributes:
        rate: samples per second.
        remarks: what was damaged or changed on the way, a sentence each.
    """

    def __init__(self, samples: Samples, rate: int, remarks: tuple[str, ...]) -> None:
        """Take finite samples of shape (n, 1)."""
        self._samples = [samples]
        self.rate = rate
        self.remarks = remarks

    def take_samples(self) -> Samples:
        """Return the samples and keep no reference, so that their memory is free once the caller drops them."""
        return self._samples.pop()


def read_take(path: Path) -> tuple[Samples, int]:
    """Read the samples of a recording, of shape (n, 1), and their rate, as `decode_take` does.

    Raises:
        TakeError: for a file that can't be read, holds no sound, or is too long.
    """
    decoded = decode_take(path)
    return decoded.take_samples(), decoded.rate


def decode_take(path: Path) -> DecodedTake:
    """Read the samples of a recording, and what could not be read of it.

    The content of a file decides how it is read, not its name. Channels are mixed into one, and more than
    50,000 samples per second are resampled to 48,000. A few samples that aren't finite count as silence. Of a
    damaged file, the parts that can be decoded are kept.

    Raises:
        TakeError: for a file that can't be read, holds no sound, or lasts longer than 15 minutes.
    """
    head = _read_head(path)
    if head.startswith(b"MThd"):
        raise TakeError(f'"{path.name}" is a MIDI file and holds no sound; {ACCEPTED}.')
    losses = Losses()
    mixer = _Mixer(name=path.name)
    if is_read_by_soundfile(head):
        try:
            mixer.add_all(read_with_soundfile(path))
        except DamagedError as damage:  # PyAV knows more codecs, and finds its way after the damage
            losses.packets = int(damage.begun)
            mixer = _read_rest(path, mixer, losses)
    else:
        mixer.add_all(read_with_av(path, losses))
    length = mixer.length
    if not mixer.rate or length < _SHORTEST_SECONDS * mixer.rate:
        raise TakeError(f'"{path.name}" holds no sound; {ACCEPTED}.')
    if mixer.not_finite > _MOST_NOT_FINITE * length:
        raise TakeError(
            f'"{path.name}" is damaged: {mixer.not_finite / length:.0%} of its samples are not numbers; '
            "export it again as 16-bit WAV."
        )
    remarks = (*mixer.remarks, *_describe_losses(losses, length / mixer.rate))
    return DecodedTake(mixer.mix(), mixer.rate, remarks)


def _read_head(path: Path) -> bytes:
    try:
        with path.open("rb") as file:
            head = file.read(16)
        size = path.stat().st_size
    except (OSError, ValueError) as error:
        reason = (getattr(error, "strerror", None) or str(error)).lower()
        raise TakeError(f'"{path}" can\'t be read: {reason}; {ACCEPTED}.') from error
    if not head:
        raise TakeError(f'"{path.name}" is empty; {ACCEPTED}.')
    budget.check_bytes(f'"{path.name}"', size, budget.RECORDING_BYTES, error=TakeError)
    return head


def _read_rest(path: Path, start: _Mixer, losses: Losses) -> _Mixer:
    """Read a file again with PyAV after soundfile gave up; keep whichever read more of it."""
    again, later_losses = _Mixer(name=path.name), Losses()
    try:
        again.add_all(read_with_av(path, later_losses))
    except TakeError:
        if not start.length:
            raise
    if again.length <= start.length:
        losses.packets, losses.broken_off = 0, True
        return start
    losses.packets, losses.broken_off = max(losses.packets, later_losses.packets), later_losses.broken_off
    return again


def _describe_losses(losses: Losses, seconds: float) -> Iterator[str]:
    if losses.packets:
        pieces = "1 piece" if losses.packets == 1 else f"{losses.packets:,} pieces"
        yield f"The recording is damaged: {pieces} of it can't be decoded and count as silence."
    if losses.broken_off:
        yield f"The recording is damaged after {seconds:.1f} s; only the part before is read."


@dataclass(slots=True, kw_only=True)
class _Mixer:
    """Blocks of a recording, brought to one rate and at most two channels, and in the end to one.

    Attributes:
        name: of the file, for messages.
        rate: of all blocks; 0 before the first.
        length: samples so far.
        not_finite: number of samples that weren't finite.
        remarks: changes in the middle of the file, a sentence each.
    """

    name: str
    rate: int = 0
    length: int = 0
    not_finite: float = 0.0
    remarks: list[str] = field(default_factory=list)
    _decoded: int = 0
    _blocks: list[Samples] = field(default_factory=list)
    _waiting: list[Samples] = field(default_factory=list)
    _waiting_length: int = 0
    _powers: npt.NDArray[np.float64] = field(default_factory=lambda: np.zeros(3))
    _source: tuple[int, int] | None = None
    _resampler: Any = None

    def add_all(self, blocks: Iterable[Block]) -> None:
        """Add blocks in the order of the recording.

        Raises:
            TakeError: once they are too long.
        """
        for block, rate in blocks:
            self._count_decoded(block.size)
            self._follow_source(rate, block.shape[1])
            narrow = block if block.shape[1] <= 2 else block.mean(axis=1, keepdims=True)
            if rate == self.rate:
                self._add(narrow)
            else:
                self._resample(narrow, rate)
        self._flush_resampler()
        self._join_waiting()

    def mix(self) -> Samples:
        """Return all of it as one channel, and forget the blocks one by one, as they are large.

        The mean of the channels, or the loudest if they cancel each other.
        """
        first, second, mean = self._powers
        cancelled = mean < CANCEL_SHARE * max(first, second)
        mono = np.empty((self.length, 1), np.float32)
        end = self.length
        while self._blocks:
            block = self._blocks.pop()
            start = end - len(block)
            if block.shape[1] == 1:
                mono[start:end] = block
            elif cancelled:
                mono[start:end, 0] = block[:, int(second > first)]
            else:
                block.mean(axis=1, dtype=np.float32, out=mono[start:end, 0])
            end = start
        return mono

    def _count_decoded(self, size: int) -> None:
        self._decoded += size
        if self._decoded > budget.DECODED_SAMPLES:
            raise TakeError(
                f'"{self.name}" has more than {budget.DECODED_SAMPLES // 10**6} million samples on all '
                "channels, too many to read; export it as 16-bit WAV with 1 or 2 channels."
            )

    def _follow_source(self, rate: int, channels: int) -> None:
        """Choose the rate at the first block, and note every change after that."""
        if self._source == (rate, channels):
            return
        if self._source is None:
            self.rate = rate if rate <= _HIGHEST_RATE else _RESAMPLED_RATE
        else:
            self._flush_resampler()
            place = f"after {(self.length + self._waiting_length) / self.rate:.1f} s"
            if rate != self._source[0]:
                self.remarks.append(
                    f"The sample rate changes {place} from {self._source[0]:,} to {rate:,}; "
                    f"all of it is read at {self.rate:,}."
                )
            if channels != self._source[1]:
                self.remarks.append(
                    f"The number of channels changes {place} from {self._source[1]} to {channels}; "
                    "they are mixed into one."
                )
            self.remarks[:] = budget.limit_remarks(self.remarks)
        self._source = (rate, channels)

    def _add(self, block: Samples) -> None:
        """Add a block of the rate; small ones are joined first."""
        if self._waiting and self._waiting[-1].shape[1] != block.shape[1]:
            self._join_waiting()
        self._waiting.append(block)
        self._waiting_length += len(block)
        if self.length + self._waiting_length > budget.TAKE_SECONDS * self.rate:
            raise build_length_error(self.name)
        if self._waiting_length >= BLOCK:
            self._join_waiting()

    def _join_waiting(self) -> None:
        if not self._waiting:
            return
        block = np.concatenate(self._waiting)
        self._waiting, self._waiting_length = [], 0
        finite = np.abs(block) < _LOUDEST
        if not finite.all():
            self.not_finite += len(block) * (1 - float(finite.mean()))
            block = np.where(finite, block, np.float32(0))
        self._blocks.append(block)
        self.length += len(block)
        channels = (
            [*block.T, block.mean(axis=1, dtype=np.float32)] if block.shape[1] == 2 else [block[:, 0]] * 3
        )
        self._powers += [float(np.dot(channel, channel)) for channel in channels]

    def _resample(self, block: Samples, rate: int) -> None:
        import av  # noqa: PLC0415 - its libraries take time to load, and most recordings need none of them

        layout = ("mono", "stereo")[block.shape[1] - 1]
        if self._resampler is None:
            self._resampler = av.AudioResampler(format="fltp", layout=layout, rate=self.rate)
        frame = av.AudioFrame.from_ndarray(np.ascontiguousarray(block.T), format="fltp", layout=layout)
        frame.sample_rate = rate
        for resampled in self._resampler.resample(frame):
            self._add(np.asarray(resampled.to_ndarray().T, np.float32))

    def _flush_resampler(self) -> None:
        if self._resampler is not None:
            for resampled in self._resampler.resample(None):
                self._add(np.asarray(resampled.to_ndarray().T, np.float32))
            self._resampler = None
