"""A user's table of the MIDI notes of a drum part or an electronic kit.

```
[midi_notes]
38 = "snare"
99 = "china"

[electronic_kit]  # for recordings of an electronic kit only
55 = "crash"
```
"""

from __future__ import annotations

from pathlib import Path

from fillwright.errors import FillwrightError, MistakeKind
from fillwright.music.surfaces import find_surface
from fillwright.score.parts.midi_notes import MidiNoteMap, get_default_notes
from fillwright.tables.keys import read_entries, read_keys
from fillwright.tables.mistakes import Mistakes, Warn
from fillwright.tables.toml_source import name_file, read_table_file
from fillwright.tables.values import Key, TableKind, accept_table, accept_text, shorten

MOST_NOTE = 127  # of MIDI
_MOST_DIGITS = 3  # of a MIDI note, so that no huge number is converted

MIDI_NOTES = TableKind(title="a table of MIDI notes")

_EXAMPLE = 'and below it, for example, 38 = "snare"'

MIDI_NOTE_KEYS: tuple[Key, ...] = (
    Key(name="midi_notes", allowed=f"[midi_notes] {_EXAMPLE}", read=accept_table, old_names=("keys",)),
    Key(
        name="electronic_kit",
        allowed=f"[electronic_kit] {_EXAMPLE}",
        read=accept_table,
        old_names=("electronic",),
    ),
)
"""Headings of a table of MIDI notes."""


def _read_surface(value: object) -> str:
    return find_surface(accept_text(80)(value)).name


_ENTRY = Key(name="", allowed='the name of a surface, such as "snare"', read=_read_surface)


def read_midi_notes(path: Path, *, warn: Warn) -> MidiNoteMap:
    """Read a table of MIDI notes; the notes that it leaves out are those of the project's table.

    Args:
        path: of the table.
        warn: receives a note about every renamed heading.

    Raises:
        TableError: for a file that can't be read, and for its mistakes.
    """
    table, places = read_table_file(path, MIDI_NOTES)
    mistakes = Mistakes(name=name_file(path), places=places, kind=MIDI_NOTES)
    values = read_keys(table, MIDI_NOTE_KEYS, (), mistakes)
    users = {
        key.name: read_entries(
            values.get(key.name) or {},
            (key.find_name(table),),
            mistakes,
            read_name=_read_note,
            entry=_ENTRY,
        )
        for key in MIDI_NOTE_KEYS
    }
    if not mistakes.count and not any(users.values()):
        message = f"There are no MIDI notes; write {MIDI_NOTE_KEYS[0].allowed}."
        mistakes.add((), message, MistakeKind.MISSING_KEY)
    mistakes.raise_any()
    mistakes.warn_of_renamed(warn)
    return get_default_notes().override(users["midi_notes"], users["electronic_kit"])


def _read_note(text: str) -> int:
    """Read a MIDI note.

    Raises:
        FillwrightError: for anything but a whole number from 0 to 127.
    """
    digits = text.isascii() and text.isdigit() and len(text) <= _MOST_DIGITS
    if not digits or int(text) > MOST_NOTE:
        raise FillwrightError(
            f'"{shorten(text)}" is not a MIDI note; write a whole number from 0 to {MOST_NOTE}.'
        )
    return int(text)
