"""Distance of the modelled kit to recorded ones, surface by surface.

The distance of two sounds is the mean difference of their log-mel spectra over the first second, level-matched
over the first 200 ms, their attacks aligned. We print the distance from the modelled sound to the nearest
recorded one, over the median distance between the recorded ones: at 1 the model is as near to a recording as
two recordings are to each other. A second measure with other windows and bands goes 20 dB deeper into the
decay, to check what was tuned with the first one. Kits that are not installed are named, and numbers that need
them are left out.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from itertools import combinations

import numpy as np

from bench.recorded import KITS, RecordedKit, load_fluidsynth, render_shots, trim_to_attack
from fillwright.sound.model.bank import SoundBank, default_bank
from fillwright.sound.signal import SAMPLE_RATE, Floats, Samples

Recorded = Mapping[tuple[str, int], tuple[Samples, ...]]
"""Recorded sounds by surface and velocity, one of each kit that has it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Measure:
    """Settings of a distance between sounds.

    Attributes:
        windows: size and step of each window, in samples.
        mels: number of bands.
        floor_db: level below the loudest that counts as silent.
    """

    windows: tuple[tuple[int, int], ...]
    mels: int
    floor_db: float


USUAL = Measure(windows=((2048, 512), (512, 128)), mels=48, floor_db=60.0)  # ours, not measured
DEEP = Measure(windows=((1024, 256),), mels=64, floor_db=80.0)  # ours, not measured
VELOCITIES = (45, 80, 112)  # MIDI velocities that are compared: ghost, tap, accent; ours
_LOWEST_HZ, _HIGHEST_HZ = 40.0, 16_000.0  # range of the mel bands; ours, not measured
_SECOND = SAMPLE_RATE  # samples that are compared
_LEVELLED = round(0.2 * SAMPLE_RATE)  # samples over which levels are matched
_BLOCK = 441  # samples of a block of the decay: 10 ms
_SILENT = 1e-20  # power that keeps a logarithm of silence finite


def main() -> dict[str, float]:
    """Print and return the ratio of each surface, then brightness and decay by velocity."""
    kits = choose_kits()
    if not kits:
        return {}
    recorded = collect_sounds(kits)
    ratios = {}
    print("likeness: modelled to the nearest recorded sound, over the median between recorded ones (aim: 1.0)")
    print(f"  recorded kits: {', '.join(kit.name for kit in kits)}")
    print("                     usual, deep measure")
    surfaces = [name for name in dict.fromkeys(name for name, _ in recorded) if _is_complete(name, recorded)]
    for surface in surfaces:
        usual = compute_ratio(surface, default_bank(), recorded)
        deep = compute_ratio(surface, default_bank(), recorded, DEEP)
        if usual is None or deep is None:
            print(f"  {surface:18} left out: two recorded kits with it or with a crash are needed")
            continue
        ratios[surface] = usual
        print(f"  {surface:18} {usual:5.2f} {deep:5.2f}")
    print("brightness (spectral centroid, Hz) and decay (s to -20 dB) at velocities", *VELOCITIES)
    for surface in surfaces:
        modelled = [measure_timbre(default_bank().get_shot(surface, velocity, 0)) for velocity in VELOCITIES]
        timbres = [[measure_timbre(shot) for shot in recorded[surface, velocity]] for velocity in VELOCITIES]
        means = [tuple(np.mean(timbre, axis=0)) for timbre in timbres]
        print(f"  {surface:18} modelled {_format_timbres(modelled)}   recorded {_format_timbres(means)}")
    return ratios


def choose_kits() -> tuple[RecordedKit, ...]:
    """Return the installed kits; print what is missing and how to install it."""
    if load_fluidsynth() is None:
        print("likeness: left out; it needs FluidSynth (apt-get install libfluidsynth3) and pyfluidsynth")
        return ()
    for kit in KITS:
        if not kit.is_installed:
            print(f"likeness: {kit.name} is missing, its numbers are left out (apt-get install {kit.package})")
    return tuple(kit for kit in KITS if kit.is_installed)


def collect_sounds(kits: tuple[RecordedKit, ...]) -> Recorded:
    """Return the recorded sounds of each surface and velocity, of every kit that has it."""
    sounds: dict[tuple[str, int], tuple[Samples, ...]] = {}
    for kit in kits:
        for key, samples in render_shots(kit, VELOCITIES).items():
            sounds[key] = (*sounds.get(key, ()), samples)
    return sounds


def _is_complete(surface: str, recorded: Recorded) -> bool:
    """Return True if a surface has recorded sounds at every velocity."""
    return all((surface, velocity) in recorded for velocity in VELOCITIES)


def _format_timbres(timbres: list[tuple[float, float]]) -> str:
    return "  ".join(f"{hz:5.0f} Hz {seconds:4.2f} s" for hz, seconds in timbres)


def compute_ratio(surface: str, bank: SoundBank, recorded: Recorded, measure: Measure = USUAL) -> float | None:
    """Return the distance to the nearest recorded sound over the median between recorded ones.

    It is a mean over the velocities. Where only one recorded kit has the surface (splash, china), the median of
    the crashes replaces it. Without two recorded crashes either there is no ratio: None.
    """
    ratios = []
    for velocity in VELOCITIES:
        others = [compute_spectra(shot, measure) for shot in recorded[surface, velocity]]
        crashes = [compute_spectra(shot, measure) for shot in recorded.get(("crash", velocity), ())]
        between = [distance(a, b) for a, b in combinations(others if len(others) > 1 else crashes, 2)]
        if not between:
            return None
        modelled = [compute_spectra(bank.get_shot(surface, velocity, index), measure) for index in range(3)]
        nearest = min(distance(a, b) for a in modelled for b in others)
        ratios.append(nearest / float(np.median(between)))
    return float(np.mean(ratios))


def distance(spectra: tuple[Floats, ...], others: tuple[Floats, ...]) -> float:
    """Return the mean difference of log-mel spectra, in dB, over all window sizes."""
    return float(np.mean([np.mean(np.abs(a - b)) for a, b in zip(spectra, others, strict=True)]))


def compute_spectra(samples: Samples, measure: Measure = USUAL) -> tuple[Floats, ...]:
    """Return log-mel spectra, in dB, each of shape (frames, bands), with a floor below the loudest."""
    mono = trim_to_attack(samples).mean(axis=1).astype(np.float64)
    mono = np.concatenate([mono, np.zeros(max(0, _SECOND - len(mono)))])[:_SECOND]
    mono = mono / np.sqrt(np.mean(mono[:_LEVELLED] ** 2) + _SILENT)
    return tuple(_log_mel(mono, size, hop, measure) for size, hop in measure.windows)


def _log_mel(mono: Floats, size: int, hop: int, measure: Measure) -> Floats:
    padded = np.concatenate([np.zeros(size // 2), mono, np.zeros(size)])
    frames = np.lib.stride_tricks.sliding_window_view(padded, size)[:_SECOND:hop] * np.hanning(size)
    power = np.abs(np.fft.rfft(frames)) ** 2 / size
    decibel = 10 * np.log10(power @ _mel_bands(size, measure.mels).T + 1e-12)
    return np.maximum(decibel, decibel.max() - measure.floor_db)


@cache
def _mel_bands(size: int, mels: int) -> Floats:
    """Return triangles on the mel scale (2595 log10(1 + f / 700); from memory), shape (bands, bins)."""
    mel = 2595 * np.log10(1 + np.array([_LOWEST_HZ, _HIGHEST_HZ]) / 700)
    edges = 700 * (10 ** (np.linspace(*mel, mels + 2) / 2595) - 1)
    hz = np.fft.rfftfreq(size, 1 / SAMPLE_RATE)
    up = (hz - edges[:-2, None]) / (edges[1:-1] - edges[:-2])[:, None]
    down = (edges[2:, None] - hz) / (edges[2:] - edges[1:-1])[:, None]
    bands = np.maximum(0, np.minimum(up, down))
    nearest = np.argmin(np.abs(hz - edges[1:-1, None]), axis=1)
    bands[np.arange(mels), nearest] = np.maximum(bands[np.arange(mels), nearest], 1e-3)
    return bands / bands.sum(axis=1, keepdims=True)


def measure_timbre(samples: Samples) -> tuple[float, float]:
    """Return the spectral centroid of the first 100 ms, in Hz, and the time to 20 dB below the peak, in s."""
    mono = trim_to_attack(samples).mean(axis=1).astype(np.float64)
    tenth = SAMPLE_RATE // 10
    power = np.abs(np.fft.rfft(mono[:tenth], tenth)) ** 2
    hz = np.fft.rfftfreq(tenth, 1 / SAMPLE_RATE)
    blocks = mono[: len(mono) // _BLOCK * _BLOCK].reshape(-1, _BLOCK)
    level = 10 * np.log10(np.mean(blocks**2, axis=1) + _SILENT)
    above = np.flatnonzero(level > level.max() - 20)
    return float(np.sum(hz * power) / np.sum(power)), float((above[-1] + 1) * 0.01)


if __name__ == "__main__":
    main()
