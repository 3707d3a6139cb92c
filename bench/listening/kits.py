"""Drum kits for takes with known truth: one-shots rendered once, their attack starts measured.

FluidSynth only fills the bank: it never places a note. Where a sound's attack starts is measured: the first
sample that reaches a tenth (−20 dB) of the peak of the first 80 ms of its audible part; a fifth for the foot
hi-hat, whose plates rustle before they shut. The modelled kit has its attacks at sample 0 by definition.

The split into kits to tune on and kits to report on stands in one table, `KITS`.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt
from platformdirs import user_cache_dir

from fillwright.music.surfaces import load_surfaces
from fillwright.sound.model.bank import SoundBank, default_bank

Samples = npt.NDArray[np.float32]

RATE = 44_100
LEAD = 441
"""Samples of every shot before its attack: a hi-hat's rustle, a kick's slow rise."""

_GM = "/usr/share/sounds/sf2"
_AVL = "/usr/lib/lv2/avldrums.lv2"
_VELOCITIES = (24, 44, 64, 84, 104, 124)
_LONG = frozenset({"ride bow", "ride bell", "crash", "second crash", "splash", "china", "open hi-hat"})


@dataclass(frozen=True, slots=True, kw_only=True)
class Kit:
    """A kit to play takes on.

    Attributes:
        name: of the kit.
        split: "tune", "report" or "odd": kits on which drums hardly sound like drums, reported apart.
        file: its SoundFont; "" for the modelled kit.
        bank: of the SoundFont.
        program: of the SoundFont.
        acoustic: whether its keys are those of the two acoustic kits and not General MIDI's.
    """

    name: str
    split: str
    file: str = ""
    bank: int = 128
    program: int = 0
    acoustic: bool = False

    @property
    def there(self) -> bool:
        """Whether this machine has it."""
        return not self.file or Path(self.file).exists()


KITS = (
    Kit(name="Fluid standard", split="tune", file=f"{_GM}/FluidR3_GM.sf2"),
    Kit(name="Black Pearl", split="tune", file=f"{_AVL}/Black_Pearl_4_LV2.sf2", bank=0, acoustic=True),
    Kit(name="Red Zeppelin", split="report", file=f"{_AVL}/Red_Zeppelin_4_LV2.sf2", bank=0, acoustic=True),
    Kit(name="TimGM", split="report", file=f"{_GM}/TimGM6mb.sf2"),
    Kit(name="modelled", split="report"),
    Kit(name="Fluid room", split="report", file=f"{_GM}/FluidR3_GM.sf2", program=8),
    Kit(name="Fluid power", split="report", file=f"{_GM}/FluidR3_GM.sf2", program=16),
    Kit(name="Fluid jazz", split="report", file=f"{_GM}/FluidR3_GM.sf2", program=32),
    Kit(name="Fluid electronic", split="odd", file=f"{_GM}/FluidR3_GM.sf2", program=24),
    Kit(name="Fluid 808", split="odd", file=f"{_GM}/FluidR3_GM.sf2", program=25),
    Kit(name="Fluid brush", split="odd", file=f"{_GM}/FluidR3_GM.sf2", program=40),
    Kit(name="Fluid orchestra", split="odd", file=f"{_GM}/FluidR3_GM.sf2", program=48),
)
"""Every kit, and what it may be used for. Nothing is tuned on a kit that is reported."""

# the acoustic kits have one rack tom and one floor tom; the others are these at another pitch
_ACOUSTIC: dict[str, tuple[int, float]] = {
    "kick": (36, 1.0),
    "rim": (37, 1.0),
    "snare": (38, 1.0),
    "floor tom": (41, 1.0),
    "second floor tom": (41, 0.84),
    "mid tom": (45, 1.0),
    "high tom": (45, 1.26),
    "hi-hat": (42, 1.0),
    "foot hi-hat": (44, 1.0),
    "open hi-hat": (46, 1.0),
    "crash": (49, 1.0),
    "second crash": (57, 1.0),
    "ride bow": (51, 1.0),
    "ride bell": (53, 1.0),
    "splash": (55, 1.0),
    "china": (59, 1.0),
}


def kits(split: str) -> tuple[Kit, ...]:
    """The kits of a split that this machine has."""
    return tuple(kit for kit in KITS if kit.split == split and kit.there)


@cache
def bank_of(kit: Kit) -> SoundBank:
    """A kit's sounds; every shot has its attack at sample `LEAD`."""
    return RecordedBank(kit) if kit.file else _LedBank()


class _LedBank:
    """The modelled kit with silence before every attack."""

    def get_shot(self, name: str, velocity: int, index: int) -> Samples:
        made = default_bank().get_shot(name, velocity, index)
        return np.concatenate([np.zeros((LEAD, 2), np.float32), made])


class RecordedBank:
    """One-shots of a SoundFont, varied a little from stroke to stroke as no two strokes are alike."""

    def __init__(self, kit: Kit) -> None:
        self._shots = _rendered(kit)

    def get_shot(self, name: str, velocity: int, index: int) -> Samples:
        """The sound of one stroke, shape (samples, 2), its attack at sample `LEAD`."""
        layer = min(_VELOCITIES, key=lambda one: abs(one - velocity))
        made = self._shots[f"{name}/{layer}"].astype(np.float32)
        tilt = 0.12 * np.sin(2.4 * index + layer)
        made[1:] += np.float32(tilt) * np.diff(made)
        made *= np.float32((velocity / layer) ** 2 * 10 ** (0.6 * np.sin(1.7 * index) / 20))
        return np.repeat(made[:, None], 2, axis=1)


def _rendered(kit: Kit) -> dict[str, Samples]:
    """Every shot of a kit by "surface/velocity", from the cache where it has been rendered before."""
    kept = Path(user_cache_dir("fillwright")) / "bench-kits" / f"{kit.name.replace(' ', '-').lower()}.npz"
    if not kept.exists():
        kept.parent.mkdir(parents=True, exist_ok=True)
        partial = kept.with_suffix(".part.npz")
        np.savez_compressed(partial, **_render(kit))
        partial.replace(kept)
    with np.load(kept) as file:
        return {name: file[name].astype(np.float32) for name in file.files}


def _render(kit: Kit) -> dict[str, npt.NDArray[np.float16]]:
    import fluidsynth  # noqa: PLC0415 - only a cold cache needs it

    synth = fluidsynth.Synth(gain=0.5, samplerate=float(RATE))
    synth.setting("synth.reverb.active", 0)
    synth.setting("synth.chorus.active", 0)
    synth.program_select(9, synth.sfload(kit.file), kit.bank, kit.program)
    made = {}
    for name, (key, pitch) in _keys(kit).items():
        share = 0.2 if name == "foot hi-hat" else 0.1
        for velocity in _VELOCITIES:
            shot = _sounded(synth, key, velocity, 3.0 if name in _LONG else 1.5)
            made[f"{name}/{velocity}"] = _trimmed(_pitched(shot, pitch), share).astype(np.float16)
    synth.delete()
    return made


def _keys(kit: Kit) -> dict[str, tuple[int, float]]:
    if kit.acoustic:
        return _ACOUSTIC
    return {surface.name: (surface.key, 1.0) for surface in load_surfaces().values()}


def _sounded(synth: Any, key: int, velocity: int, seconds: float) -> npt.NDArray[np.float64]:
    """One key struck once, in mono, after silence."""
    synth.all_sounds_off(9)
    synth.get_samples(RATE // 10)
    synth.noteon(9, key, velocity)
    made = synth.get_samples(round(seconds * RATE)).reshape(-1, 2)
    return np.asarray(made.mean(axis=1) / 32768)


def _pitched(shot: npt.NDArray[np.float64], pitch: float) -> npt.NDArray[np.float64]:
    if pitch == 1.0:
        return shot
    return np.interp(np.arange(0, len(shot) - 1, pitch), np.arange(len(shot)), shot)


def _trimmed(shot: npt.NDArray[np.float64], share: float) -> npt.NDArray[np.float64]:
    """A shot whose attack lies at sample `LEAD`, faded in before it and out at its end."""
    start = attack_start(shot, share)
    led = np.concatenate([np.zeros(LEAD), shot])[start:]
    led[:44] *= np.linspace(0, 1, 44)
    size = np.abs(led)
    end = len(led) - int(np.argmax(size[::-1] > 0.0005 * size.max()))
    made = led[: max(end, LEAD + 4410)].copy()
    fade = min(882, len(made) // 4)
    made[-fade:] *= np.linspace(1, 0, fade)
    return made


def attack_start(shot: npt.NDArray[np.float64], share: float = 0.1) -> int:
    """Where a sound's attack starts: the first sample at a share of the peak of its first 80 ms.

    The 80 ms count from the first sample above a thousandth of the whole sound's peak.
    """
    size = np.abs(shot)
    first = int(np.argmax(size > 0.001 * size.max()))
    near = size[first : first + round(0.08 * RATE)]
    return first + int(np.argmax(near >= share * near.max()))
