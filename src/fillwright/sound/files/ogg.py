"""Ogg streams with a serial number of our own.

The encoder gives each stream a random serial number (RFC 3533, section 6), so that the same audio gives other
bytes at every run. A lone stream needs no random number: it is set to a constant and each page's checksum is
made good.
"""

from __future__ import annotations

import struct
import zlib

SERIAL = 0x46776774
_CAPTURE = b"OggS"
_HEADER = 27
_SERIAL_AT, _CHECKSUM_AT, _SEGMENTS_AT = 14, 22, 26
_REVERSED = bytes(int(f"{value:08b}"[::-1], 2) for value in range(256))


def compute_checksum(page: bytes) -> int:
    """The checksum of a page whose own checksum field is zero.

    RFC 3533 asks for a 32-bit CRC of polynomial 0x04c11db7, highest bit first, from zero and not inverted.
    zlib counts from the lowest bit, starts from ones and inverts: bytes are turned round, and so is the result.

    >>> hex(checksum(bytes([1])))
    '0x4c11db7'
    """
    turned = zlib.crc32(page.translate(_REVERSED), 0xFFFFFFFF) ^ 0xFFFFFFFF
    return int.from_bytes(turned.to_bytes(4, "little").translate(_REVERSED), "big")


def set_constant_serial(stream: bytes) -> bytes:
    """The same stream with our serial number on every page.

    Args:
        stream: whole Ogg pages, one after the other.

    Raises:
        ValueError: where a page does not begin where the one before ends.
    """
    made = bytearray(stream)
    at = 0
    while at < len(made):
        if made[at : at + 4] != _CAPTURE:
            raise ValueError(f"no Ogg page at byte {at}")
        segments = made[at + _SEGMENTS_AT]
        end = at + _HEADER + segments + sum(made[at + _HEADER : at + _HEADER + segments])
        struct.pack_into("<I", made, at + _SERIAL_AT, SERIAL)
        struct.pack_into("<I", made, at + _CHECKSUM_AT, 0)
        struct.pack_into("<I", made, at + _CHECKSUM_AT, compute_checksum(bytes(made[at:end])))
        at = end
    return bytes(made)
