"""Opening other people's sounds: a SoundFont, or a folder with a map."""

from __future__ import annotations

from pathlib import Path

from fillwright.errors import SoundsError
from fillwright.sound.samples.folder import FolderSource
from fillwright.sound.samples.midi_notes import general_midi, read_sound_keys
from fillwright.sound.samples.recorded_bank import RecordedBank, Warn
from fillwright.sound.samples.soundfont import SoundFontSource

SUFFIXES = (".sf2", ".sf3")
"""Endings of SoundFonts."""

LARGEST_SOUNDFONT_BYTES = 2_000_000_000
"""The largest SoundFont that is read."""


def open_sounds(path: Path, *, keys: Path | None = None, warn: Warn) -> RecordedBank:
    """A bank of the sounds in a SoundFont or a folder.

    Args:
        path: a .sf2 or .sf3 file, or a folder with a map.
        keys: a table that says which key of the SoundFont is which surface; General MIDI's if left out.
        warn: told in a sentence what is missing or broken, while the modelled kit stands in.

    Raises:
        SoundsError: for sounds that can't be used at all.
    """
    try:
        if path.is_dir():
            if keys:
                raise SoundsError(f'"{path}" is a folder, whose map names its sounds; leave out --sound-keys.')
            return RecordedBank(FolderSource(path, warn), warn)
        return RecordedBank(_soundfont(path, keys), warn)
    except FileNotFoundError as error:
        raise SoundsError(f'There is no file or folder "{path}"; check its name and place.') from error
    except (OSError, ValueError) as error:
        raise SoundsError(f'"{path}" can\'t be read; check its name and whether you may read it.') from error


def _soundfont(path: Path, keys: Path | None) -> SoundFontSource:
    size = path.stat().st_size
    if path.suffix.lower() not in SUFFIXES or not path.is_file():
        raise SoundsError(f'"{path}" is no SoundFont; give a .sf2 or .sf3 file, or a folder with a map.')
    if size > LARGEST_SOUNDFONT_BYTES:
        most = LARGEST_SOUNDFONT_BYTES // 1_000_000
        raise SoundsError(f'"{path.name}" has {size // 1_000_000:,} MB; a SoundFont may have {most:,}.')
    return SoundFontSource(path, read_sound_keys(keys) if keys else general_midi())
