"""Chunks of a RIFF file, each held to the bounds of what it lies in."""

from __future__ import annotations

import struct
from collections.abc import Iterator
from dataclasses import dataclass
from typing import BinaryIO

_HEAD = struct.Struct("<4sI")


class ChunkError(ValueError):
    """A chunk that does not lie inside its parent."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Chunk:
    """Where a chunk lies.

    Attributes:
        name: its four letters.
        start: its first byte, behind the head.
        size: in bytes.
    """

    name: str
    start: int
    size: int

    @property
    def end(self) -> int:
        """The first byte behind it."""
        return self.start + self.size


def read_chunk(file: BinaryIO, place: int, end: int) -> Chunk:
    """The chunk whose head stands at a place.

    Args:
        file: read from.
        place: the head's first byte.
        end: of the file or of the chunk around it.

    Raises:
        ChunkError: where the head or the chunk passes that end.
    """
    file.seek(place)
    head = file.read(_HEAD.size)
    if len(head) < _HEAD.size or place + _HEAD.size > end:
        raise ChunkError(f"byte {place:,}: the head of a chunk is cut off")
    letters, size = _HEAD.unpack(head)
    found = Chunk(name=letters.decode("latin-1"), start=place + _HEAD.size, size=size)
    if found.end > end:
        raise ChunkError(f"byte {place:,}: a chunk of {size:,} bytes reaches beyond the end at {end:,}")
    return found


def iterate_chunks(file: BinaryIO, start: int, end: int) -> Iterator[Chunk]:
    """The chunks between two places; a chunk of odd size is followed by a byte of nothing.

    Raises:
        ChunkError: as `read_chunk` has it.
    """
    place = start
    while place + 1 < end:
        found = read_chunk(file, place, end)
        yield found
        place = found.end + found.size % 2
