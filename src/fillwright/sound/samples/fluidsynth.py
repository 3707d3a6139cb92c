"""FluidSynth as a player of single notes; we place the notes in time ourselves."""

from __future__ import annotations

import io
import weakref
from contextlib import redirect_stdout
from ctypes import c_int, c_void_p
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np

from fillwright.errors import SoundsError
from fillwright.sound.samples.sf2 import Preset
from fillwright.sound.signal import SAMPLE_RATE, Samples

MOST_SECONDS = 5.0
"""Longest note, in seconds, because looped cymbals would never end; ours, not measured."""

_CHANNEL = 9  # channel 10, counted from 0: General MIDI's channel for drums
_BLOCK = 64  # samples that FluidSynth renders at a time; its manual, from memory
_CHUNK = _BLOCK * 160  # samples that we request at a time: 0.23 s
_SILENCE = 10.0 ** (-80 / 20)  # part of a note's peak, -80 dB, below which it is over; ours, not measured
_MOST_BLOCKS = 200  # blocks to wait for silence: 0.29 s; ours, not measured
_PRIMING = 4  # blocks that a note sounds before it is recorded; ours, not measured
_LOG_LEVELS = 5  # from panic to debug; FluidSynth's manual, from memory
# FluidSynth without effects and threads, so that the same note gives the same samples
_SETTINGS: dict[str, int] = {
    "synth.reverb.active": 0,
    "synth.chorus.active": 0,
    "synth.cpu-cores": 1,
}


class NotePlayer:
    """One kit of a SoundFont, a note at a time, each from silence."""

    def __init__(self, path: Path, preset: Preset) -> None:
        """Load the kit.

        Compressed samples are loaded for this kit alone. Other samples are loaded all at once: loaded one by
        one, FluidSynth plays them 46 samples too long, in some files into the attack of the next sample.

        Raises:
            SoundsError: if FluidSynth is missing or can't load the file.
        """
        fluid = _load_library()
        self._fluid = fluid
        settings = {**_SETTINGS, "synth.dynamic-sample-loading": int(preset.compressed)}
        self._synth = fluid.Synth(gain=1.0, samplerate=float(SAMPLE_RATE), channels=16, **settings)
        weakref.finalize(self, self._synth.delete)
        try:
            font = self._synth.sfload(str(path))
        except UnicodeEncodeError as error:
            name = ascii(path.name)[1:-1]
            raise SoundsError(
                f'FluidSynth can\'t open a file of this name: "{name}"; rename it in plain letters.'
            ) from error
        if font < 0 or self._synth.program_select(_CHANNEL, font, preset.bank, preset.program) != 0:
            raise SoundsError(
                f'"{path.name}" can\'t be played by FluidSynth; copy the file again or use another one.'
            )

    def play_note(self, key: int, velocity: int) -> Samples:
        """Return a note from its start until it has faded or `MOST_SECONDS` are over, shape (samples, 2).

        There is no note-off: drums ring as long as they ring.
        """
        self._prime(key, velocity)
        self._synth.noteon(_CHANNEL, key, velocity)
        parts: list[Samples] = []
        highest = 0.0
        while len(parts) * _CHUNK < MOST_SECONDS * SAMPLE_RATE:
            parts.append(self._render(_CHUNK))
            height = float(np.abs(parts[-1]).max())
            highest = max(highest, height)
            if not self._synth.get_active_voice_count() or (len(parts) > 1 and height < highest * _SILENCE):
                break
        self._silence_voices()
        return np.concatenate(parts)

    def _prime(self, key: int, velocity: int) -> None:
        """Sound the note for a moment: a voice that sounds for the first time fades in over a block."""
        self._synth.noteon(_CHANNEL, key, velocity)
        self._render(_BLOCK * _PRIMING)
        self._silence_voices()

    def _silence_voices(self) -> None:
        """Stop all voices and wait until they are silent: a stopped voice still sounds in the next block."""
        self._synth.all_sounds_off(_CHANNEL)
        for _ in range(_MOST_BLOCKS):
            self._render(_BLOCK)
            if not self._synth.get_active_voice_count():
                break

    def _render(self, count: int) -> Samples:
        """Return the next samples as FluidSynth calculates them, not rounded to 16 bits."""
        samples = np.zeros((count, 2), np.float32)
        address = samples.ctypes.data
        _bind_writer(self._fluid)(self._synth.synth, count, address, 0, 2, address, 1, 2)
        return samples


def read_version() -> str:
    """Return FluidSynth's version; other versions may sound different.

    Raises:
        SoundsError: if FluidSynth is missing.
    """
    numbers = [c_int(), c_int(), c_int()]
    _load_library().fluid_version(*numbers)
    return ".".join(str(number.value) for number in numbers)


@cache
def _load_library() -> Any:
    """Return the module that calls FluidSynth, its log messages off.

    Raises:
        SoundsError: if the module or the library is missing; the text says which.
    """
    try:
        with redirect_stdout(io.StringIO()):  # it prints the path of the library
            import fluidsynth  # noqa: PLC0415 - optional
        _silence_log(fluidsynth)
    except ModuleNotFoundError as error:
        raise SoundsError(
            "SoundFonts need pyfluidsynth, which is not installed; "
            'install Fillwright with its extra "soundfonts", or leave out --sounds.'
        ) from error
    except (ImportError, OSError, AttributeError) as error:
        raise SoundsError(
            "SoundFonts need FluidSynth, which is not installed; install FluidSynth, or leave out --sounds."
        ) from error
    return fluidsynth


def _silence_log(fluid: Any) -> None:
    """Turn off FluidSynth's messages on the terminal."""
    set_log_function = fluid.cfunc(
        "fluid_set_log_function", c_void_p, ("level", c_int, 1), ("fun", c_void_p, 1), ("data", c_void_p, 1)
    )
    for level in range(_LOG_LEVELS):
        set_log_function(level, None, None)


@cache
def _bind_writer(fluid: Any) -> Any:
    """Return the function that renders samples as floats, which the module doesn't bind."""
    return fluid.cfunc(
        "fluid_synth_write_float",
        c_int,
        ("synth", c_void_p, 1),
        ("len", c_int, 1),
        ("left", c_void_p, 1),
        ("left_offset", c_int, 1),
        ("left_step", c_int, 1),
        ("right", c_void_p, 1),
        ("right_offset", c_int, 1),
        ("right_step", c_int, 1),
    )
