"""Sounds out of a SoundFont 2 file: each key and velocity layer played once by FluidSynth, then ours."""

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

_MANNER = 2
"""Counted up when the same file comes to sound otherwise."""

_NEEDED = ("kick", "snare", "hi-hat")
_WIDEST_DRUM = 2


class SoundFontSource:
    """The drums of a SoundFont.

    A stroke is played at the velocity nearest to its own on a grid of `bank.LAYER`, inside its own velocity
    layer of the SoundFont; velocities between two layers go to the nearer one.
    """

    def __init__(self, path: Path, keys: SoundFontNotes) -> None:
        """Find the drums and load them.

        Raises:
            SoundsError: for a file that is damaged, has no drums or can't be played.
            OSError: for a file that can't be read.
        """
        self.name = path.name
        preset = _drums(read_presets(path), keys, path.name)
        self._layers = {name: preset.list_layers(key) for name, key in keys.notes.items()}
        self.surfaces = tuple(name for name, layers in self._layers.items() if layers)
        if not self.surfaces:
            raise SoundsError(f'"{path.name}" has no drums: {_called(preset)} is silent on every key of a kit.')
        self.choked_by = _exclusive(preset, {name: keys.notes[name] for name in self.surfaces})
        self._keys = keys.notes
        self._player = NotePlayer(path, preset)
        self.digest = _digest(path, keys)
        self._takes: dict[tuple[int, int], RecordedStroke] = {}

    def get_stroke(self, name: str, velocity: int, _index: int) -> RecordedStroke | None:
        """A stroke, or None where the SoundFont has none."""
        layers = self._layers.get(name)
        if not layers:
            return None
        key = (self._keys[name], snap_velocity(layers, velocity))
        found = self._takes.get(key)
        if found is None:
            samples, latency = trim_to_attack(self._player.play_note(*key))
            found = self._takes[key] = RecordedStroke(key=key, samples=samples, latency=latency)
        return found


def snap_velocity(layers: tuple[Range, ...], velocity: int) -> int:
    """The velocity that stands for one: on the grid, inside the nearest layer.

    >>> snap_velocity(((1, 62), (63, 127)), 62), snap_velocity(((1, 62), (63, 127)), 63)
    (62, 64)
    """
    low, high = min(layers, key=lambda span: max(span[0] - velocity, velocity - span[1], 0))
    return min(max(round(velocity / VELOCITY_STEP) * VELOCITY_STEP, low), high)


def _drums(presets: tuple[Preset, ...], keys: SoundFontNotes, file: str) -> Preset:
    """The preset that is a kit.

    Raises:
        SoundsError: where none is, or not the one that was asked for.
    """
    if keys.bank is not None or keys.program is not None:
        return _asked(presets, keys, file)
    percussion = [preset for preset in presets if preset.bank == PERCUSSION_BANK]
    if percussion:
        return percussion[0]
    first = next(iter(presets), None)
    if first is None or not _looks_like_drums(first, keys):
        raise SoundsError(
            f'"{file}" has no drums: there is no bank {PERCUSSION_BANK}, and its first preset is no kit; '
            "name bank and program in a table for --sound-notes."
        )
    return first


def _asked(presets: tuple[Preset, ...], keys: SoundFontNotes, file: str) -> Preset:
    banks = [keys.bank] if keys.bank is not None else [PERCUSSION_BANK, 0]
    for bank in banks:
        for preset in presets:
            if preset.bank == bank and keys.program in (None, preset.program):
                return preset
    there = ", ".join(_called(preset) for preset in presets[:6])
    more = f" and {len(presets) - 6} more" if len(presets) > 6 else ""
    raise SoundsError(f'"{file}" has no such bank and program; it has {there or "none"}{more}.')


def _looks_like_drums(preset: Preset, keys: SoundFontNotes) -> bool:
    """Whether kick, snare and hi-hat have keys of their own, as no piano's keys have."""
    for name in _NEEDED:
        key = keys.notes.get(name, -1)
        widths = [
            zone.keys[1] - zone.keys[0] + 1 for zone in preset.zones if zone.keys[0] <= key <= zone.keys[1]
        ]
        if not widths or max(widths) > _WIDEST_DRUM:
            return False
    return True


def _called(preset: Preset) -> str:
    return f'bank {preset.bank}, program {preset.program} ("{preset.name}")'


def _exclusive(preset: Preset, keys: Mapping[str, int]) -> dict[str, frozenset[str]]:
    """Which surfaces stop which: others of the same exclusive class on keys of their own."""
    classes = {name: preset.exclusive(key) for name, key in keys.items()}
    made = {
        name: frozenset(other for other in keys if classes[other] == group and keys[other] != keys[name])
        for name, group in classes.items()
        if group
    }
    return {name: others for name, others in made.items() if others}


def _digest(path: Path, keys: SoundFontNotes) -> str:
    """A hash of the file, of what is taken from it, and of who plays it."""
    with path.open("rb") as file:
        made = hashlib.file_digest(file, "sha256")
    made.update(f"{_MANNER} {keys.bank} {keys.program} {sorted(keys.notes.items())} {read_version()}".encode())
    return made.hexdigest()
