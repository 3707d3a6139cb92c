"""Sounds out of a folder of WAV and FLAC files, as its map says."""

from __future__ import annotations

import hashlib
import math
from collections.abc import Hashable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import soundfile
from scipy.signal import resample_poly

from fillwright.sound.model.bank import VELOCITY_STEP
from fillwright.sound.samples.attack import trim_to_attack
from fillwright.sound.samples.folder_map import MAP, FolderLayer
from fillwright.sound.samples.recorded_bank import RecordedStroke, Warn
from fillwright.sound.signal import SAMPLE_RATE, Samples

MOST_SECONDS = 10.0
"""What a file holds beyond is left out."""

LARGEST_BYTES = 100_000_000
"""The largest file that is read."""

RATES = range(8_000, 192_001)
"""Samples a second that are read."""

_VELOCITY_POWER = 2.0


class _BrokenError(Exception):
    """A file that holds no stroke; its text says why."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Read:
    """A layer with what could be read of its files."""

    layer: FolderLayer
    takes: tuple[RecordedStroke, ...]


class FolderSource:
    """Recorded strokes in files; those of a surface are read when it is first struck."""

    def __init__(self, folder: Path, layers: Sequence[FolderLayer], warn: Warn) -> None:
        """Take a folder with a map.

        Args:
            folder: holds the map.
            layers: of the map, by surface and rising velocity.
            warn: receives a sentence about every file that is left out.
        """
        self.name = folder.name or str(folder)
        self._layers = tuple(layers)
        self._warn = warn
        self._read: dict[str, tuple[_Read, ...]] = {}
        self._scaled: dict[Hashable, RecordedStroke] = {}
        self.digest = _digest(folder / MAP, self._layers)
        self.surfaces = tuple(dict.fromkeys(layer.surface for layer in self._layers))
        self.choked_by: Mapping[str, frozenset[str]] = {
            name: frozenset().union(*(layer.choked_by for layer in self._layers if layer.surface == name))
            for name in self.surfaces
        }

    def get_stroke(self, name: str, velocity: int, index: int) -> RecordedStroke | None:
        """A stroke, or None where no file of its surface can be used.

        Alternates go round in turn. A file is played as it is at the hardest velocity of its layer; amplitude
        goes with the square of the velocity, in steps of `bank.LAYER` from there down.
        """
        layers = self._of(name)
        if not layers:
            return None
        chosen = next((one for one in layers if velocity <= one.layer.up_to), layers[-1])
        take = chosen.takes[index % len(chosen.takes)]
        softer = round((chosen.layer.up_to - velocity) / VELOCITY_STEP) * VELOCITY_STEP
        step = max(1, chosen.layer.up_to - max(0, softer))
        return self._at(take, step, chosen.layer)

    def _at(self, take: RecordedStroke, velocity: int, layer: FolderLayer) -> RecordedStroke:
        key = (take.key, velocity, layer.up_to)
        found = self._scaled.get(key)
        if found is None:
            level = 10.0 ** (layer.gain_db / 20) * (velocity / layer.up_to) ** _VELOCITY_POWER
            scaled = take.samples * np.float32(level)
            found = self._scaled[key] = RecordedStroke(key=key, samples=scaled, latency=take.latency)
        return found

    def _of(self, name: str) -> tuple[_Read, ...]:
        """The layers of a surface that have at least one good file."""
        if name not in self._read:
            read = [
                _Read(layer=layer, takes=self._takes(layer)) for layer in self._layers if layer.surface == name
            ]
            self._read[name] = tuple(each for each in read if each.takes)
        return self._read[name]

    def _takes(self, layer: FolderLayer) -> tuple[RecordedStroke, ...]:
        made = []
        for path in layer.files:
            try:
                samples, latency = trim_to_attack(_stereo(path))
                made.append(RecordedStroke(key=path, samples=samples, latency=latency))
            except _BrokenError as error:
                self._warn(f'"{path.name}" in "{self.name}" is left out: {error}.')
        return tuple(made)


def _stereo(path: Path) -> Samples:
    """The sound in a file, at our rate, shape (samples, 2).

    Raises:
        _BrokenError: saying what is wrong with it.
    """
    try:
        if not path.is_file():
            raise _BrokenError("there is no such file")
        if path.stat().st_size > LARGEST_BYTES:
            raise _BrokenError(f"it has more than {LARGEST_BYTES // 1_000_000} MB")
        with soundfile.SoundFile(str(path)) as file:
            if file.samplerate not in RATES or file.channels > 2:
                raise _BrokenError(
                    f"it has {file.channels} channels at {file.samplerate} Hz; "
                    f"1 or 2 at {RATES[0]:,} to {RATES[-1]:,} can be used"
                )
            read = file.read(round(MOST_SECONDS * file.samplerate), dtype="float32", always_2d=True)
            rate = file.samplerate
    except (soundfile.SoundFileError, OSError, ValueError, TypeError) as error:
        raise _BrokenError("it can't be read as sound") from error
    if not len(read) or not np.isfinite(read).all() or not read.any():
        raise _BrokenError("it is empty or silent, or its numbers are no sound")
    return _at_our_rate(np.repeat(read, 2, axis=1) if read.shape[1] == 1 else read, rate)


def _at_our_rate(samples: Samples, rate: int) -> Samples:
    if rate == SAMPLE_RATE:
        return samples
    common = math.gcd(rate, SAMPLE_RATE)
    made = resample_poly(samples, SAMPLE_RATE // common, rate // common, axis=0)
    return np.asarray(made, np.float32)


def _digest(table: Path, layers: tuple[FolderLayer, ...]) -> str:
    """A hash of the map and of every file that it names."""
    made = hashlib.sha256(table.read_bytes())
    for path in sorted({path for layer in layers for path in layer.files}):
        made.update(f"\n{path.name} {_hash(path)}".encode("utf-8", "surrogateescape"))
    return made.hexdigest()


def _hash(path: Path) -> str:
    """A hash of one file; of one that can't be read, only that."""
    try:
        if not path.is_file() or path.stat().st_size > LARGEST_BYTES:
            return "left out"
        with path.open("rb") as file:
            return hashlib.file_digest(file, "sha256").hexdigest()
    except OSError:
        return "left out"
