"""Surfaces of MIDI notes, from the project's table `midi_notes.toml`."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cache
from importlib.resources import files

from fillwright.craft.player.kits import Kit
from fillwright.errors import FillwrightError
from fillwright.music.surfaces import find_surface

UNKNOWN_GOES_TO = "snare"
"""A MIDI note that is in no table is a stroke of a hand, and hands strike the snare most."""


@dataclass(frozen=True, slots=True, kw_only=True)
class MidiNoteMap:
    """Surfaces of the MIDI notes of a drum part.

    Attributes:
        notes: surface by MIDI note.
        electronic: surface by MIDI note, where recordings of an electronic kit differ from that.
        instruments: the drum or cymbal that a surface is a part of, where it isn't one of its own.
        instead: for a kit without a surface, others in order of preference.
    """

    notes: Mapping[int, str]
    electronic: Mapping[int, str]
    instruments: Mapping[str, str]
    instead: Mapping[str, tuple[str, ...]]

    def find(self, note: int, *, recorded: bool) -> str | None:
        """Return the surface of a MIDI note, None for an unknown one.

        Args:
            note: 0 to 127.
            recorded: True for a recording of an electronic kit.
        """
        return (self.electronic.get(note) if recorded else None) or self.notes.get(note)

    def find_instrument(self, name: str) -> str:
        """Return the drum or cymbal of a surface: head and rim are one, and so are edge, bow and bell.

        >>> get_default_notes().find_instrument("ride bell")
        'ride'
        """
        return self.instruments.get(name, name)

    def choose_surface(self, kit: Kit, name: str) -> str:
        """Return the surface of a kit that takes a stroke: its own if the kit has it; feet keep their pedals.

        Raises:
            FillwrightError: where the kit has nothing for it.
        """
        if find_surface(name).foot is not None or kit.has(name):
            return name
        for other in self.instead.get(name, ()):
            if kit.has(other):
                return other
        raise FillwrightError(f"The {kit.name} kit has nothing to play the {name} on.")

    def override(self, notes: Mapping[int, str], electronic: Mapping[int, str]) -> MidiNoteMap:
        """Return the map with a user's own surfaces before its own.

        Args:
            notes: surface by MIDI note, for every part.
            electronic: surface by MIDI note, for recordings of an electronic kit only.
        """
        unchanged = {note: name for note, name in self.electronic.items() if note not in notes}
        return replace(self, notes={**self.notes, **notes}, electronic={**unchanged, **electronic})


@cache
def get_default_notes() -> MidiNoteMap:
    """Return the project's own map."""
    table = tomllib.loads(files(__package__).joinpath("midi_notes.toml").read_text("utf-8"))
    return MidiNoteMap(
        notes={int(note): find_surface(name).name for note, name in table["midi_notes"].items()},
        electronic={int(note): find_surface(name).name for note, name in table["electronic_kit"].items()},
        instruments={name: instrument for instrument, names in table["instruments"].items() for name in names},
        instead={name: tuple(choices) for name, choices in table["instead"].items()},
    )
