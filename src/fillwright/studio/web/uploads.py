"""Uploaded recordings: their format is detected from their bytes, never from a file name."""

from __future__ import annotations

from collections.abc import Callable

from fillwright.errors import TakeError
from fillwright.store.takes import LARGEST_TAKE_BYTES
from fillwright.studio.web.request import UploadedFile

_ACCEPTED = "send WAV, FLAC, MP3, M4A, AAC, Ogg, WebM, or MIDI from an electronic kit"
_HEAD_BYTES = 64
"""Bytes at the start of a file that are examined; the longest signature, WebM's, needs about 40. Ours."""

_ID3_HEAD_BYTES = 10
"""Bytes of the header of an ID3 tag (ID3v2.4.0 Main Structure, 3.1)."""

_PICTURES = (b"heic", b"heix", b"mif1", b"msf1", b"avif", b"avis")
"""Brands of the MP4 family that hold pictures."""


def check_recording(upload: UploadedFile | None) -> tuple[str, bytes]:
    """Return media type and content of an uploaded recording. Its duration is checked later.

    Raises:
        TakeError: if there is none, if it is too large, and for a file that is not a recording.
    """
    if upload is None or not upload.content:
        raise TakeError("There is no recording. Record a take, or choose a file.")
    if len(upload.content) > LARGEST_TAKE_BYTES:
        raise TakeError(
            f"The recording is larger than {LARGEST_TAKE_BYTES // 10**6} MB. Shorten it, or save it as MP3."
        )
    media_type = _detect_media_type(_skip_id3(upload.content))
    if media_type is None:
        raise TakeError(f"That file is not a recording; {_ACCEPTED}.")
    return media_type, upload.content


def _skip_id3(content: bytes) -> bytes:
    """Return the first bytes of a file after its ID3 tag, which MP3, AAC and FLAC may have.

    A tag that is longer than the file leaves nothing.
    """
    head = content[:_ID3_HEAD_BYTES]
    if not head.startswith(b"ID3") or len(head) < _ID3_HEAD_BYTES:
        return content[:_HEAD_BYTES]
    length = 0
    for byte in head[6:]:  # seven bits each
        length = length << 7 | byte & 0x7F
    start = _ID3_HEAD_BYTES + length
    return content[start : start + _HEAD_BYTES]


def _detect_media_type(head: bytes) -> str | None:
    return next((media_type for media_type, has in _KINDS if has(head)), None)


def _is_wav(head: bytes) -> bool:
    return head[:4] in (b"RIFF", b"RF64") and head[8:12] == b"WAVE"


def _is_webm(head: bytes) -> bool:
    return head.startswith(b"\x1a\x45\xdf\xa3") and b"webm" in head


def _is_mp4(head: bytes) -> bool:
    return head[4:8] == b"ftyp" and head[8:12] not in _PICTURES


def _is_mp3(head: bytes) -> bool:
    """Return True for the start of a layer III frame whose bit rate and sample rate are defined."""
    if len(head) < 4 or head[0] != 0xFF or head[1] & 0xE0 != 0xE0:
        return False
    version, layer = head[1] >> 3 & 3, head[1] >> 1 & 3
    bit_rate, sample_rate = head[2] >> 4, head[2] >> 2 & 3
    return version != 1 and layer == 1 and bit_rate != 15 and sample_rate != 3


def _is_aac(head: bytes) -> bool:
    """Return True for the start of an ADTS frame whose sample rate is defined."""
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
"""Accepted media types, each with a test of a file's first bytes."""
