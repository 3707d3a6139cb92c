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
    # the qualities below keep attacks clean: about 200 and 160 kbit/s
    ".ogg": {"format": "OGG", "subtype": "VORBIS", "compression_level": 0.2},
    ".mp3": {
        "format": "MP3",
        "subtype": "MPEG_LAYER_III",
        "compression_level": 0.2,
        "bitrate_mode": "VARIABLE",
    },
}
_OPEN = frozenset({".mp3"})
SUFFIXES = tuple(_FORMATS)
"""Endings of the files that can be written."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Tags:
    """What a player shows; empty for nothing.

    Attributes:
        title: of this file.
        artist: who teaches it.
        album: the lesson or series it belongs to.
        track: its number in the album, from 1; 0 for none.
        comment: what else there is to say, such as tempo, meter and note values.
    """

    title: str = ""
    artist: str = ""
    album: str = ""
    track: int = 0
    comment: str = ""

    def to_fields(self) -> dict[str, str]:
        """What there is to write, by the name that the encoder gives it."""
        number = str(self.track) if self.track else ""
        found = {
            "title": self.title,
            "artist": self.artist,
            "album": self.album,
            "tracknumber": number,
            "comment": self.comment,
        }
        return {name: text for name, text in found.items() if text}


NO_TAGS = Tags()


def encode_audio(audio: Audio, suffix: str, *, tags: Tags = NO_TAGS) -> bytes:
    """Audio as the bytes of a file.

    Args:
        audio: what to encode; samples beyond full scale are clipped.
        suffix: ending of the file's name, in small letters: .wav, .flac (16 bits each), .ogg (Vorbis) or .mp3.
        tags: what a player shows.

    Raises:
        OutputError: for another ending, for audio of no length, for a loop that can't close in this format, or
            where the encoder refuses.
    """
    if suffix not in _FORMATS:
        raise OutputError(
            f'"{suffix}" is no ending for an audio file; use {", ".join(SUFFIXES[:-1])} or {SUFFIXES[-1]}.'
        )
    if not len(audio.samples):
        raise OutputError("There is no sound to write: the audio lasts 0 seconds.")
    if audio.loops and suffix in _OPEN:
        raise OutputError(
            "An MP3 can't close to the sample, since it starts and ends with silence of its own; "
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
    made = memory.getvalue()
    match suffix:
        case ".ogg":
            return set_constant_serial(made)
        case ".mp3":
            return build_id3_tag(tags.to_fields()) + made
        case _:
            return made
