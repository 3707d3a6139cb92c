"""MIDI notes of a SoundFont by surface: General MIDI's, unless a table of the user's says otherwise."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from fillwright.music.surfaces import load_surfaces


@dataclass(frozen=True, slots=True, kw_only=True)
class SoundFontNotes:
    """MIDI notes that play the surfaces of a kit in a SoundFont.

    Attributes:
        bank: 0 to 128; None for the bank of percussion, or else the first one.
        program: 0 to 127; None for the lowest of the bank.
        notes: MIDI note by surface; a surface that is missing has no sound.
    """

    bank: int | None = None
    program: int | None = None
    notes: Mapping[str, int]


def get_general_midi() -> SoundFontNotes:
    """Return the MIDI notes of General MIDI Level 1.

    >>> get_general_midi().notes["snare"]
    38
    """
    return SoundFontNotes(notes={name: surface.key for name, surface in load_surfaces().items()})
