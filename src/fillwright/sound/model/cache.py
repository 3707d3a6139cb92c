"""A disk cache of finished sounds: calculating them takes seconds, reading them takes milliseconds.

An entry holds every variation of one sound at one velocity in one file: a header, the length of each variation,
and their samples, which are read in place. Writing an entry is atomic. A damaged entry counts as missing. If
the folder can't be written to, nothing is cached, without a message: playing works all the same.
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
"""Environment variable: the folder to use instead of the user's cache folder."""

MOST_BYTES = 400_000_000
"""Size of the folder, in bytes, above which the least recently used entries are deleted; ours, not measured."""

_SUFFIX = ".sheet"  # the same in every version, so that each one deletes the others' old entries
_MAGIC = 0x31_54_45_45_48_53_57_46  # FWSHEET1
_SIDES = 2  # left and right


def find_cache_folder() -> Path:
    """Return the folder of the cache: the one that the environment names, or the user's cache folder."""
    named = os.environ.get(CACHE_VARIABLE)
    return Path(named) if named else platformdirs.user_cache_path("fillwright")


class SoundCache:
    """The entries of one bank, in a folder that other banks share.

    Args:
        folder: folder of the entries; it is created when it is needed.
        digest: hash of everything that the bank's sounds depend on.
        most_bytes: largest size of the folder, entries of other banks included.
    """

    def __init__(self, folder: Path, digest: str, most_bytes: int = MOST_BYTES) -> None:
        self._folder = folder
        self._digest = digest
        self._most_bytes = most_bytes

    def get(self, name: str) -> tuple[Samples, ...] | None:
        """Return the shots of an entry, read-only, or None if it is missing or damaged."""
        path = self._path(name)
        try:
            words = np.memmap(path, np.uint64, "r")
        except (OSError, ValueError):
            return None
        shots = _decode_entry(words)
        if shots is not None:
            with contextlib.suppress(OSError):
                os.utime(path)
        return shots

    def put(self, name: str, shots: Sequence[Samples]) -> None:
        """Write an entry, if it can be written."""
        data = _encode_entry(shots)
        if data.nbytes > self._most_bytes:
            return
        with contextlib.suppress(OSError):
            self._folder.mkdir(parents=True, exist_ok=True)
            self._evict(data.nbytes)
            handle, temporary = tempfile.mkstemp(dir=self._folder, prefix=".", suffix=_SUFFIX)
            try:
                with os.fdopen(handle, "wb") as file:
                    file.write(data.data)
                Path(temporary).replace(self._path(name))
            except BaseException:
                Path(temporary).unlink(missing_ok=True)
                raise

    def _path(self, name: str) -> Path:
        return self._folder / f"{self._digest[:16]}-{name.replace(' ', '_')}{_SUFFIX}"

    def _evict(self, needed_bytes: int) -> None:
        """Delete the least recently used entries, unfinished ones too, until so many bytes fit."""
        entries = []
        for path in self._folder.glob(f"*{_SUFFIX}"):
            with contextlib.suppress(OSError):
                entries.append((path.stat().st_mtime, path.stat().st_size, path))
        total = sum(size for _, size, _ in entries) + needed_bytes
        for _, size, path in sorted(entries):
            if total <= self._most_bytes:
                return
            with contextlib.suppress(OSError):
                path.unlink()
                total -= size


def _encode_entry(shots: Sequence[Samples]) -> np.ndarray[tuple[int], np.dtype[np.uint64]]:
    """Return an entry as words of eight bytes: magic number, sum of all the rest, count, lengths, samples."""
    lengths = [len(shot) for shot in shots]
    samples = np.ascontiguousarray(np.concatenate(shots), np.float32).view(np.uint64).ravel()
    body = np.concatenate([np.array([len(lengths), *lengths], np.uint64), samples])
    return np.concatenate([np.array([_MAGIC], np.uint64), [np.add.reduce(body)], body])


def _decode_entry(words: np.ndarray[tuple[int], np.dtype[np.uint64]]) -> tuple[Samples, ...] | None:
    """Return the shots of an entry, or None if any part of it is wrong."""
    if len(words) < 4 or words[0] != _MAGIC or words[1] != np.add.reduce(words[2:]):
        return None
    count = int(words[2])
    ends = np.cumsum(words[3 : 3 + count]).astype(np.int64)
    samples = np.asarray(words[3 + count :]).view(np.float32).reshape(-1, _SIDES)
    if len(ends) != count or ends[-1] != len(samples):
        return None
    return tuple(np.split(samples, ends[:-1]))
