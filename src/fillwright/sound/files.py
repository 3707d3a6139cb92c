"""Audio files: WAV, FLAC, Ogg Vorbis and MP3, the same bytes on every run."""

from __future__ import annotations

import io
from dataclasses import dataclass

import soundfile

from fillwright.errors import OutputError
from fillwright.sound.audio import Audio
from fillwright.sound.ogg import with_constant_serial

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
SUFFIXES = tuple(_FORMATS)
"""Endings of the files that can be written."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Tags:
    """What a player shows; empty for nothing.

    Attributes:
        title: of this file.
        artist: who teaches it.
        album: the lesson or series it belongs to.
    """

    title: str = ""
    artist: str = ""
    album: str = ""


NO_TAGS = Tags()


def encoded(audio: Audio, suffix: str, *, tags: Tags = NO_TAGS) -> bytes:
    """Audio as the bytes of a file.

    Args:
        audio: what to encode; samples beyond full scale are clipped.
        suffix: ending of the file's name, in small letters: .wav, .flac (16 bits each), .ogg (Vorbis) or .mp3.
        tags: title, artist, album.

    Raises:
        OutputError: for another ending, for audio of no length, or where the encoder refuses.
    """
    if suffix not in _FORMATS:
        raise OutputError(
            f'"{suffix}" is no ending for an audio file; use {", ".join(SUFFIXES[:-1])} or {SUFFIXES[-1]}.'
        )
    if not len(audio.samples):
        raise OutputError("There is no sound to write: the audio lasts 0 seconds.")
    settings = _FORMATS[suffix]
    memory = io.BytesIO()
    try:
        with soundfile.SoundFile(memory, "w", samplerate=audio.rate, channels=2, **settings) as file:
            for key in ("title", "artist", "album"):
                if text := getattr(tags, key):
                    setattr(file, key, text)
            # one long write to Ogg overruns the encoder's stack
            for start in range(0, len(audio.samples), audio.rate):
                file.write(audio.samples[start : start + audio.rate])
    except soundfile.LibsndfileError as error:
        raise OutputError(f"The audio can't be encoded as {settings['format']}: {error}.") from error
    made = memory.getvalue()
    return with_constant_serial(made) if suffix == ".ogg" else made
