"""One-shots of the SoundFonts' kits: rendered, brought to the ear's rate, their attacks marked."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import asdict, dataclass
from fractions import Fraction
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt
from scipy.signal import resample_poly

from fillwright.errors import SoundsError
from fillwright.sound.samples.fluidsynth import NotePlayer
from fillwright.sound.samples.sf2 import read_presets
from fillwright.sound.signal import SAMPLE_RATE
from training.ear.kits import FONT_KITS, FontKit
from training.ear.sounds import LEAD, RATE, SOUNDS

Samples = npt.NDArray[np.int16]

# All ours, not measured.
_FADE_SECONDS = 0.1  # at the end of a shot
_TOP = 32_000  # value of the peak of every shot
_AUDIBLE_SHARE, _ATTACK_SHARE, _RUSTLING_SHARE = 0.001, 0.1, 0.2  # of the peak, as `mark_attack` says
_ATTACK_SECONDS = 0.08  # of the audible part, in which that peak is
_TAIL_SHARE = 0.0005  # of the peak, below which the end is cut off
_SHORTEST_SECONDS = 0.1  # of a shot after its attack
_PITCH_SECONDS = (0.03, 0.33)  # of a tom after its attack, in which its pitch is measured
_PITCH_HZ = (50.0, 420.0)  # lowest and highest pitch of a tom
_FFT_LENGTH = 1 << 15  # points of the spectrum that a pitch is read from: 0.7 Hz apart


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Shot:
    """One stroke on one drum, alone.

    Attributes:
        samples: mono at `RATE`, its peak at `_TOP`, its attack at sample `LEAD`.
        kit: name of its kit.
        sound: name of the sound.
        drum: MIDI note or number of the drum: a kit can have two of a sound.
        velocity: MIDI velocity.
        pitch_hz: lowest strong partial of a tom; 0 for others.
    """

    samples: Samples
    kit: str
    sound: str
    drum: int
    velocity: int
    pitch_hz: float = 0.0


def render_font_shots(kits: Iterable[FontKit] = FONT_KITS) -> list[Shot]:
    """Render every sound of some kits; sounds that a kit lacks are left out.

    Raises:
        SoundsError: if FluidSynth is missing or a SoundFont can't be read.
    """
    shots: list[Shot] = []
    for kit in kits:
        preset = next(
            (p for p in read_presets(kit.path) if (p.bank, p.program) == (kit.bank, kit.program)), None
        )
        if preset is None:
            raise SoundsError(f'"{kit.path.name}" has no bank {kit.bank}, program {kit.program}.')
        player = NotePlayer(kit.path, preset)
        notes = [(sound, note) for sound, numbers in kit.notes.items() for note in numbers]
        for sound, note in [*notes, *(("not a drum", note) for note in kit.extra)]:
            if not preset.list_layers(note):
                continue
            for velocity in kit.velocities:
                shot = build_shot(
                    player.play_note(note, velocity), SAMPLE_RATE, kit.name, sound, note, velocity
                )
                shots += [shot] if shot else []
    return shots


def build_shot(
    samples: npt.NDArray[np.floating[Any]], rate: int, kit: str, sound: str, drum: int, velocity: int
) -> Shot | None:
    """Return a shot of a rendered stroke; None if it is silent.

    Args:
        samples: shape (samples,) or (samples, channels).
        rate: samples per second.
        kit: name of the kit.
        sound: name of the sound.
        drum: number of the drum.
        velocity: MIDI velocity.
    """
    mono = np.asarray(samples if samples.ndim == 1 else samples.mean(axis=1), np.float64)
    ratio = Fraction(RATE, rate)
    slow = np.asarray(resample_poly(mono, ratio.numerator, ratio.denominator))
    if not np.isfinite(slow).all() or np.abs(slow).max(initial=0.0) <= 0:
        return None
    start = mark_attack(slow, _RUSTLING_SHARE if sound == "foot hi-hat" else _ATTACK_SHARE)
    shot = np.concatenate([np.zeros(LEAD), slow])[start : start + LEAD + round(SOUNDS[sound].seconds * RATE)]
    shot[:24] *= np.linspace(0, 1, 24)
    loud = np.flatnonzero(np.abs(shot) > _TAIL_SHARE * np.abs(shot).max())
    shot = shot[: max(int(loud[-1]) + 1, LEAD + round(_SHORTEST_SECONDS * RATE))]
    fade = min(len(shot) // 4, round(_FADE_SECONDS * RATE))
    shot[-fade:] *= np.linspace(1, 0, fade)
    return Shot(
        samples=np.round(shot / np.abs(shot).max() * _TOP).astype(np.int16),
        kit=kit,
        sound=sound,
        drum=drum,
        velocity=velocity,
        pitch_hz=measure_pitch(shot) if SOUNDS[sound].is_tom else 0.0,
    )


def mark_attack(samples: npt.NDArray[np.float64], share: float = _ATTACK_SHARE) -> int:
    """Return the sample at which an attack starts: the first at a share of the peak of its first 80 ms.

    The 80 ms count from the first sample above a thousandth of the whole sound's peak. docs/ear.md says why the
    start counts and not the moment at which a stroke is perceived.
    """
    size = np.abs(samples)
    first = int(np.argmax(size > _AUDIBLE_SHARE * size.max()))
    near = size[first : first + round(_ATTACK_SECONDS * RATE)]
    return first + int(np.argmax(near >= share * near.max()))


def measure_pitch(samples: npt.NDArray[np.float64]) -> float:
    """Return the frequency of the strongest partial of a tom's ring, in Hz, its attack at sample `LEAD`."""
    first, last = (LEAD + round(seconds * RATE) for seconds in _PITCH_SECONDS)
    piece = samples[first:last]
    power = np.abs(np.fft.rfft(piece * np.hanning(len(piece)), _FFT_LENGTH)) ** 2
    hertz = np.fft.rfftfreq(_FFT_LENGTH, 1 / RATE)
    power[(hertz < _PITCH_HZ[0]) | (hertz > _PITCH_HZ[1])] = 0
    return float(hertz[int(np.argmax(power))])


def write_shots(path: Path, shots: Sequence[Shot]) -> None:
    """Write shots to an .npz file."""
    columns = [{key: value for key, value in asdict(shot).items() if key != "samples"} for shot in shots]
    np.savez(
        path,
        samples=np.concatenate([shot.samples for shot in shots]),
        lengths=np.array([len(shot.samples) for shot in shots]),
        **{key: np.array([column[key] for column in columns]) for key in columns[0]},
    )


def read_shots(path: Path) -> list[Shot]:
    """Read shots from an .npz file."""
    with np.load(path) as file:
        ends = np.cumsum(file["lengths"])
        pieces = np.split(file["samples"], ends[:-1])
        keys = ("kit", "sound", "drum", "velocity", "pitch_hz")
        rows = zip(*(file[key].tolist() for key in keys), strict=True)
        return [
            Shot(samples=piece, **dict(zip(keys, row, strict=True)))
            for piece, row in zip(pieces, rows, strict=True)
        ]
