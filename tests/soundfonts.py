"""Small SoundFont 2 files for tests, written after the format's own layout."""

from __future__ import annotations

import io
import struct
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
import soundfile

_KEYS, _VELOCITIES, _INSTRUMENT, _SAMPLE, _MODES, _EXCLUSIVE, _ROOT = 43, 44, 41, 53, 54, 57, 58
_ZEROS = 46  # the format wants so many after every sample


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Drum:
    """One sample on some keys.

    Attributes:
        keys: low and high.
        samples: mono, full scale 1.
        velocities: low and high.
        exclusive: its exclusive class.
        rate: samples a second.
    """

    keys: tuple[int, int]
    samples: np.ndarray = field(repr=False)
    velocities: tuple[int, int] = (1, 127)
    exclusive: int = 0
    rate: int = 44_100


def stroke(hz: float = 400.0, *, wait: int = 0, seconds: float = 0.3, level: float = 0.8, rate: int = 44_100):
    """A tone that starts at once after a wait in samples, and dies away."""
    t = np.arange(round(seconds * rate)) / rate
    tone = level * np.cos(2 * np.pi * hz * t) * np.exp(-t * 8 / seconds)
    return np.concatenate([np.zeros(wait), tone])


def soundfont(
    drums: Sequence[Drum], *, bank: int = 128, program: int = 0, compressed: bool = False, zeros: int = _ZEROS
) -> bytes:
    """A file with one preset of these drums; compressed, its samples are Ogg Vorbis, as in .sf3 files.

    Behind each sample lie `zeros`.
    """
    sound, heads = _sound(drums, compressed, zeros)
    generators, bags = [], []
    for number, drum in enumerate(drums):
        bags.append(len(generators))
        generators += [(_KEYS, _pair(drum.keys)), (_VELOCITIES, _pair(drum.velocities))]
        generators += [(_EXCLUSIVE, drum.exclusive)] if drum.exclusive else []
        generators += [(_ROOT, drum.keys[0]), (_MODES, 0), (_SAMPLE, number)]
    bags.append(len(generators))
    tables = {
        "phdr": struct.pack("<20sHHHIII", b"Tests", program, bank, 0, 0, 0, 0)
        + struct.pack("<20sHHHIII", b"EOP", 0, 0, 1, 0, 0, 0),
        "pbag": struct.pack("<HHHH", 0, 0, 1, 0),
        "pmod": bytes(10),
        "pgen": struct.pack("<HHHH", _INSTRUMENT, 0, 0, 0),
        "inst": struct.pack("<20sH", b"Tests", 0) + struct.pack("<20sH", b"EOI", len(drums)),
        "ibag": b"".join(struct.pack("<HH", first, 0) for first in bags),
        "imod": bytes(10),
        "igen": b"".join(struct.pack("<HH", *each) for each in (*generators, (0, 0))),
        "shdr": heads,
    }
    info = _chunk("ifil", struct.pack("<HH", 2, 1)) + _chunk("isng", b"EMU8000\0") + _chunk("INAM", b"Tests\0")
    body = _list("INFO", info) + _list("sdta", _chunk("smpl", sound))
    body += _list("pdta", b"".join(_chunk(name, table) for name, table in tables.items()))
    return _chunk("RIFF", b"sfbk" + body)


def _sound(drums: Sequence[Drum], compressed: bool, zeros: int) -> tuple[bytes, bytes]:
    """The samples one after the other, and their heads."""
    sound, heads = b"", b""
    for number, drum in enumerate(drums):
        data, unit = (_ogg(drum), 1) if compressed else (_pcm(drum.samples), 2)
        start = len(sound) // unit
        end = start + len(data) // unit
        kind = 1 | (0x10 if compressed else 0)
        loop = (0, len(drum.samples)) if compressed else (start, end)
        name = f"sample {number}".encode()
        heads += struct.pack("<20sIIIIIBbHH", name, start, end, *loop, drum.rate, drum.keys[0], 0, 0, kind)
        sound += data if compressed else data + bytes(2 * zeros)
    return sound, heads + struct.pack("<20sIIIIIBbHH", b"EOS", *[0] * 9)


def _pcm(samples: np.ndarray) -> bytes:
    return np.round(np.clip(samples, -1, 1) * 32767).astype("<i2").tobytes()


def _ogg(drum: Drum) -> bytes:
    memory = io.BytesIO()
    soundfile.write(memory, drum.samples, drum.rate, format="OGG", subtype="VORBIS")
    return memory.getvalue()


def _pair(span: tuple[int, int]) -> int:
    return span[0] | span[1] << 8


def _chunk(name: str, data: bytes) -> bytes:
    return name.encode() + struct.pack("<I", len(data)) + data + bytes(len(data) % 2)


def _list(kind: str, data: bytes) -> bytes:
    return _chunk("LIST", kind.encode() + data)
