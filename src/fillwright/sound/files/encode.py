"""Audio files: WAV, FLAC, Ogg Vorbis and MP3, the same bytes on every run."""

from __future__ import annotations

import io
from dataclasses import dataclass

import soundfile

from fillwright.errors import OutputError
from fillwright.sound.files.audio import Audio
from fillwright.sound.files.id3 import build_id3_tag
from fillwright.sound.files.ogg import set_constant_serial

_FORMATS: dict[str, dict[str, str | float]] = {
    ".wav": {"format": "WAV", "subtype": "PCM_16"},
    ".flac": {"format": "FLAC", "subtype": "PCM_16"},
    # quality from 0, the best, to 1: about 200 kbit/s as Vorbis, 160 as MP3; attacks stay clean (tests/outside/
    # test_playalong_files.py finds them in the decoded files)
    ".ogg": {"format": "OGG", "subtype": "VORBIS", "compression_level": 0.2},
    ".mp3": {
        "format": "MP3",
        "subtype": "MPEG_LAYER_III",
        "compression_level": 0.2,
        "bitrate_mode": "VARIABLE",
    },
}
_PADDED = frozenset({".mp3"})
"""Formats whose encoder adds silence at the start and the end."""

SUFFIXES = tuple(_FORMATS)
"""File endings that can be written."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Tags:
    """Texts that an audio player shows; an empty one is left out.

    Attributes:
        title: title of the file.
        artist: name of the teacher.
        album: the lesson or series that the file belongs to.
        track: its number in the album, from 1; 0 for none.
        comment: anything else, such as tempo, meter and note values.
    """

    title: str = ""
    artist: str = ""
    album: str = ""
    track: int = 0
    comment: str = ""

    def to_fields(self) -> dict[str, str]:
        """Return the tags that are set, by the encoder's names for them."""
        number = str(self.track) if self.track else ""
        fields = {
            "title": self.title,
            "artist": self.artist,
            "album": self.album,
            "tracknumber": number,
            "comment": self.comment,
        }
        return {name: text for name, text in fields.items() if text}


NO_TAGS = Tags()


def encode_audio(audio: Audio, suffix: str, *, tags: Tags = NO_TAGS) -> bytes:
    """Encode audio as the bytes of a file, the same bytes on every run.

    Args:
        audio: the audio; samples beyond full scale are clipped.
        suffix: ending of the file's name, in lower case: .wav, .flac (16 bits each), .ogg (Vorbis) or .mp3.
        tags: texts that a player shows.

    Raises:
        OutputError: for another ending, for audio without samples, for a loop in a format that adds silence, or
            where the encoder fails.
    """
    if suffix not in _FORMATS:
        raise OutputError(
            f'"{suffix}" is not an ending of an audio file; use {", ".join(SUFFIXES[:-1])} or {SUFFIXES[-1]}.'
        )
    if not len(audio.samples):
        raise OutputError("The audio is empty: it lasts 0 seconds.")
    if audio.loops and suffix in _PADDED:
        raise OutputError(
            "An MP3 can't be a seamless loop, because it starts and ends with silence; "
            "write the loop as .wav, .flac or .ogg."
        )
    settings = _FORMATS[suffix]
    memory = io.BytesIO()
    try:
        with soundfile.SoundFile(memory, "w", samplerate=audio.rate, channels=2, **settings) as file:
            for name, text in tags.to_fields().items() if suffix != ".mp3" else ():
                setattr(file, name, text)
            # one long write to Ogg overruns the encoder's stack
            for start in range(0, len(audio.samples), audio.rate):
                file.write(audio.samples[start : start + audio.rate])
    except soundfile.LibsndfileError as error:
        raise OutputError(f"The audio can't be encoded as {settings['format']}: {error}.") from error
    content = memory.getvalue()
    match suffix:
        case ".ogg":
            return set_constant_serial(content)
        case ".mp3":
            return build_id3_tag(tags.to_fields()) + content
        case _:
            return content
