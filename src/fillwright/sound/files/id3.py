"""ID3 tags for MP3 files.

After the informal standard of ID3 tag version 2.3.0 (from memory): a header of ten bytes, its size in seven
bits a byte, then frames. Text is Latin-1 where that has all its letters, else UTF-16 with a byte order mark. We
write the tags because the encoder writes letters outside ASCII wrongly.
"""

from __future__ import annotations

from collections.abc import Mapping

_FRAMES = {"title": b"TIT2", "artist": b"TPE1", "album": b"TALB", "tracknumber": b"TRCK", "comment": b"COMM"}
_LATIN_1, _UTF_16 = b"\x00", b"\x01"
_LANGUAGE = b"eng"


def build_id3_tag(named: Mapping[str, str]) -> bytes:
    r"""Return a tag that goes before the first frame of sound; no bytes if there are no texts.

    Args:
        named: texts by "title", "artist", "album", "tracknumber" and "comment".

    >>> build_id3_tag({"title": "Fill 3"})
    b'ID3\x03\x00\x00\x00\x00\x00\x11TIT2\x00\x00\x00\x07\x00\x00\x00Fill 3'
    """
    frames = b"".join(_frame(_FRAMES[name], text) for name, text in named.items())
    return b"ID3\x03\x00\x00" + _pack_seven_bits(len(frames)) + frames if frames else b""


def _frame(name: bytes, text: str) -> bytes:
    body = _comment(text) if name == b"COMM" else b"".join(_encode_text(text))
    return name + len(body).to_bytes(4, "big") + b"\x00\x00" + body


def _comment(text: str) -> bytes:
    """Return a comment frame's body: language, description (empty here) and text."""
    code, words = _encode_text(text)
    description = b"\x00" if code == _LATIN_1 else "\ufeff\0".encode("utf-16-le")
    return code + _LANGUAGE + description + words


def _encode_text(text: str) -> tuple[bytes, bytes]:
    """Return the code of an encoding, and the text in that encoding."""
    try:
        return _LATIN_1, text.encode("latin-1")
    except UnicodeEncodeError:
        return _UTF_16, f"\ufeff{text}".encode("utf-16-le")


def _pack_seven_bits(size: int) -> bytes:
    return bytes(size >> shift & 0x7F for shift in (21, 14, 7, 0))
