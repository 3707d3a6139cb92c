"""Sounds that kits of different splits share: a kit is unseen only as far as its sounds are."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from training.ear.kits import FONT_KITS
from training.ear.shots import Samples, Shot

_COMPARED = 12_000  # samples that are compared: half a second; ours, not measured
_ALIKE = 0.9  # correlation from which two sounds are the same recording; ours, not measured


def list_shared_sounds(shots: Sequence[Shot]) -> list[tuple[str, str, str, float]]:
    """List the sounds that are in two splits: two kits, the sound and the correlation.

    Args:
        shots: of all kits; the hardest stroke on each drum is compared.
    """
    splits = {kit.name: kit.split for kit in FONT_KITS}
    hardest = {
        (shot.kit, shot.sound, shot.drum): shot for shot in sorted(shots, key=lambda shot: shot.velocity)
    }
    drums = [shot for shot in hardest.values() if shot.kit in splits]
    return [
        (first.kit, second.kit, first.sound, correlation)
        for number, first in enumerate(drums)
        for second in drums[number + 1 :]
        if first.sound == second.sound and splits[first.kit] != splits[second.kit]
        if (correlation := correlate_shots(first.samples, second.samples)) > _ALIKE
    ]


def correlate_shots(first: Samples, second: Samples) -> float:
    """Return the greatest correlation of two sounds over all delays, 0 to 1."""
    length = min(len(first), len(second), _COMPARED)
    left, right = (sound[:length].astype(np.float64) for sound in (first, second))
    spectrum = np.fft.rfft(left, 2 * length) * np.conj(np.fft.rfft(right, 2 * length))
    return float(np.abs(np.fft.irfft(spectrum)).max() / np.sqrt((left @ left) * (right @ right)))
