"""Recorded one-shots to compare the modelled kit with: sampled kits in SoundFonts, played by FluidSynth.

No recording is kept in the project; a bench renders them again on every run. A kit that is not installed is
named, and its numbers are left out.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt

from fillwright.sound.signal import SAMPLE_RATE, Samples

_SECONDS = 2.5  # length of a rendered note; ours, not measured
_ATTACK_DB = -30.0  # level of the attack's first sample against the peak; ours, not measured
_GAIN, _MOST_GAIN = (
    0.5,
    9.9,
)  # FluidSynth's gain at the first rendering, and its highest (from memory)
_HEADROOM = 0.8  # part of full scale that the second rendering reaches; ours, not measured
_CHANNEL = 9  # channel 10, counted from 0: General MIDI's channel for drums


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class RecordedKit:
    """A sampled kit.

    Attributes:
        name: name in tables.
        package: Debian package that installs it.
        path: path of the SoundFont.
        bank: bank of the kit in it.
        notes: MIDI note of each surface that the kit has.
    """

    name: str
    package: str
    path: Path
    bank: int
    notes: dict[str, int]

    @property
    def is_installed(self) -> bool:
        """True if this machine has the SoundFont."""
        return self.path.exists()


# MIDI notes by surface: General MIDI Level 1, and the document of the acoustic kits (both from memory)
_GENERAL_MIDI = {
    "kick": 36, "snare": 38, "rim": 37, "second floor tom": 41, "floor tom": 43, "mid tom": 47, "high tom": 50,
    "foot hi-hat": 44, "hi-hat": 42, "open hi-hat": 46, "ride bow": 51, "ride bell": 53, "crash": 49,
    "second crash": 57, "splash": 55, "china": 52,
}  # fmt: skip
_ACOUSTIC = {
    "kick": 36, "snare": 38, "rim": 37, "second floor tom": 43, "floor tom": 41, "mid tom": 47, "high tom": 45,
    "foot hi-hat": 44, "hi-hat": 42, "open hi-hat": 46, "ride bow": 51, "ride bell": 53, "crash": 49,
    "second crash": 57,
}  # fmt: skip
_SOUNDFONTS = Path("/usr/share/sounds/sf2")
_ACOUSTIC_PACKAGE = "avldrums.lv2-soundfont"
KITS = (
    RecordedKit(
        name="acoustic A",
        package=_ACOUSTIC_PACKAGE,
        path=_SOUNDFONTS / "Black_Pearl_4_LV2.sf2",
        bank=0,
        notes=_ACOUSTIC,
    ),
    RecordedKit(
        name="acoustic B",
        package=_ACOUSTIC_PACKAGE,
        path=_SOUNDFONTS / "Red_Zeppelin_4_LV2.sf2",
        bank=0,
        notes=_ACOUSTIC,
    ),
    RecordedKit(
        name="standard A",
        package="fluid-soundfont-gm",
        path=_SOUNDFONTS / "FluidR3_GM.sf2",
        bank=128,
        notes=_GENERAL_MIDI,
    ),
)
"""The kits that the modelled kit is compared with."""


def load_fluidsynth() -> Any:
    """Return the module that calls FluidSynth, or None if the module or its library is not installed."""
    try:
        import fluidsynth  # noqa: PLC0415 - its import fails without the library
    except (ImportError, OSError):
        return None
    return fluidsynth


@cache
def render_shots(kit: RecordedKit, velocities: tuple[int, ...]) -> dict[tuple[str, int], Samples]:
    """Return every surface of a kit at some velocities, the attack at sample 0, shape (samples, 2).

    Each note is rendered twice, the second time so loud that it fills the 16 bits that FluidSynth gives:
    otherwise the tail of a soft hi-hat would be dither alone. A note without sound is left out.

    Raises:
        FileNotFoundError: if the SoundFont is not installed.
        RuntimeError: if FluidSynth can't load it.
    """
    if not kit.is_installed:
        raise FileNotFoundError(f"{kit.name} is not installed: apt-get install {kit.package}")
    synth = load_fluidsynth().Synth(gain=_GAIN, samplerate=float(SAMPLE_RATE))
    for setting in ("synth.reverb.active", "synth.chorus.active"):
        synth.setting(setting, 0)
    font = synth.sfload(str(kit.path))
    if font < 0:
        raise RuntimeError(f"FluidSynth can't load {kit.path}")
    shots = {}
    for surface, note in kit.notes.items():
        for velocity in velocities:
            raw = _render_note(synth, (font, kit.bank), note, velocity)
            if np.any(raw):
                gain = min(_GAIN * _HEADROOM / float(np.abs(raw).max()), _MOST_GAIN)
                synth.setting("synth.gain", gain)
                raw = _render_note(synth, (font, kit.bank), note, velocity) * (_GAIN / gain)
                synth.setting("synth.gain", _GAIN)
                shots[surface, velocity] = trim_to_attack(raw.astype(np.float32))
    synth.delete()
    return shots


def _render_note(synth: Any, preset: tuple[int, int], note: int, velocity: int) -> npt.NDArray[np.float64]:
    """Return a note of a preset (SoundFont and bank), shape (samples, 2)."""
    font, bank = preset
    synth.system_reset()
    synth.program_select(_CHANNEL, font, bank, 0)
    synth.noteon(_CHANNEL, note, velocity)
    samples: npt.NDArray[np.float64] = synth.get_samples(round(_SECONDS * SAMPLE_RATE)).reshape(-1, 2) / 32768.0
    return samples


def trim_to_attack(samples: Samples) -> Samples:
    """Return samples from the first one within 30 dB of the peak."""
    height = np.max(np.abs(samples), axis=1)
    peak = height[: np.argmax(height) + 1].max()
    return samples[int(np.argmax(height > peak * 10 ** (_ATTACK_DB / 20))) :]
