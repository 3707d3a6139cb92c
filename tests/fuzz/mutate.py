"""Mutations: an input that is nearly valid, made from valid ones by a seeded random generator."""

from __future__ import annotations

import re
import struct
from collections.abc import Callable, Sequence
from random import Random

LONGEST = 100_000
"""Bytes of the longest input: the aim is for inputs below that size."""

_NUMBERS = (
    *(0, 1, 2, 3, 4, 7, 8, 15, 16, 17, 31, 32, 63, 64, 65, 100, 127, 128, 129, 255, 256, 257, 1000, 1024),
    *(4095, 4096, 32_767, 32_768, 65_535, 65_536, 2**24, 2**31 - 1, 2**31, 2**32 - 1, 2**53, 2**63 - 1, 2**63),
)
_NUMBER_TEXTS = (
    *map(str, _NUMBERS),
    *(
        "-1",
        "-0",
        "0.1",
        "1.5",
        "1e3",
        "1e308",
        "1e309",
        "nan",
        "inf",
        "-inf",
        "1/0",
        "1/3",
        "9" * 400,
        "9" * 4_301,
    ),
    *("0x10", "0b1", "1_0", "٣", "½", "007", "+5", "true", "null", '""', "[]", "{}"),
)
_PIECES = (
    *(
        "",
        " ",
        "\t",
        "\n",
        "\r\n",
        "\0",
        "\ufeff",
        "\u202e",
        "\x7f",
        "é",
        "\U0001f941",
        "'",
        '"',
        '"""',
        "\\",
        "\\u0000",
    ),
    *(
        "<",
        ">",
        "&",
        "&amp;",
        "<!--",
        "]]>",
        "#",
        "=",
        "==",
        ",",
        ";",
        ":",
        ".",
        "..",
        "/",
        "//",
        "|",
        "-",
        "--",
        "*",
    ),
    *(
        "[",
        "]",
        "[[",
        "]]",
        "{",
        "}",
        "(",
        ")",
        "((",
        "a.b.c",
        "R",
        "L",
        "rr",
        "z",
        "16",
        "8t",
        "4.",
        "1&",
        "2a",
        "4/4",
    ),
)

Mutation = Callable[[bytes, Random], bytes]


def mutate(seeds: Sequence[bytes], random: Random, *, text: bool) -> bytes:
    """Return a seed with one to eight mutations.

    Args:
        seeds: valid inputs, and earlier crashes.
        random: seeded generator.
        text: True for inputs that people write, which are changed by words and lines too.
    """
    content = random.choice(seeds)
    for _ in range(min(8, 1 + int(random.expovariate(0.7)))):
        if random.random() < 0.05:
            content = _splice(content, random.choice(seeds), random)
        else:
            content = random.choice(TEXT_MUTATIONS if text and random.random() < 0.7 else BYTE_MUTATIONS)(
                content, random
            )
    return content[: max(LONGEST, *map(len, seeds))]


def _flip_bit(content: bytes, random: Random) -> bytes:
    changed = bytearray(content or b"\0")
    changed[random.randrange(len(changed))] ^= 1 << random.randrange(8)
    return bytes(changed)


def _set_byte(content: bytes, random: Random) -> bytes:
    changed = bytearray(content or b"\0")
    changed[random.randrange(len(changed))] = random.choice(
        (0, 1, 0x7F, 0x80, 0xFE, 0xFF, random.randrange(256))
    )
    return bytes(changed)


def _set_integer(content: bytes, random: Random) -> bytes:
    layout = random.choice(("<H", ">H", "<I", ">I", "<Q", ">Q"))
    size = struct.calcsize(layout)
    packed = struct.pack(layout, random.choice(_NUMBERS) % 256**size)
    start = random.randrange(max(1, len(content) - size))
    return content[:start] + packed + content[start + size :]


def _delete(content: bytes, random: Random) -> bytes:
    start, size = random.randrange(len(content) + 1), _draw_size(random)
    return content[:start] + content[start + size :]


def _repeat(content: bytes, random: Random) -> bytes:
    start, size = random.randrange(len(content) + 1), _draw_size(random)
    piece = content[start : start + size]
    times = random.choice((2, 2, 3, 10, 100, 1_000, 20_000))
    return (content[:start] + piece * min(times, LONGEST // max(1, len(piece))) + content[start + size :])[
        :LONGEST
    ]


def _insert(content: bytes, random: Random) -> bytes:
    start = random.randrange(len(content) + 1)
    return content[:start] + random.randbytes(_draw_size(random)) + content[start:]


def _cut(content: bytes, random: Random) -> bytes:
    return content[: random.randrange(len(content) + 1)]


def _move(content: bytes, random: Random) -> bytes:
    start, size = random.randrange(len(content) + 1), _draw_size(random)
    piece, rest = content[start : start + size], content[:start] + content[start + size :]
    place = random.randrange(len(rest) + 1)
    return rest[:place] + piece + rest[place:]


def _splice(content: bytes, other: bytes, random: Random) -> bytes:
    return content[: random.randrange(len(content) + 1)] + other[random.randrange(len(other) + 1) :]


def _draw_size(random: Random) -> int:
    return random.choice((1, 1, 2, 4, 8, 16, 64, random.randrange(1, 1_000)))


def _replace_number(content: bytes, random: Random) -> bytes:
    return _replace_match(rb"-?[0-9]+(\.[0-9]+)?", content, random.choice(_NUMBER_TEXTS).encode(), random)


def _replace_word(content: bytes, random: Random) -> bytes:
    words = re.findall(rb"[A-Za-z_-]+", content) or [b"x"]
    word = random.choice((random.choice(words), random.choice(_PIECES).encode()))
    return _replace_match(rb"[A-Za-z_-]+", content, word, random)


def _replace_match(pattern: bytes, content: bytes, piece: bytes, random: Random) -> bytes:
    matches = list(re.finditer(pattern, content))
    if not matches:
        return content + piece
    match = random.choice(matches)
    return content[: match.start()] + piece + content[match.end() :]


def _insert_piece(content: bytes, random: Random) -> bytes:
    start = random.randrange(len(content) + 1)
    times = random.choice((1, 1, 1, 2, 30, 3_000))
    return content[:start] + random.choice(_PIECES).encode() * times + content[start:]


def _change_lines(content: bytes, random: Random) -> bytes:
    lines = content.split(b"\n")
    number = random.randrange(len(lines))
    line = lines.pop(number)
    if random.random() < 0.6:
        times = random.choice((1, 2, 10, 1_000))
        lines[random.randrange(len(lines) + 1) : 0] = [line] * min(times, LONGEST // (len(line) + 1))
    return b"\n".join(lines)


BYTE_MUTATIONS: tuple[Mutation, ...] = (
    *(_flip_bit, _flip_bit, _set_byte, _set_integer, _set_integer),
    *(_delete, _repeat, _insert, _cut, _move),
)
TEXT_MUTATIONS: tuple[Mutation, ...] = (
    _replace_number,
    _replace_word,
    _insert_piece,
    _change_lines,
    _repeat,
    _delete,
)
