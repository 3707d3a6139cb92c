"""How near the modelled kit comes to recorded ones, surface by surface.

The distance of two sounds is the mean difference of their log-mel spectra over the first second, level-matched
over the first 200 ms, their attacks aligned. Printed is the distance from the modelled sound to the nearest
recorded one, over the median distance between the recorded ones: at 1 the model is as near to a recording as
two recordings are to each other. A second ear, with other windows and bands, listens 20 dB deeper into the
decay: what was tuned by one ear should please both.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from itertools import combinations

import numpy as np
import numpy.typing as npt

from bench.recorded import RATE, RECORDINGS, Samples, from_attack, one_shots
from fillwright.sound.model.bank import SoundBank, default_bank

Floats = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Ear:
    """How sounds are compared.

    Attributes:
        windows: size and step of each, in samples.
        mels: bands.
        floor_db: what lies further below the loudest is not heard.
    """

    windows: tuple[tuple[int, int], ...]
    mels: int
    floor_db: float


USUAL = Ear(windows=((2048, 512), (512, 128)), mels=48, floor_db=60.0)
DEEP = Ear(windows=((1024, 256),), mels=64, floor_db=80.0)
VELOCITIES = (45, 80, 112)
_LOWEST_HZ, _HIGHEST_HZ = 40.0, 16_000.0
_SECOND = RATE
_LEVELLED = round(0.2 * RATE)


def main() -> dict[str, float]:
    """Print and return the ratio of each surface, then how brightness and decay move with velocity."""
    recorded = recorded_sounds()
    ratios = {}
    print("likeness: modelled to the nearest recorded sound, over the median between recorded ones (aim: 1.0)")
    print("                     usual ear, deep ear")
    for surface in dict.fromkeys(name for name, _ in recorded):
        ratios[surface] = ratio(surface, default_bank(), recorded)
        deep = ratio(surface, default_bank(), recorded, DEEP)
        print(f"  {surface:18} {ratios[surface]:5.2f} {deep:5.2f}")
    print("brightness (spectral centroid, Hz) and decay (s to -20 dB) at velocities", *VELOCITIES)
    for surface in ratios:
        modelled = [_moves(default_bank().get_shot(surface, velocity, 0)) for velocity in VELOCITIES]
        others = [[_moves(s) for s in recorded[surface, velocity]] for velocity in VELOCITIES]
        means = [tuple(np.mean(each, axis=0)) for each in others]
        print(f"  {surface:18} modelled {_told(modelled)}   recorded {_told(means)}")
    return ratios


def _told(moves: list[tuple[float, float]]) -> str:
    return "  ".join(f"{hz:5.0f} Hz {seconds:4.2f} s" for hz, seconds in moves)


@cache
def recorded_sounds() -> dict[tuple[str, int], tuple[Samples, ...]]:
    """Recorded sounds of each surface and velocity, of every kit that has it."""
    made: dict[tuple[str, int], tuple[Samples, ...]] = {}
    for recording in RECORDINGS:
        for key, samples in one_shots(recording, VELOCITIES).items():
            made[key] = (*made.get(key, ()), samples)
    return made


def ratio(
    surface: str, bank: SoundBank, recorded: dict[tuple[str, int], tuple[Samples, ...]], ear: Ear = USUAL
) -> float:
    """Distance to the nearest recorded sound over the median between recorded ones, mean over velocities.

    Where only one recorded kit has the surface (splash, china), the crashes' median stands in for it.
    """
    made = []
    for velocity in VELOCITIES:
        others = [spectra(each, ear) for each in recorded[surface, velocity]]
        many = others if len(others) > 1 else [spectra(each, ear) for each in recorded["crash", velocity]]
        between = np.median([distance(a, b) for a, b in combinations(many, 2)])
        own = [spectra(bank.get_shot(surface, velocity, index), ear) for index in range(3)]
        made.append(min(distance(a, b) for a in own for b in others) / float(between))
    return float(np.mean(made))


def distance(one: tuple[Floats, ...], other: tuple[Floats, ...]) -> float:
    """Mean difference of log-mel spectra in dB, over all window sizes."""
    return float(np.mean([np.mean(np.abs(a - b)) for a, b in zip(one, other, strict=True)]))


def spectra(samples: Samples, ear: Ear = USUAL) -> tuple[Floats, ...]:
    """Log-mel spectra in dB, each of shape (frames, bands), with a floor under the loudest."""
    mono = from_attack(samples).mean(axis=1).astype(np.float64)
    mono = np.concatenate([mono, np.zeros(max(0, _SECOND - len(mono)))])[:_SECOND]
    mono = mono / np.sqrt(np.mean(mono[:_LEVELLED] ** 2) + 1e-20)
    return tuple(_log_mel(mono, size, hop, ear) for size, hop in ear.windows)


def _log_mel(mono: Floats, size: int, hop: int, ear: Ear) -> Floats:
    padded = np.concatenate([np.zeros(size // 2), mono, np.zeros(size)])
    frames = np.lib.stride_tricks.sliding_window_view(padded, size)[:_SECOND:hop] * np.hanning(size)
    power = np.abs(np.fft.rfft(frames)) ** 2 / size
    decibel = 10 * np.log10(power @ _bands(size, ear.mels).T + 1e-12)
    return np.maximum(decibel, decibel.max() - ear.floor_db)


@cache
def _bands(size: int, mels: int) -> Floats:
    """Triangles on the mel scale (2595 log10(1 + f / 700); from memory), shape (bands, bins)."""
    mel = 2595 * np.log10(1 + np.array([_LOWEST_HZ, _HIGHEST_HZ]) / 700)
    edges = 700 * (10 ** (np.linspace(*mel, mels + 2) / 2595) - 1)
    hz = np.fft.rfftfreq(size, 1 / RATE)
    up = (hz - edges[:-2, None]) / (edges[1:-1] - edges[:-2])[:, None]
    down = (edges[2:, None] - hz) / (edges[2:] - edges[1:-1])[:, None]
    made = np.maximum(0, np.minimum(up, down))
    nearest = np.argmin(np.abs(hz - edges[1:-1, None]), axis=1)
    made[np.arange(mels), nearest] = np.maximum(made[np.arange(mels), nearest], 1e-3)
    return made / made.sum(axis=1, keepdims=True)


def _moves(samples: Samples) -> tuple[float, float]:
    """Spectral centroid of the first 100 ms in Hz, and the time until 20 dB under the loudest 10 ms, in s."""
    mono = from_attack(samples).mean(axis=1).astype(np.float64)
    power = np.abs(np.fft.rfft(mono[: RATE // 10], RATE // 10)) ** 2
    hz = np.fft.rfftfreq(RATE // 10, 1 / RATE)
    blocks = mono[: len(mono) // 441 * 441].reshape(-1, 441)
    level = 10 * np.log10(np.mean(blocks**2, axis=1) + 1e-20)
    above = np.flatnonzero(level > level.max() - 20)
    return float(np.sum(hz * power) / np.sum(power)), float((above[-1] + 1) * 0.01)


if __name__ == "__main__":
    main()
