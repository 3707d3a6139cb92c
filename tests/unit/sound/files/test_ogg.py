import struct

import pytest

from fillwright.sound.files.ogg import SERIAL, compute_checksum, set_constant_serial


def slow_checksum(data):
    """The definition, bit by bit (RFC 3533, section 6: polynomial 0x04c11db7, from 0, not inverted)."""
    value = 0
    for byte in data:
        value ^= byte << 24
        for _ in range(8):
            value = (value << 1) ^ 0x04C11DB7 if value & 0x80000000 else value << 1
        value &= 0xFFFFFFFF
    return value


def page(body, serial=1234):
    header = b"OggS" + bytes(2) + bytes(8) + struct.pack("<III", serial, 0, 0xDEAD) + bytes([1, len(body)])
    return header + body


@pytest.mark.parametrize("data", [b"", b"a", bytes(range(256)), b"OggS" * 1000])
def test_the_checksum_is_as_the_standard_defines_it(data):
    assert compute_checksum(data) == slow_checksum(data)


def test_every_page_gets_the_serial_and_its_checksum():
    made = set_constant_serial(page(b"first") + page(b"the second", serial=99))
    for start, length in ((0, len(page(b"first"))), (len(page(b"first")), len(page(b"the second")))):
        one = made[start : start + length]
        assert struct.unpack_from("<I", one, 14)[0] == SERIAL
        blank = one[:22] + bytes(4) + one[26:]
        assert struct.unpack_from("<I", one, 22)[0] == slow_checksum(blank)
        assert one[27:] == (page(b"first") + page(b"the second"))[start + 27 : start + length]


def test_streams_that_differ_in_their_serial_alone_become_one():
    assert set_constant_serial(page(b"x", 1)) == set_constant_serial(page(b"x", 2))


def test_bytes_that_are_not_a_page_are_refused():
    with pytest.raises(ValueError, match=f"no Ogg page at byte {len(page(b'x'))}"):
        set_constant_serial(page(b"x") + b"junk")
