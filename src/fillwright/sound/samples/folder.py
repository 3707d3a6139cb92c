"""Recorded strokes from a folder of WAV and FLAC files, as its map lists them."""

from __future__ import annotations

import hashlib
import math
from collections.abc import Hashable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import soundfile
from scipy.signal import resample_poly

from fillwright import budget
from fillwright.sound.model.bank import VELOCITY_STEP
from fillwright.sound.samples.attack import trim_to_attack
from fillwright.sound.samples.folder_map import MAP, FolderLayer
from fillwright.sound.samples.recorded_bank import RecordedStroke, Warn
from fillwright.sound.signal import SAMPLE_RATE, Samples

MOST_SECONDS = 10.0
"""Seconds of a file that are read; ours, not measured."""

RATES = range(budget.SOUND_RATES[0], budget.SOUND_RATES[1] + 1)
"""Sample rates that are read, in Hz."""

_VELOCITY_POWER = 2.0  # amplitude of a file is velocity to this power; ours, not measured


class _BrokenError(Exception):
    """Raised for a file without a usable stroke; its text says why."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _LoadedLayer:
    """A layer with the strokes of its readable files."""

    layer: FolderLayer
    strokes: tuple[RecordedStroke, ...]


class FolderSource:
    """Recorded strokes in files; the files of a surface are read at its first stroke."""

    def __init__(self, folder: Path, layers: Sequence[FolderLayer], warn: Warn) -> None:
        """Open a folder with a map.

        Args:
            folder: folder of the map.
            layers: layers of the map, by surface and rising velocity.
            warn: function that receives a sentence about every file that is skipped.
        """
        self.name = folder.name or str(folder)
        self._layers = tuple(layers)
        self._warn = warn
        self._loaded: dict[str, tuple[_LoadedLayer, ...]] = {}
        self._scaled: dict[Hashable, RecordedStroke] = {}
        self.digest = _hash_folder(folder / MAP, self._layers)
        self.surfaces = tuple(dict.fromkeys(layer.surface for layer in self._layers))
        self.choked_by: Mapping[str, frozenset[str]] = {
            name: frozenset().union(*(layer.choked_by for layer in self._layers if layer.surface == name))
            for name in self.surfaces
        }

    def get_stroke(self, name: str, velocity: int, index: int) -> RecordedStroke | None:
        """Return a stroke, or None if no file of its surface can be used.

        The files of a layer are played in turn. At the hardest velocity of the layer a file is played as it is.
        Below that, amplitude is proportional to the square of the velocity, in steps of `bank.VELOCITY_STEP`.
        """
        layers = self._load_layers(name)
        if not layers:
            return None
        loaded = next((layer for layer in layers if velocity <= layer.layer.up_to), layers[-1])
        stroke = loaded.strokes[index % len(loaded.strokes)]
        softer = round((loaded.layer.up_to - velocity) / VELOCITY_STEP) * VELOCITY_STEP
        step = max(1, loaded.layer.up_to - max(0, softer))
        return self._scale(stroke, step, loaded.layer)

    def _scale(self, stroke: RecordedStroke, velocity: int, layer: FolderLayer) -> RecordedStroke:
        """Return a stroke of a layer at the level of a velocity."""
        key = (stroke.key, velocity, layer.up_to)
        scaled = self._scaled.get(key)
        if scaled is None:
            level = 10.0 ** (layer.gain_db / 20) * (velocity / layer.up_to) ** _VELOCITY_POWER
            samples = stroke.samples * np.float32(level)
            scaled = RecordedStroke(key=key, samples=samples, latency=stroke.latency)
            self._scaled[key] = scaled
        return scaled

    def _load_layers(self, name: str) -> tuple[_LoadedLayer, ...]:
        """Return the layers of a surface that have at least one readable file."""
        if name not in self._loaded:
            loaded = [
                _LoadedLayer(layer=layer, strokes=self._read_strokes(layer))
                for layer in self._layers
                if layer.surface == name
            ]
            self._loaded[name] = tuple(layer for layer in loaded if layer.strokes)
        return self._loaded[name]

    def _read_strokes(self, layer: FolderLayer) -> tuple[RecordedStroke, ...]:
        """Return the strokes of a layer's files; a file that can't be read is skipped with a warning."""
        strokes = []
        for path in layer.files:
            try:
                samples, latency = trim_to_attack(_read_stereo(path))
                strokes.append(RecordedStroke(key=path, samples=samples, latency=latency))
            except _BrokenError as error:
                self._warn(f'"{path.name}" in "{self.name}" is skipped: {error}.')
        return tuple(strokes)


def _read_stereo(path: Path) -> Samples:
    """Return the sound in a file at our sample rate, shape (samples, 2).

    Raises:
        _BrokenError: if it can't be used; the text says why.
    """
    try:
        if not path.is_file():
            raise _BrokenError("there is no file of this name")
        if path.stat().st_size > budget.SOUND_BYTES:
            raise _BrokenError(
                f"it is larger than {budget.SOUND_BYTES // 1_000_000} MB, the most that is accepted"
            )
        with soundfile.SoundFile(str(path)) as file:
            if file.samplerate not in RATES or file.channels > 2:
                channels = "1 channel" if file.channels == 1 else f"{file.channels} channels"
                raise _BrokenError(
                    f"it has {channels} at {file.samplerate} Hz; "
                    f"use 1 or 2 channels at {RATES[0]:,} to {RATES[-1]:,} Hz"
                )
            samples = file.read(round(MOST_SECONDS * file.samplerate), dtype="float32", always_2d=True)
            rate = file.samplerate
    except (soundfile.SoundFileError, OSError, ValueError, TypeError) as error:
        raise _BrokenError("it can't be read as sound") from error
    if not len(samples) or not np.isfinite(samples).all() or not samples.any():
        raise _BrokenError("it is empty or silent, or contains invalid numbers")
    return _resample(np.repeat(samples, 2, axis=1) if samples.shape[1] == 1 else samples, rate)


def _resample(samples: Samples, rate: int) -> Samples:
    """Return samples of a rate at our sample rate."""
    if rate == SAMPLE_RATE:
        return samples
    common = math.gcd(rate, SAMPLE_RATE)
    resampled = resample_poly(samples, SAMPLE_RATE // common, rate // common, axis=0)
    return np.asarray(resampled, np.float32)


def _hash_folder(table: Path, layers: tuple[FolderLayer, ...]) -> str:
    """Return a hash of the map and of every file that it names."""
    digest = hashlib.sha256(table.read_bytes())
    for path in sorted({path for layer in layers for path in layer.files}):
        digest.update(f"\n{path.name} {_hash_file(path)}".encode("utf-8", "surrogateescape"))
    return digest.hexdigest()


def _hash_file(path: Path) -> str:
    """Return a hash of one file; every file that can't be read has the same one."""
    try:
        if not path.is_file() or path.stat().st_size > budget.SOUND_BYTES:
            return "left out"
        with path.open("rb") as file:
            return hashlib.file_digest(file, "sha256").hexdigest()
    except OSError:
        return "left out"
