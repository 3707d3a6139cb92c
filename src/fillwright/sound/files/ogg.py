"""Ogg streams with a constant serial number.

The encoder gives each stream a random serial number (RFC 3533, section 6), so that the same audio gives other
bytes on every run. A file with one stream needs no random number. We set a constant, then compute the checksum
of each page again.
"""

from __future__ import annotations

import struct
import zlib

SERIAL = 0x46776774
"""Serial number of every stream: any constant will do; ours."""

_CAPTURE = b"OggS"
_HEADER = 27  # bytes of a page's header before its table of segments; RFC 3533, section 6
_SERIAL_AT, _CHECKSUM_AT, _SEGMENTS_AT = 14, 22, 26  # bytes into the header; RFC 3533, section 6
# each byte with its bits in reverse order
_REVERSED = bytes(int(f"{value:08b}"[::-1], 2) for value in range(256))


def compute_checksum(page: bytes) -> int:
    """Return the checksum of a page whose checksum field is zero.

    RFC 3533 requires a 32-bit CRC of polynomial 0x04c11db7, highest bit first, from zero and not inverted. zlib
    counts from the lowest bit, starts from ones and inverts: we reverse the bits of each byte, and of the
    result.

    >>> hex(compute_checksum(bytes([1])))
    '0x4c11db7'
    """
    reflected = zlib.crc32(page.translate(_REVERSED), 0xFFFFFFFF) ^ 0xFFFFFFFF
    return int.from_bytes(reflected.to_bytes(4, "little").translate(_REVERSED), "big")


def set_constant_serial(stream: bytes) -> bytes:
    """Return the same stream with the constant serial number on every page.

    Args:
        stream: complete Ogg pages, one after the other.

    Raises:
        ValueError: for a page that doesn't begin where the previous one ends.
    """
    pages = bytearray(stream)
    at = 0
    while at < len(pages):
        if pages[at : at + 4] != _CAPTURE:
            raise ValueError(f"no Ogg page at byte {at}")
        segments = pages[at + _SEGMENTS_AT]
        end = at + _HEADER + segments + sum(pages[at + _HEADER : at + _HEADER + segments])
        struct.pack_into("<I", pages, at + _SERIAL_AT, SERIAL)
        struct.pack_into("<I", pages, at + _CHECKSUM_AT, 0)
        struct.pack_into("<I", pages, at + _CHECKSUM_AT, compute_checksum(bytes(pages[at:end])))
        at = end
    return bytes(pages)
