"""FluidSynth as a player of single notes; it never places one in time."""

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
"""The longest that a note rings; cymbals that are looped would never end."""

_CHANNEL = 9
_BLOCK = 64
_CHUNK = _BLOCK * 160
_SILENCE = 10.0 ** (-80 / 20)
_MOST_BLOCKS = 200
_PRIMING = 4
_LEVELS_OF_CHATTER = 5
_SETTINGS: dict[str, int] = {
    "synth.reverb.active": 0,
    "synth.chorus.active": 0,
    "synth.cpu-cores": 1,
}


class NotePlayer:
    """One kit of a SoundFont, a note at a time, each from silence."""

    def __init__(self, path: Path, preset: Preset) -> None:
        """Load it.

        Compressed samples are loaded for one kit alone. Others must not be: FluidSynth then plays them 46
        samples too far, and where a file leaves fewer between them, into the attack of the next.

        Raises:
            SoundsError: where FluidSynth is missing or can't load the file.
        """
        fluid = _library()
        self._fluid = fluid
        settings = {**_SETTINGS, "synth.dynamic-sample-loading": int(preset.compressed)}
        self._synth = fluid.Synth(gain=1.0, samplerate=float(SAMPLE_RATE), channels=16, **settings)
        weakref.finalize(self, self._synth.delete)
        try:
            font = self._synth.sfload(str(path))
        except UnicodeEncodeError as error:
            name = ascii(path.name)[1:-1]
            raise SoundsError(f'"{name}" can\'t be handed on; give the file a plainer name.') from error
        if font < 0 or self._synth.program_select(_CHANNEL, font, preset.bank, preset.program) != 0:
            raise SoundsError(f'"{path.name}" can\'t be played by FluidSynth; copy it anew or give another.')

    def play_note(self, key: int, velocity: int) -> Samples:
        """A note from its start until it has died away or `MOST_SECONDS` are over, shape (samples, 2).

        The key is never let go: drums ring as long as they ring.
        """
        self._prime(key, velocity)
        self._synth.noteon(_CHANNEL, key, velocity)
        parts: list[Samples] = []
        highest = 0.0
        while len(parts) * _CHUNK < MOST_SECONDS * SAMPLE_RATE:
            parts.append(self._samples(_CHUNK))
            height = float(np.abs(parts[-1]).max())
            highest = max(highest, height)
            if not self._synth.get_active_voice_count() or (len(parts) > 1 and height < highest * _SILENCE):
                break
        self._hush()
        return np.concatenate(parts)

    def _prime(self, key: int, velocity: int) -> None:
        """Sound the note for a moment: a voice that is used for the first time fades in over a block."""
        self._synth.noteon(_CHANNEL, key, velocity)
        self._samples(_BLOCK * _PRIMING)
        self._hush()

    def _hush(self) -> None:
        """Silence before the next note: a voice that was stopped is still heard in the block after."""
        self._synth.all_sounds_off(_CHANNEL)
        for _ in range(_MOST_BLOCKS):
            self._samples(_BLOCK)
            if not self._synth.get_active_voice_count():
                break

    def _samples(self, count: int) -> Samples:
        """The next samples as FluidSynth has them, before they are rounded to 16 bits."""
        made = np.zeros((count, 2), np.float32)
        place = made.ctypes.data
        _writer(self._fluid)(self._synth.synth, count, place, 0, 2, place, 1, 2)
        return made


def read_version() -> str:
    """FluidSynth's own version; other versions may sound different.

    Raises:
        SoundsError: where FluidSynth is missing.
    """
    numbers = [c_int(), c_int(), c_int()]
    _library().fluid_version(*numbers)
    return ".".join(str(number.value) for number in numbers)


@cache
def _library() -> Any:
    """The module that speaks to FluidSynth, its messages silenced.

    Raises:
        SoundsError: saying which half of it is missing.
    """
    try:
        with redirect_stdout(io.StringIO()):  # it tells where the library was found
            import fluidsynth  # noqa: PLC0415 - optional
        _silence(fluidsynth)
    except ModuleNotFoundError as error:
        raise SoundsError(
            "SoundFonts need pyfluidsynth, which is not installed; "
            'install Fillwright with its extra "soundfonts", or leave out --sounds.'
        ) from error
    except (ImportError, OSError, AttributeError) as error:
        raise SoundsError(
            "SoundFonts need FluidSynth, and its library is not on this machine; "
            "install FluidSynth, or leave out --sounds."
        ) from error
    return fluidsynth


def _silence(fluid: Any) -> None:
    """Nothing is to be told on the terminal but what we say ourselves."""
    tell = fluid.cfunc(
        "fluid_set_log_function", c_void_p, ("level", c_int, 1), ("told", c_void_p, 1), ("data", c_void_p, 1)
    )
    for level in range(_LEVELS_OF_CHATTER):
        tell(level, None, None)


@cache
def _writer(fluid: Any) -> Any:
    """The function that gives samples as floats, which the module leaves out."""
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
