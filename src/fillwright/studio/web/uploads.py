"""Recordings that are sent: what they are is read from their bytes, never from a name that came along."""

from __future__ import annotations

from collections.abc import Callable

from fillwright.errors import TakeError
from fillwright.store.takes import LARGEST_TAKE_BYTES
from fillwright.studio.web.request import Sent

_ACCEPTED = "send WAV, FLAC, MP3, M4A, AAC, Ogg, WebM, or MIDI from an electronic kit"
_HEAD_BYTES = 64
_ID3_HEAD_BYTES = 10
_PICTURES = (b"heic", b"heix", b"mif1", b"msf1", b"avif", b"avis")
"""Brands of the MP4 family that hold pictures."""


def recording(sent: Sent | None) -> tuple[str, bytes]:
    """Media type and content of a recording that was sent; how long it lasts is checked where it is heard.

    Raises:
        TakeError: for nothing, for too much, and for what is no recording.
    """
    if sent is None or not sent.content:
        raise TakeError("No recording came along; record a take, or choose a file.")
    if len(sent.content) > LARGEST_TAKE_BYTES:
        raise TakeError(
            f"The recording is larger than {LARGEST_TAKE_BYTES // 10**6} MB; cut it down, or save it as MP3."
        )
    media_type = _kind(_without_tag(sent.content))
    if media_type is None:
        raise TakeError(f"That is no recording; {_ACCEPTED}.")
    return media_type, sent.content


def _without_tag(content: bytes) -> bytes:
    """The first bytes of a file, behind an ID3 tag that stands before MP3, AAC or FLAC.

    A tag that is longer than the file leaves nothing.
    """
    head = content[:_ID3_HEAD_BYTES]
    if not head.startswith(b"ID3") or len(head) < _ID3_HEAD_BYTES:
        return content[:_HEAD_BYTES]
    length = 0
    for byte in head[6:]:  # seven bits each
        length = length << 7 | byte & 0x7F
    behind = _ID3_HEAD_BYTES + length
    return content[behind : behind + _HEAD_BYTES]


def _kind(head: bytes) -> str | None:
    return next((media_type for media_type, has in _KINDS if has(head)), None)


def _is_wav(head: bytes) -> bool:
    return head[:4] in (b"RIFF", b"RF64") and head[8:12] == b"WAVE"


def _is_webm(head: bytes) -> bool:
    return head.startswith(b"\x1a\x45\xdf\xa3") and b"webm" in head


def _is_mp4(head: bytes) -> bool:
    return head[4:8] == b"ftyp" and head[8:12] not in _PICTURES


def _is_mp3(head: bytes) -> bool:
    """Whether a frame of layer III begins, with a bit rate and a sample rate that there are."""
    if len(head) < 4 or head[0] != 0xFF or head[1] & 0xE0 != 0xE0:
        return False
    version, layer = head[1] >> 3 & 3, head[1] >> 1 & 3
    bit_rate, sample_rate = head[2] >> 4, head[2] >> 2 & 3
    return version != 1 and layer == 1 and bit_rate != 15 and sample_rate != 3


def _is_aac(head: bytes) -> bool:
    """Whether a frame of ADTS begins, with a sample rate that there is."""
    return len(head) >= 4 and head[0] == 0xFF and head[1] & 0xF6 == 0xF0 and head[2] >> 2 & 15 < 13


_KINDS: tuple[tuple[str, Callable[[bytes], bool]], ...] = (
    ("audio/wav", _is_wav),
    ("audio/flac", lambda head: head.startswith(b"fLaC")),
    ("audio/ogg", lambda head: head.startswith(b"OggS")),
    ("audio/webm", _is_webm),
    ("audio/mp4", _is_mp4),
    ("audio/midi", lambda head: head.startswith(b"MThd")),
    ("audio/aac", _is_aac),
    ("audio/mpeg", _is_mp3),
)
"""Each kind that is kept, and how its bytes begin."""
