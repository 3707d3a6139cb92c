"""Recorded one-shots to measure the modelled kit against: Debian's SoundFonts, played by FluidSynth.

Nothing of theirs is kept in the project; a bench renders them anew on every run.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from pathlib import Path

import fluidsynth
import numpy as np
import numpy.typing as npt

Samples = npt.NDArray[np.float32]
RATE = 44_100
_SECONDS = 2.5
_ATTACK_DB = -30.0
_GAIN, _LOUDEST = 0.5, 9.9


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Recording:
    """A sampled kit.

    Attributes:
        name: as tables print it.
        path: of the SoundFont.
        bank: that holds the kit.
        keys: the key of each surface that it has.
    """

    name: str
    path: Path
    bank: int
    keys: dict[str, int]


_GENERAL_MIDI = {
    "kick": 36, "snare": 38, "rim": 37, "second floor tom": 41, "floor tom": 43, "mid tom": 47, "high tom": 50,
    "foot hi-hat": 44, "hi-hat": 42, "open hi-hat": 46, "ride bow": 51, "ride bell": 53, "crash": 49,
    "second crash": 57, "splash": 55, "china": 52,
}  # fmt: skip
_AVL = {
    "kick": 36, "snare": 38, "rim": 37, "second floor tom": 43, "floor tom": 41, "mid tom": 47, "high tom": 45,
    "foot hi-hat": 44, "hi-hat": 42, "open hi-hat": 46, "ride bow": 51, "ride bell": 53, "crash": 49,
    "second crash": 57,
}  # fmt: skip
_DEBIAN = Path("/usr/share/sounds/sf2")
_LV2 = Path("/usr/lib/lv2/avldrums.lv2")
RECORDINGS = (
    Recording(name="avl black", path=_LV2 / "Black_Pearl_4_LV2.sf2", bank=0, keys=_AVL),
    Recording(name="avl red", path=_LV2 / "Red_Zeppelin_4_LV2.sf2", bank=0, keys=_AVL),
    Recording(name="fluid", path=_DEBIAN / "FluidR3_GM.sf2", bank=128, keys=_GENERAL_MIDI),
)
"""The kits; their layouts after their own documents and our ears."""


@cache
def one_shots(recording: Recording, velocities: tuple[int, ...]) -> dict[tuple[str, int], Samples]:
    """Every surface of a kit at some velocities, the attack at sample 0, shape (samples, 2).

    Each is played twice, the second time so loud that it fills the 16 bits that FluidSynth gives: of a soft
    hi-hat's tail there would be only dither.
    """
    synth = fluidsynth.Synth(gain=_GAIN, samplerate=float(RATE))
    for setting in ("synth.reverb.active", "synth.chorus.active"):
        synth.setting(setting, 0)
    font = synth.sfload(str(recording.path))
    synth.program_select(9, font, recording.bank, 0)
    made = {}
    for surface, key in recording.keys.items():
        for velocity in velocities:
            raw = _played(synth, (font, recording.bank), key, velocity)
            if np.any(raw):
                gain = min(_GAIN * 0.8 / float(np.abs(raw).max()), _LOUDEST)
                synth.setting("synth.gain", gain)
                raw = _played(synth, (font, recording.bank), key, velocity) * (_GAIN / gain)
                synth.setting("synth.gain", _GAIN)
                made[surface, velocity] = from_attack(raw.astype(np.float32))
    synth.delete()
    return made


def _played(
    synth: fluidsynth.Synth, preset: tuple[int, int], key: int, velocity: int
) -> npt.NDArray[np.float64]:
    font, bank = preset
    synth.system_reset()
    synth.program_select(9, font, bank, 0)
    synth.noteon(9, key, velocity)
    made: npt.NDArray[np.float64] = synth.get_samples(round(_SECONDS * RATE)).reshape(-1, 2) / 32768.0
    return made


def from_attack(samples: Samples) -> Samples:
    """From where the first 30 ms reach 30 dB under their peak."""
    height = np.max(np.abs(samples), axis=1)
    peak = height[: np.argmax(height) + 1].max()
    return samples[int(np.argmax(height > peak * 10 ** (_ATTACK_DB / 20))) :]
