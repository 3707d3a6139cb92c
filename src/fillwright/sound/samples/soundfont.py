"""Recorded strokes from a SoundFont 2 file; FluidSynth plays each MIDI note and velocity once."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from pathlib import Path

from fillwright.errors import SoundsError
from fillwright.sound.model.bank import VELOCITY_STEP
from fillwright.sound.samples.attack import trim_to_attack
from fillwright.sound.samples.fluidsynth import NotePlayer, read_version
from fillwright.sound.samples.midi_notes import SoundFontNotes
from fillwright.sound.samples.recorded_bank import RecordedStroke
from fillwright.sound.samples.sf2 import Preset, Range, read_presets

PERCUSSION_BANK = 128
"""Bank of percussion; SoundFont 2 specification, from memory."""

_VERSION = 2  # to be counted up when the same file gets other sounds

_NEEDED = ("kick", "snare", "hi-hat")
_WIDEST_DRUM = 2  # MIDI notes that one drum's sample covers at most; ours, not measured


class SoundFontSource:
    """The drums of a SoundFont.

    A stroke is played at the velocity nearest to its own on a grid of `bank.VELOCITY_STEP`, inside its own
    velocity layer of the SoundFont. A velocity between two layers goes to the nearer one.
    """

    def __init__(self, path: Path, notes: SoundFontNotes) -> None:
        """Find the drums of a file and load them.

        Raises:
            SoundsError: for a file that is damaged, has no drums or can't be played.
            OSError: for a file that can't be read.
        """
        self.name = path.name
        preset = _find_drums(read_presets(path), notes, path.name)
        self._layers = {name: preset.list_layers(note) for name, note in notes.notes.items()}
        self.surfaces = tuple(name for name, layers in self._layers.items() if layers)
        if not self.surfaces:
            raise SoundsError(
                f'"{path.name}" has no drums: {_describe(preset)} has no sound on any MIDI note of a kit.'
            )
        self.choked_by = _find_chokes(preset, {name: notes.notes[name] for name in self.surfaces})
        self._notes = notes.notes
        self._player = NotePlayer(path, preset)
        self.digest = _hash_source(path, notes)
        self._strokes: dict[tuple[int, int], RecordedStroke] = {}

    def get_stroke(self, name: str, velocity: int, _index: int) -> RecordedStroke | None:
        """Return a stroke, or None if the SoundFont has none."""
        layers = self._layers.get(name)
        if not layers:
            return None
        key = (self._notes[name], snap_velocity(layers, velocity))
        stroke = self._strokes.get(key)
        if stroke is None:
            samples, latency = trim_to_attack(self._player.play_note(*key))
            stroke = self._strokes[key] = RecordedStroke(key=key, samples=samples, latency=latency)
        return stroke


def snap_velocity(layers: tuple[Range, ...], velocity: int) -> int:
    """Return the velocity that a velocity is played at: on the grid, inside the nearest layer.

    >>> snap_velocity(((1, 62), (63, 127)), 62), snap_velocity(((1, 62), (63, 127)), 63)
    (62, 64)
    """
    low, high = min(layers, key=lambda span: max(span[0] - velocity, velocity - span[1], 0))
    return min(max(round(velocity / VELOCITY_STEP) * VELOCITY_STEP, low), high)


def _find_drums(presets: tuple[Preset, ...], notes: SoundFontNotes, file: str) -> Preset:
    """Return the preset that is a kit.

    Raises:
        SoundsError: if none is, or if the bank and program of the user's table don't exist.
    """
    if notes.bank is not None or notes.program is not None:
        return _find_preset(presets, notes, file)
    percussion = [preset for preset in presets if preset.bank == PERCUSSION_BANK]
    if percussion:
        return percussion[0]
    first = next(iter(presets), None)
    if first is None or not _is_kit(first, notes):
        raise SoundsError(
            f'"{file}" has no drums: there is no bank {PERCUSSION_BANK}, and its first preset is not a kit; '
            "name bank and program in a table for --sound-notes."
        )
    return first


def _find_preset(presets: tuple[Preset, ...], notes: SoundFontNotes, file: str) -> Preset:
    banks = [notes.bank] if notes.bank is not None else [PERCUSSION_BANK, 0]
    for bank in banks:
        for preset in presets:
            if preset.bank == bank and notes.program in (None, preset.program):
                return preset
    known = ", ".join(_describe(preset) for preset in presets[:6])
    more = f" and {len(presets) - 6} more" if len(presets) > 6 else ""
    raise SoundsError(f'"{file}" does not have this bank and program; it has {known or "no presets"}{more}.')


def _is_kit(preset: Preset, notes: SoundFontNotes) -> bool:
    """Return True if kick, snare and hi-hat each have samples of their own, unlike the notes of a piano."""
    for name in _NEEDED:
        note = notes.notes.get(name, -1)
        widths = [
            zone.keys[1] - zone.keys[0] + 1 for zone in preset.zones if zone.keys[0] <= note <= zone.keys[1]
        ]
        if not widths or max(widths) > _WIDEST_DRUM:
            return False
    return True


def _describe(preset: Preset) -> str:
    return f'bank {preset.bank}, program {preset.program} ("{preset.name}")'


def _find_chokes(preset: Preset, notes: Mapping[str, int]) -> dict[str, frozenset[str]]:
    """Return, for each surface, the surfaces that stop it: those of its exclusive class on other MIDI notes."""
    classes = {name: preset.find_exclusive_class(note) for name, note in notes.items()}
    chokes = {
        name: frozenset(other for other in notes if classes[other] == group and notes[other] != notes[name])
        for name, group in classes.items()
        if group
    }
    return {name: stops for name, stops in chokes.items() if stops}


def _hash_source(path: Path, notes: SoundFontNotes) -> str:
    """Return a hash of the file, of the notes used and of the version of FluidSynth."""
    with path.open("rb") as file:
        digest = hashlib.file_digest(file, "sha256")
    digest.update(
        f"{_VERSION} {notes.bank} {notes.program} {sorted(notes.notes.items())} {read_version()}".encode()
    )
    return digest.hexdigest()
