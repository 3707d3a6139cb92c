"""Audio written whole, in the format that the name of the file asks for."""

from __future__ import annotations

from pathlib import Path

from fillwright.lesson.whole import write_whole
from fillwright.sound.audio import Audio
from fillwright.sound.files import Tags, encoded


def write_audio(path: Path, audio: Audio, *, title: str = "") -> None:
    """Write audio as .wav, .flac, .ogg or .mp3, with a title for players to show.

    Raises:
        OutputError: for another ending, or where the file can't be written.
    """
    write_whole(path, encoded(audio, path.suffix.lower(), tags=Tags(title=title)))
