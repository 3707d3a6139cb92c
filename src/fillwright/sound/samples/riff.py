"""Chunks of a RIFF file, each checked to be inside its parent."""

from __future__ import annotations

import struct
from collections.abc import Iterator
from dataclasses import dataclass
from typing import BinaryIO

_HEADER = struct.Struct("<4sI")


class ChunkError(ValueError):
    """Raised for a chunk that is not inside its parent."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Chunk:
    """Position of a chunk.

    Attributes:
        name: four letters.
        start: first byte after the header.
        size: size without the header, in bytes.
    """

    name: str
    start: int
    size: int

    @property
    def end(self) -> int:
        """First byte after the chunk."""
        return self.start + self.size


def read_chunk(file: BinaryIO, offset: int, end: int) -> Chunk:
    """Read the header of a chunk.

    Args:
        file: file to read from.
        offset: first byte of the header.
        end: end of the file or of the parent chunk.

    Raises:
        ChunkError: for a header or a chunk beyond that end.
    """
    file.seek(offset)
    header = file.read(_HEADER.size)
    if len(header) < _HEADER.size or offset + _HEADER.size > end:
        raise ChunkError(f"byte {offset:,}: the header of a chunk is cut off")
    letters, size = _HEADER.unpack(header)
    chunk = Chunk(name=letters.decode("latin-1"), start=offset + _HEADER.size, size=size)
    if chunk.end > end:
        raise ChunkError(f"byte {offset:,}: a chunk of {size:,} bytes reaches beyond the end at {end:,}")
    return chunk


def iterate_chunks(file: BinaryIO, start: int, end: int) -> Iterator[Chunk]:
    """Yield the chunks between two bytes; a chunk of odd size is followed by an empty byte.

    Raises:
        ChunkError: for a header or a chunk beyond the end.
    """
    offset = start
    while offset + 1 < end:
        chunk = read_chunk(file, offset, end)
        yield chunk
        offset = chunk.end + chunk.size % 2
