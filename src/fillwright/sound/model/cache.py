"""A shelf for finished sounds on disk: what takes seconds to work out is read in milliseconds the next time.

A sheet is every variation of one sound at one loudness, in one file: a head, the length of each variation, and
their samples, which are read in place. A sheet is written whole or not at all; one that is damaged counts as
missing. Where nothing can be written, nothing is kept, and nobody is told.
"""

from __future__ import annotations

import contextlib
import os
import tempfile
from collections.abc import Sequence
from pathlib import Path

import numpy as np
import platformdirs

from fillwright.sound.signal import Samples

CACHE_VARIABLE = "FILLWRIGHT_CACHE"
"""Environment variable: a folder to use instead of the user's cache folder."""

MOST_BYTES = 400_000_000
"""Sheets that have not been used for longest make room for new ones beyond this."""

_ENDING = ".sheet"
_MAGIC = 0x31_54_45_45_48_53_57_46  # FWSHEET1
_SIDES = 2
_FRAME_BYTES = 8


def default_folder() -> Path:
    """Where sheets are kept: the folder that the environment names, or the user's cache folder."""
    named = os.environ.get(CACHE_VARIABLE)
    return Path(named) if named else platformdirs.user_cache_path("fillwright")


class SoundCache:
    """The sheets of one bank, among those of others.

    Args:
        folder: where they are kept; it need not be there yet.
        digest: of everything that the bank's sounds depend on.
        most_bytes: how much the folder may hold, sheets of other banks included.
    """

    def __init__(self, folder: Path, digest: str, most_bytes: int = MOST_BYTES) -> None:
        self._folder = folder
        self._digest = digest
        self._most_bytes = most_bytes

    def get(self, name: str) -> tuple[Samples, ...] | None:
        """The sheet of that name, read-only, or None where there is none that is whole."""
        path = self._path(name)
        try:
            words = np.memmap(path, np.uint64, "r")
        except (OSError, ValueError):
            return None
        shots = _read(words)
        if shots is not None:
            with contextlib.suppress(OSError):
                os.utime(path)
        return shots

    def put(self, name: str, shots: Sequence[Samples]) -> None:
        """Keep a sheet, if it can be kept."""
        data = _written(shots)
        if data.nbytes > self._most_bytes:
            return
        with contextlib.suppress(OSError):
            self._folder.mkdir(parents=True, exist_ok=True)
            self._make_room(data.nbytes)
            handle, temporary = tempfile.mkstemp(dir=self._folder, prefix=".", suffix=_ENDING)
            try:
                with os.fdopen(handle, "wb") as file:
                    file.write(data.data)
                Path(temporary).replace(self._path(name))
            except BaseException:
                Path(temporary).unlink(missing_ok=True)
                raise

    def _path(self, name: str) -> Path:
        return self._folder / f"{self._digest[:16]}-{name.replace(' ', '_')}{_ENDING}"

    def _make_room(self, wanted: int) -> None:
        """Throw away what has not been used for longest until there is room, unfinished files too."""
        kept = []
        for path in self._folder.glob(f"*{_ENDING}"):
            with contextlib.suppress(OSError):
                kept.append((path.stat().st_mtime, path.stat().st_size, path))
        total = sum(size for _, size, _ in kept) + wanted
        for _, size, path in sorted(kept):
            if total <= self._most_bytes:
                return
            with contextlib.suppress(OSError):
                path.unlink()
                total -= size


def _written(shots: Sequence[Samples]) -> np.ndarray[tuple[int], np.dtype[np.uint64]]:
    """A sheet in words of eight bytes: magic, sum of all that follows, count, lengths, samples."""
    lengths = [len(shot) for shot in shots]
    samples = np.ascontiguousarray(np.concatenate(shots), np.float32).view(np.uint64).ravel()
    body = np.concatenate([np.array([len(lengths), *lengths], np.uint64), samples])
    return np.concatenate([np.array([_MAGIC], np.uint64), [np.add.reduce(body)], body])


def _read(words: np.ndarray[tuple[int], np.dtype[np.uint64]]) -> tuple[Samples, ...] | None:
    """The shots of a sheet; None where any bit of it is wrong."""
    if len(words) < 4 or words[0] != _MAGIC or words[1] != np.add.reduce(words[2:]):
        return None
    count = int(words[2])
    ends = np.cumsum(words[3 : 3 + count]).astype(np.int64)
    samples = np.asarray(words[3 + count :]).view(np.float32).reshape(-1, _SIDES)
    if len(ends) != count or ends[-1] != len(samples):
        return None
    return tuple(np.split(samples, ends[:-1]))
