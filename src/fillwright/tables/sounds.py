"""Recorded sounds of a user: opening a SoundFont or a folder, with the tables that belong to them.

The map of a folder, `sounds.toml`:

```
gain_db = -3.0          # for all of them

[[sound]]
surface = "snare"
up_to = 70              # the softer strokes: velocities up to 70
files = ["snare soft 1.wav", "snare soft 2.wav"]

[[sound]]
surface = "snare"       # without up_to: all the harder ones
files = ["snare hard 1.wav", "snare hard 2.wav", "snare hard 3.wav"]
gain_db = 1.5

[[sound]]
surface = "open hi-hat"
files = ["hats/open.flac"]
choked_by = ["hi-hat", "foot hi-hat"]
```

The MIDI notes of a SoundFont:

```
bank = 0          # if left out 128, or the first preset where there is no such bank
program = 0
[midi_notes]
"floor tom" = 41  # the others stay as General MIDI has them
china = false     # it has none; the modelled kit plays it
```
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

from fillwright import budget
from fillwright.errors import MistakeKind, SoundsError
from fillwright.music.surfaces import find_surface
from fillwright.sound.samples.folder import FolderSource
from fillwright.sound.samples.folder_map import MAP, FolderLayer
from fillwright.sound.samples.midi_notes import SoundFontNotes, get_general_midi
from fillwright.sound.samples.recorded_bank import RecordedBank
from fillwright.sound.samples.soundfont import SoundFontSource
from fillwright.tables.keys import read_entries, read_keys, read_rows
from fillwright.tables.mistakes import Mistakes, Warn
from fillwright.tables.toml_source import name_file, read_table_file
from fillwright.tables.values import (
    Key,
    RejectedValueError,
    TableKind,
    accept_number,
    accept_table,
    accept_text,
    accept_whole,
    describe_value,
    shorten,
)

SOUNDFONT_SUFFIXES = (".sf2", ".sf3")
FILE_SUFFIXES = (".wav", ".flac")

MOST_SOUNDS = 200  # in a map; ours
MOST_FILES = 64  # alternates of one layer; ours
HARDEST = 127  # velocity, of MIDI
MOST_BANK = 128  # of a SoundFont; 128 is percussion (SoundFont 2.04, section 7.2)
MOST_PROGRAM = 127  # of MIDI
MOST_NOTE = 127  # of MIDI
LEAST_GAIN_DB, MOST_GAIN_DB = -60.0, 24.0  # ours: -60 dB is inaudible, 24 dB lifts the softest recordings

SOUND_MAP = TableKind(title="a map of sounds", rows=frozenset({"sound"}))
SOUNDFONT_NOTES = TableKind(title="a table of the MIDI notes of a SoundFont")


def open_sounds(path: Path, *, notes: Path | None = None, warn: Warn, name: str = "") -> RecordedBank:
    """Open the sounds of a SoundFont or a folder.

    Args:
        path: a .sf2 or .sf3 file, or a folder with a map.
        notes: a table of the SoundFont's MIDI notes; General MIDI's if left out.
        warn: receives a sentence about everything that is missing or broken and played by the modelled kit
            instead, and about every renamed key.
        name: of the file or folder in errors; the path if left out.

    Raises:
        SoundsError: for sounds that can't be used at all.
        TableError: for mistakes in a table.
    """
    shown = name or str(path)
    try:
        if path.is_dir():
            if notes:
                raise SoundsError(
                    f'"{shown}" is a folder, whose map names its sounds; leave out --sound-notes.'
                )
            return RecordedBank(FolderSource(path, read_folder_map(path, warn=warn, name=name), warn), warn)
        return RecordedBank(_open_soundfont(path, notes, warn, shown), warn)
    except FileNotFoundError as error:
        raise SoundsError(f'There is no file or folder "{shown}"; check its name and folder.') from error
    except (OSError, ValueError) as error:
        raise SoundsError(f'"{shown}" can\'t be read; check its name and whether you may read it.') from error


def _open_soundfont(path: Path, notes: Path | None, warn: Warn, shown: str) -> SoundFontSource:
    size = path.stat().st_size
    if path.suffix.lower() not in SOUNDFONT_SUFFIXES or not path.is_file():
        raise SoundsError(f'"{shown}" is not a SoundFont; give a .sf2 or .sf3 file, or a folder with a map.')
    if size > budget.SOUNDFONT_BYTES:
        most = budget.SOUNDFONT_BYTES // 1_000_000
        raise SoundsError(f'"{path.name}" has {size // 1_000_000:,} MB; a SoundFont may have {most:,}.')
    return SoundFontSource(path, read_soundfont_notes(notes, warn=warn) if notes else get_general_midi())


def _read_surface(value: object) -> str:
    return find_surface(accept_text(80)(value)).name


def _read_note(value: object) -> int:
    """Read a MIDI note; -1 where the table says that there is none."""
    return -1 if value is False else int(accept_whole(0, MOST_NOTE)(value))


SOUNDFONT_KEYS: tuple[Key, ...] = (
    Key(name="bank", allowed=f"a whole number from 0 to {MOST_BANK}", read=accept_whole(0, MOST_BANK)),
    Key(name="program", allowed=f"a whole number from 0 to {MOST_PROGRAM}", read=accept_whole(0, MOST_PROGRAM)),
    Key(
        name="midi_notes",
        allowed='[midi_notes] and below it, for example, "floor tom" = 41',
        read=accept_table,
        old_names=("keys",),
    ),
)
"""Keys of a table of the MIDI notes of a SoundFont."""

_NOTE = Key(name="", allowed=f"a whole number from 0 to {MOST_NOTE}, or false for none", read=_read_note)


def read_soundfont_notes(path: Path, *, warn: Warn) -> SoundFontNotes:
    """Read which MIDI notes of a SoundFont play which surfaces; the others stay as General MIDI has them.

    Args:
        path: of the table.
        warn: receives a note about every renamed key.

    Raises:
        TableError: for a file that can't be read, and for its mistakes.
    """
    table, places = read_table_file(path, SOUNDFONT_NOTES)
    mistakes = Mistakes(name=name_file(path), places=places, kind=SOUNDFONT_NOTES)
    values = read_keys(table, SOUNDFONT_KEYS, (), mistakes)
    heading = SOUNDFONT_KEYS[-1].find_name(table)
    written = values.get("midi_notes") or {}
    users = read_entries(written, (heading,), mistakes, read_name=_read_surface, entry=_NOTE)
    mistakes.raise_any()
    mistakes.warn_of_renamed(warn)
    every = {**get_general_midi().notes, **users}
    return SoundFontNotes(
        bank=values["bank"],
        program=values["program"],
        notes={name: note for name, note in every.items() if note >= 0},
    )


_GAIN = f"a number from {LEAST_GAIN_DB:g} to {MOST_GAIN_DB:g}"

MAP_KEYS: tuple[Key, ...] = (
    Key(name="gain_db", allowed=_GAIN, read=accept_number(LEAST_GAIN_DB, MOST_GAIN_DB), default=0.0),
)
"""Keys at the top of a map."""


def list_sound_keys(folder: Path) -> tuple[Key, ...]:
    """Return the keys below a [[sound]] of the map in a folder, to which its files are confined."""

    def read_file(value: object) -> Path:
        return _find_file(folder.resolve(), value)

    return (
        Key(
            name="surface", allowed='the name of a surface, such as "snare"', read=_read_surface, required=True
        ),
        Key(
            name="files",
            allowed=f"a list of 1 to {MOST_FILES} {' or '.join(FILE_SUFFIXES)} files",
            read=read_file,
            required=True,
            most=MOST_FILES,
            least=1,
            repeats=True,
        ),
        Key(
            name="up_to",
            allowed=f"a whole number from 1 to {HARDEST}",
            read=accept_whole(1, HARDEST),
            default=HARDEST,
        ),
        Key(name="gain_db", allowed=_GAIN, read=accept_number(LEAST_GAIN_DB, MOST_GAIN_DB), default=0.0),
        Key(
            name="choked_by",
            allowed='a list of surfaces, such as ["hi-hat"]',
            read=_read_surface,
            default=[],
            most=MOST_FILES,
            repeats=True,
        ),
    )


def read_folder_map(folder: Path, *, warn: Warn, name: str = "") -> tuple[FolderLayer, ...]:
    """Read the layers of a folder's map, by surface and rising velocity.

    Args:
        folder: holds the map.
        warn: receives a note about every renamed key.
        name: of the folder in errors; its path if left out.

    Raises:
        SoundsError: for a folder without a map.
        TableError: for a map that can't be read, and for its mistakes.
    """
    path = folder / MAP
    if not path.exists():
        raise SoundsError(
            f'"{name or folder}" has no {MAP}; write one that lists the files of each drum and cymbal.'
        )
    table, places = read_table_file(path, SOUND_MAP)
    mistakes = Mistakes(name=MAP, places=places, kind=SOUND_MAP)
    top = read_keys(table, MAP_KEYS, (), mistakes, tables=SOUND_MAP.rows)
    rows = read_rows(table, "sound", mistakes)
    if not mistakes.count and not rows:
        mistakes.add(
            ("sound",), "There is no sound; write [[sound]] and its keys below.", MistakeKind.MISSING_KEY
        )
    if len(rows) > MOST_SOUNDS:
        mistakes.add(("sound", MOST_SOUNDS), f"There are {len(rows)} sounds; write at most {MOST_SOUNDS}.")
    keys = list_sound_keys(folder)
    read = [read_keys(row, keys, ("sound", index), mistakes) for index, row in enumerate(rows[:MOST_SOUNDS])]
    _refuse_twins(read, mistakes)
    mistakes.raise_any()
    mistakes.warn_of_renamed(warn)
    layers = [_build_layer(values, top["gain_db"]) for values in read]
    return tuple(sorted(layers, key=lambda layer: (layer.surface, layer.up_to)))


def _build_layer(values: dict[str, Any], common_db: float) -> FolderLayer:
    return FolderLayer(
        surface=values["surface"],
        up_to=values["up_to"],
        files=values["files"],
        gain_db=float(common_db) + float(values["gain_db"]),
        choked_by=frozenset(values["choked_by"]),
    )


def _refuse_twins(read: Sequence[dict[str, Any]], mistakes: Mistakes) -> None:
    """Add a mistake for every second sound of a surface up to the same velocity."""
    seen: set[tuple[str, int]] = set()
    for index, values in enumerate(read):
        if "surface" not in values or "up_to" not in values:
            continue
        layer = (values["surface"], values["up_to"])
        if layer in seen:
            message = (
                f"{layer[0]} has two sounds up to velocity {layer[1]}; "
                "name alternates in one list of files, or give another up_to."
            )
            mistakes.add(("sound", index), message, MistakeKind.FIT)
        seen.add(layer)


def _find_file(folder: Path, value: object) -> Path:
    """Return the file of a name, which is in the folder or below it, links followed.

    Raises:
        RejectedValueError: for what is not a text.
        SoundsError: for a name outside of the folder, of another kind, or that no file can have.
    """
    if not isinstance(value, str):
        raise RejectedValueError(describe_value(value))
    quoted = f'"{shorten(value, 60)}"'
    try:
        path = (folder / value).resolve()
        inside = path.is_relative_to(folder)
    except (OSError, RuntimeError, ValueError) as error:  # links in a circle, characters that no name has
        raise SoundsError(f"{quoted} can't be the name of a file.") from error
    if not inside:
        raise SoundsError(f"{quoted} is outside of the folder; move the file into it.")
    if path.suffix.lower() not in FILE_SUFFIXES:
        raise SoundsError(f"{quoted} is not a {' or '.join(FILE_SUFFIXES)} file; convert it first.")
    return path
