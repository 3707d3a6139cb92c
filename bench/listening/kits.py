"""Drum kits for takes with known truth: one-shots rendered once, their attack starts measured.

FluidSynth only fills the bank: it never places a note. The start of a sound's attack is measured: the first
sample that reaches a tenth (−20 dB) of the peak of the first 80 ms of its audible part; a fifth for the foot
hi-hat, whose cymbals rustle before they close. The modelled kit has its attacks at sample 0 by definition.

The table `KITS` has three splits, as `training/ear/kits.py` has: kits that the ear is trained on, kits that
thresholds are chosen with, and kits to report on, never looked at before. Kits of SoundFonts have neutral
names; `INSTALL` is the command that installs them on Debian. Random modelled kits have their seed as a number.
"""

from __future__ import annotations

import os
import sys
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt
from platformdirs import user_cache_dir

from fillwright.music.surfaces import load_surfaces
from fillwright.sound.model.bank import SoundBank, default_bank
from fillwright.sound.model.instrument import make_one_shot
from training.ear.modelled_kits import build_recipes

Samples = npt.NDArray[np.float32]

RATE = 44_100
"""Samples per second of every take; the usual rate of audio files."""

LEAD = 441
"""Samples of every shot before its attack, for a hi-hat's rustle or a kick's slow rise; ours, not measured."""

INSTALL = "apt-get install fluid-soundfont-gm avldrums.lv2-soundfont csound-soundfont"
"""Command that installs the SoundFonts of all kits."""

_SOUNDFONTS = Path("/usr/share/sounds/sf2")
_STANDARD_A, _STANDARD_C = _SOUNDFONTS / "FluidR3_GM.sf2", _SOUNDFONTS / "sf_GMbank.sf2"
_ACOUSTIC_A, _ACOUSTIC_B = _SOUNDFONTS / "Black_Pearl_4_LV2.sf2", _SOUNDFONTS / "Red_Zeppelin_4_LV2.sf2"
_VELOCITIES = (24, 44, 64, 84, 104, 124)  # MIDI velocities that are rendered; ours, not measured
_SEED_VELOCITIES = (40, 84, 120)  # of a random modelled kit, which takes longer; ours, not measured
_LONG_SECONDS, _SHORT_SECONDS = 3.0, 1.5  # lengths of rendered shots; ours, not measured
_LONG = frozenset({"ride bow", "ride bell", "crash", "second crash", "splash", "china", "open hi-hat"})
_CHANNEL = 9  # MIDI channel of drums, from 0 (General MIDI)
_SHORTEST_TAIL = 4_410  # samples of a shot after its attack, at least; ours, not measured
_FADE_IN, _FADE_OUT = 44, 882  # samples; ours, not measured
_TAIL_SHARE, _AUDIBLE_SHARE = 0.0005, 0.001  # of a shot's peak: where it ends, where it becomes audible; ours
_ATTACK_SHARE, _RUSTLING_SHARE = 0.1, 0.2  # of the peak at which an attack starts; the foot hi-hat's; ours
_ATTACK_SECONDS = 0.08  # of the audible part, in which that peak is; ours, not measured


@dataclass(frozen=True, slots=True, kw_only=True)
class BenchKit:
    """A kit to play takes on.

    Attributes:
        name: of the kit.
        split: "trained" (the ear heard it in training), "tune", "report" or "odd" (drums that hardly sound like
            drums, reported separately).
        file: its SoundFont; None for a modelled kit.
        bank: of the SoundFont.
        program: of the SoundFont.
        acoustic: True for the MIDI notes of the two acoustic kits instead of General MIDI's.
        seed: of a random modelled kit; None for the project's own.
    """

    name: str
    split: str
    file: Path | None = None
    bank: int = 128
    program: int = 0
    acoustic: bool = False
    seed: int | None = None

    @property
    def is_installed(self) -> bool:
        """True if this machine has its SoundFont."""
        return self.file is None or self.file.exists()


# Banks and programs are those of the SoundFonts.
KITS = (
    BenchKit(name="standard A", split="trained", file=_STANDARD_A),
    BenchKit(name="acoustic A", split="trained", file=_ACOUSTIC_A, bank=0, acoustic=True),
    BenchKit(name="modelled", split="trained"),
    BenchKit(name="power A", split="tune", file=_STANDARD_A, program=16),
    BenchKit(name="modelled 1120", split="tune", seed=1120),
    BenchKit(name="modelled 1121", split="tune", seed=1121),
    BenchKit(name="modelled 1122", split="tune", seed=1122),
    BenchKit(name="acoustic B", split="report", file=_ACOUSTIC_B, bank=0, acoustic=True),
    BenchKit(name="standard C", split="report", file=_STANDARD_C),
    BenchKit(name="power C", split="report", file=_STANDARD_C, program=16),
    BenchKit(name="modelled 1135", split="report", seed=1135),
    BenchKit(name="modelled 1136", split="report", seed=1136),
    BenchKit(name="modelled 1137", split="report", seed=1137),
    BenchKit(name="electronic C", split="odd", file=_STANDARD_C, program=24),
    BenchKit(name="electronic D", split="odd", file=_STANDARD_C, program=25),
    BenchKit(name="brushes C", split="odd", file=_STANDARD_C, program=40),
)
"""Every kit and its split. Nothing is chosen or trained on a kit that is reported.

training/ear/kits.py says which kits share sounds. The ear was trained on changed copies of the project's own
modelled kit, so that one is not reported.
"""

# MIDI notes of the acoustic kits, and factors on the pitch: they have one rack tom and one floor tom.
_ACOUSTIC_NOTES: dict[str, tuple[int, float]] = {
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


def list_kits(split: str) -> tuple[BenchKit, ...]:
    """Return the kits of a split that are installed."""
    return tuple(kit for kit in KITS if kit.split == split and kit.is_installed)


def report_missing_kits(*splits: str) -> list[str]:
    """Print and return the names of the kits of some splits that are not installed."""
    missing = [kit.name for kit in KITS if kit.split in splits and not kit.is_installed]
    if missing:
        print(f"Not installed, left out: {', '.join(missing)}. To install: {INSTALL}", file=sys.stderr)
    return missing


@cache
def load_bank(kit: BenchKit) -> SoundBank:
    """Load a kit's sounds; every shot has its attack at sample `LEAD`."""
    return RenderedBank(kit) if kit.file or kit.seed is not None else _DelayedBank()


class _DelayedBank:
    """The modelled kit with silence before every attack."""

    def get_shot(self, name: str, velocity: int, index: int) -> Samples:
        shot = default_bank().get_shot(name, velocity, index)
        return np.concatenate([np.zeros((LEAD, 2), np.float32), shot])


class RenderedBank:
    """One-shots of a kit, varied a little from stroke to stroke as no two strokes are alike."""

    def __init__(self, kit: BenchKit) -> None:
        self._shots = _load_shots(kit)
        self._velocities = sorted({int(name.rpartition("/")[2]) for name in self._shots})

    def get_shot(self, name: str, velocity: int, index: int) -> Samples:
        """Return the sound of one stroke, shape (samples, 2), its attack at sample `LEAD`."""
        layer = min(self._velocities, key=lambda rendered: abs(rendered - velocity))
        shot = self._shots[f"{name}/{layer}"].astype(np.float32)
        tilt = 0.12 * np.sin(2.4 * index + layer)
        shot[1:] += np.float32(tilt) * np.diff(shot)
        shot *= np.float32((velocity / layer) ** 2 * 10 ** (0.6 * np.sin(1.7 * index) / 20))
        return np.repeat(shot[:, None], 2, axis=1)


def _load_shots(kit: BenchKit) -> dict[str, Samples]:
    """Return every shot of a kit by "surface/velocity", from the cache if it was rendered before."""
    cached = Path(user_cache_dir("fillwright")) / "bench-kits" / f"{kit.name.replace(' ', '-').lower()}.npz"
    if not cached.exists():
        cached.parent.mkdir(parents=True, exist_ok=True)
        partial = cached.with_suffix(f".{os.getpid()}.npz")  # of this process alone
        np.savez_compressed(partial, **_render_shots(kit))
        partial.replace(cached)
    with np.load(cached) as file:
        return {name: file[name].astype(np.float32) for name in file.files}


def _render_shots(kit: BenchKit) -> dict[str, npt.NDArray[np.float16]]:
    """Return every shot of a kit by "surface/velocity"."""
    return _render_font(kit) if kit.seed is None else _render_modelled(kit.seed)


def _render_modelled(seed: int) -> dict[str, npt.NDArray[np.float16]]:
    recipes = build_recipes(seed)
    return {
        f"{name}/{velocity}": np.concatenate(
            [np.zeros(LEAD), make_one_shot(recipes, f"{name} {seed}", velocity, 0).mean(axis=1)]
        ).astype(np.float16)
        for name in load_surfaces()
        for velocity in _SEED_VELOCITIES
    }


def _render_font(kit: BenchKit) -> dict[str, npt.NDArray[np.float16]]:
    import fluidsynth  # noqa: PLC0415 - only a cold cache needs it

    synth = fluidsynth.Synth(gain=0.5, samplerate=float(RATE))
    synth.setting("synth.reverb.active", 0)
    synth.setting("synth.chorus.active", 0)
    synth.program_select(_CHANNEL, synth.sfload(str(kit.file)), kit.bank, kit.program)
    shots = {}
    for name, (note, pitch) in _list_notes(kit).items():
        share = _RUSTLING_SHARE if name == "foot hi-hat" else _ATTACK_SHARE
        for velocity in _VELOCITIES:
            shot = _play_note(synth, note, velocity, _LONG_SECONDS if name in _LONG else _SHORT_SECONDS)
            shots[f"{name}/{velocity}"] = _trim(_shift_pitch(shot, pitch), share).astype(np.float16)
    synth.delete()
    return shots


def _list_notes(kit: BenchKit) -> dict[str, tuple[int, float]]:
    if kit.acoustic:
        return _ACOUSTIC_NOTES
    return {surface.name: (surface.key, 1.0) for surface in load_surfaces().values()}


def _play_note(synth: Any, note: int, velocity: int, seconds: float) -> npt.NDArray[np.float64]:
    """Return the sound of one note in mono, after silence."""
    synth.all_sounds_off(_CHANNEL)
    synth.get_samples(RATE // 10)
    synth.noteon(_CHANNEL, note, velocity)
    samples = synth.get_samples(round(seconds * RATE)).reshape(-1, 2)
    return np.asarray(samples.mean(axis=1) / 32768)


def _shift_pitch(shot: npt.NDArray[np.float64], pitch: float) -> npt.NDArray[np.float64]:
    if pitch == 1.0:
        return shot
    return np.interp(np.arange(0, len(shot) - 1, pitch), np.arange(len(shot)), shot)


def _trim(shot: npt.NDArray[np.float64], share: float) -> npt.NDArray[np.float64]:
    """Return a shot with its attack at sample `LEAD`, faded in before it and out at its end."""
    start = find_attack_start(shot, share)
    delayed = np.concatenate([np.zeros(LEAD), shot])[start:]
    delayed[:_FADE_IN] *= np.linspace(0, 1, _FADE_IN)
    size = np.abs(delayed)
    end = len(delayed) - int(np.argmax(size[::-1] > _TAIL_SHARE * size.max()))
    trimmed = delayed[: max(end, LEAD + _SHORTEST_TAIL)].copy()
    fade = min(_FADE_OUT, len(trimmed) // 4)
    trimmed[-fade:] *= np.linspace(1, 0, fade)
    return trimmed


def find_attack_start(shot: npt.NDArray[np.float64], share: float = _ATTACK_SHARE) -> int:
    """Return where a sound's attack starts: the first sample at a share of the peak of its first 80 ms.

    The 80 ms count from the first sample above a thousandth of the whole sound's peak.
    """
    size = np.abs(shot)
    first = int(np.argmax(size > _AUDIBLE_SHARE * size.max()))
    near = size[first : first + round(_ATTACK_SECONDS * RATE)]
    return first + int(np.argmax(near >= share * near.max()))
