"""The kits: which the ear is trained on, which thresholds are chosen with, which are kept for the last figure.

SoundFonts have neutral names; `INSTALL` is the command that installs them on Debian. Kits of one file can share
sounds, and two files can hold the same sound: `python -m training.ear compare` prints the sounds that kits of
different splits share. It found:

- "power A" shares rim and cymbals with "standard A"; kick, snare and toms are its own.
- "acoustic B" shares foot hi-hat, open hi-hat and one small crash with "acoustic A".
- "power C" shares all but kick and snare with "standard C", which is in the same split.

Other programs of these files are the same kits under other names, so they are left out.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

from fillwright.music.surfaces import load_surfaces

INSTALL = "apt-get install fluid-soundfont-gm avldrums.lv2-soundfont opl3-soundfont csound-soundfont"
"""Command that installs the SoundFonts of all kits."""

MODELLED_KITS = {"train": range(1000, 1120), "choose": range(1120, 1135), "final": range(1135, 1150)}
"""Seeds of the modelled kits of each split: 150 kits, in the proportions 8, 1 and 1; ours, not measured."""

_FOLDER = Path("/usr/share/sounds/sf2")
_STANDARD, _ACOUSTIC_A = _FOLDER / "FluidR3_GM.sf2", _FOLDER / "Black_Pearl_4_LV2.sf2"
_ACOUSTIC_B, _SYNTHETIC = _FOLDER / "Red_Zeppelin_4_LV2.sf2", _FOLDER / "OPL-3_FM_128M.sf2"
_BANK_C = _FOLDER / "sf_GMbank.sf2"


@dataclass(frozen=True, slots=True, kw_only=True)
class FontKit:
    """One kit of a SoundFont.

    Attributes:
        name: of the kit.
        split: "train", "choose" or "final".
        path: of the SoundFont.
        bank: of the SoundFont.
        program: of the SoundFont.
        weight: how often takes are played on it, against the other SoundFonts; ours, not measured.
        velocities: MIDI velocities that are rendered; ours, not measured.
        notes: MIDI notes by sound; by default those of General MIDI.
        extra: MIDI notes of sounds that are not drums.
    """

    name: str
    split: str
    path: Path
    bank: int = 128
    program: int = 0
    weight: float = 1.0
    velocities: tuple[int, ...] = (40, 75, 112)
    notes: Mapping[str, tuple[int, ...]] = field(default_factory=dict)
    extra: tuple[int, ...] = ()


def _list_general_midi() -> dict[str, tuple[int, ...]]:
    """Return the MIDI notes of General MIDI by sound, with the drums that it has twice."""
    notes = {name: (surface.key,) for name, surface in load_surfaces().items()}
    crashes = (*notes.pop("second crash"), *notes.pop("splash"), *notes.pop("china"))
    return notes | {
        "second crash": crashes,
        "kick": (*notes["kick"], 35),
        "snare": (*notes["snare"], 40),
        "mid tom": (*notes["mid tom"], 48),
        "floor tom": (*notes["floor tom"], 45),
        "ride bow": (*notes["ride bow"], 59),
    }


_GENERAL_MIDI = _list_general_midi()
# The two acoustic kits: the lists of notes that come with them, from memory; checked by pitch and length.
_FOUR_PIECE: dict[str, tuple[int, ...]] = {
    "kick": (36,),
    "rim": (37,),
    "snare": (38, 40),
    "floor tom": (41, 43),
    "high tom": (45, 47),
    "hi-hat": (42,),
    "foot hi-hat": (44,),
    "open hi-hat": (46,),
    "crash": (49,),
    "second crash": (57, 55),
    "ride bow": (51,),
    "ride bell": (53,),
}
# Tambourine, hand clap, vibraslap, cabasa, maracas, whistles, guiro, triangle, claves are General MIDI's.
_NOT_DRUMS = (54, 39, 58, 69, 70, 71, 73, 81)
_FIVE_LAYERS = (20, 40, 65, 90, 115)  # velocities, one for each layer of the acoustic kits

FONT_KITS = (
    FontKit(name="standard A", split="train", path=_STANDARD, notes=_GENERAL_MIDI, extra=_NOT_DRUMS),
    FontKit(name="brushes A", split="train", path=_STANDARD, program=40, notes=_GENERAL_MIDI, weight=0.4),
    FontKit(name="electronic A", split="train", path=_STANDARD, program=24, notes=_GENERAL_MIDI, weight=0.6),
    FontKit(name="electronic B", split="train", path=_STANDARD, program=25, notes=_GENERAL_MIDI, weight=0.4),
    FontKit(
        name="synthetic", split="train", path=_SYNTHETIC, notes=_GENERAL_MIDI, weight=0.4, extra=_NOT_DRUMS
    ),
    FontKit(
        name="acoustic A",
        split="train",
        path=_ACOUSTIC_A,
        bank=0,
        notes=_FOUR_PIECE,
        weight=3.0,
        velocities=_FIVE_LAYERS,
        extra=(54,),
    ),
    FontKit(name="power A", split="choose", path=_STANDARD, program=16, notes=_GENERAL_MIDI),
    FontKit(
        name="acoustic B",
        split="final",
        path=_ACOUSTIC_B,
        bank=0,
        notes=_FOUR_PIECE,
        velocities=_FIVE_LAYERS,
    ),
    FontKit(name="standard C", split="final", path=_BANK_C, notes=_GENERAL_MIDI, extra=_NOT_DRUMS),
    FontKit(name="power C", split="final", path=_BANK_C, program=16, notes=_GENERAL_MIDI),
)
"""Every kit of a SoundFont."""
