"""Features of an onset candidate: rises of power over several windows, and its strength against its neighbours.

All are ratios, so that the level of a recording does not matter. Their order is that of `classifier.toml`:
train the classifier again after a change.
"""

from __future__ import annotations

from itertools import chain

import numpy as np
import numpy.typing as npt

from fillwright.listen.onsets.spectrogram import Indices, Spectrogram, sum_change_evidence

Floats = npt.NDArray[np.float64]

# Windows in ms from the attack's start: ours, not measured; the classifier weighs them.
_PEAK_MS = (1.0, 5.0)  # where the greatest power of the attack is taken
_EARLY_MS, _LATE_MS, _TAIL_MS = (3.0, 9.0), (9.0, 20.0), (20.0, 40.0)  # after it
_BEFORE_MS, _LONG_BEFORE_MS, _JUST_BEFORE_MS = (-14.0, -3.5), (-32.0, -3.5), (-7.0, -3.5)  # before it
_WAVE_MS = (  # pairs after and before, of the signal itself
    ((0, 2), (-6, -0.5)),
    ((0, 5), (-6, -0.5)),
    ((0, 5), (-15, -1)),
    ((5, 12), (-15, -1)),
)
_NEIGHBOUR_NOVELTY_MS = (  # in which the greatest novelty of other candidates is compared
    (-12.0, -0.01),
    (-25.0, -12.0),
    (-50.0, -25.0),
    (0.01, 12.0),
    (12.0, 25.0),
    (25.0, 65.0),
)
_NEIGHBOUR_LEVEL_MS = (  # in which the greatest level of other candidates is compared
    (-12.0, -0.01),
    (-25.0, -12.0),
    (-50.0, -25.0),
    (-120.0, -50.0),
    (0.01, 12.0),
    (12.0, 65.0),
)
_LEAST_DB, _MOST_DB = -6.0, 24.0  # rises are limited to this range; ours, not measured
_CLEAR_DB = 3.0  # a band rises clearly from here; ours, not measured
_MOST_RATIO = 250.0  # of powers, in the evidence for a change; ours, not measured
_LOUDEST_PERCENT = 99.5  # percentile of the frames' levels that levels count from; ours, not measured
_RISE_PERCENTS = (90, 25)  # percentiles over the bands; ours, not measured
_LEAST_LEVEL_DB = -60.0  # of a window without a candidate, in dB; ours, not measured
_LEAST_NOVELTY = 2.0  # of a window without a candidate, in nats; ours, not measured
_BLOCK = 1 << 20  # samples worked on together, for memory


def extract_features(
    spectrogram: Spectrogram, signal: npt.NDArray[np.float32], starts: Indices, peaks: Indices
) -> Floats:
    """Return the features of onset candidates, shape (candidates, features); the first is the mean rise in dB.

    Args:
        spectrogram: of the signal.
        signal: mono.
        starts: samples at which attacks may start, ascending.
        peaks: frames of their novelty peaks.
    """
    frames = np.round(starts / spectrogram.hop).astype(np.intp)
    peak, early = spectrogram.find_greatest(_PEAK_MS, frames), spectrogram.average(_EARLY_MS, frames)
    before = spectrogram.average(_BEFORE_MS, frames)
    long_before = spectrogram.average(_LONG_BEFORE_MS, frames)
    level = 10 * np.log10(peak.sum(axis=1)) - _find_loudest_db(spectrogram)
    novelty = spectrogram.novelty[peaks]
    ms = starts / spectrogram.rate * 1000
    columns = [
        *_measure_rises(spectrogram, frames, (peak, early, before, long_before)),
        _sum_evidence(peak, before, spectrogram.weights),
        _sum_evidence(early, before, 2 * spectrogram.weights),
        _sum_evidence(early, long_before, 2 * spectrogram.weights),
        novelty,
        *_summarise_bands(_to_db(peak, before)),
        *_summarise_bands(_to_db(early, long_before))[1:],
        *_compare_waves(signal, spectrogram.rate, starts),
        level,
        *(_compare_neighbours(ms, novelty, window, _LEAST_NOVELTY) for window in _NEIGHBOUR_NOVELTY_MS),
        *(_compare_neighbours(ms, level, window, _LEAST_LEVEL_DB) for window in _NEIGHBOUR_LEVEL_MS),
    ]
    return np.stack(columns, axis=1)


def _find_loudest_db(spectrogram: Spectrogram) -> float:
    return float(np.percentile(10 * np.log10(spectrogram.powers.sum(axis=1)), _LOUDEST_PERCENT))


def _to_db(after: npt.NDArray[np.floating], before: npt.NDArray[np.floating]) -> Floats:
    return np.asarray(np.clip(10 * np.log10(after / before), _LEAST_DB, _MOST_DB), np.float64)


def _measure_rises(
    spectrogram: Spectrogram, frames: Indices, powers: tuple[npt.NDArray[np.floating], ...]
) -> list[Floats]:
    """Return mean rises over several windows; of the first three also in low, middle and high bands."""
    peak, early, before, long_before = powers
    late, tail = spectrogram.average(_LATE_MS, frames), spectrogram.average(_TAIL_MS, frames)
    with_thirds = (
        _to_db(peak, before),
        _to_db(peak, spectrogram.find_greatest(_BEFORE_MS, frames)),
        _to_db(early, before),
    )
    window_pairs = (
        (early, long_before),
        (late, before),
        (late, long_before),
        (tail, long_before),
        (early, spectrogram.average(_JUST_BEFORE_MS, frames)),
    )
    return [
        *(column for rise in with_thirds for column in (rise.mean(axis=1), *_average_thirds(rise))),
        *(_to_db(after, earlier).mean(axis=1) for after, earlier in window_pairs),
    ]


def _average_thirds(rise: Floats) -> list[Floats]:
    """Return means of the low, middle and high bands; of fewer than three bands, of all."""
    bands = rise.shape[1]
    if bands < 3:
        return [rise.mean(axis=1)] * 3
    return [part.mean(axis=1) for part in np.array_split(rise, 3, axis=1)]


def _sum_evidence(after: npt.NDArray[np.floating], before: Floats, weights: npt.NDArray[np.float32]) -> Floats:
    return sum_change_evidence(np.clip(after / before, 1.0, _MOST_RATIO), weights)


def _summarise_bands(rise: Floats) -> list[Floats]:
    """Return the share of bands that clearly rise, and a high and a low percentile of the bands' rises."""
    high, low = np.percentile(rise, _RISE_PERCENTS, axis=1)
    return [(rise > _CLEAR_DB).mean(axis=1), high, low]


def _compare_waves(signal: npt.NDArray[np.float32], rate: float, starts: Indices) -> list[Floats]:
    """Return log ratios of the signal's energy after and before the start, high frequencies emphasised."""
    windows = []
    for window_ms in chain.from_iterable(_WAVE_MS):
        first, last = (starts + int(ms * rate / 1000) for ms in window_ms)
        first = np.clip(first, 0, len(signal) - 1)
        windows.append((first, np.maximum(np.clip(last, 1, len(signal)), first + 1)))
    bounds = np.array(windows, np.intp)
    energy, total = _accumulate_energy(signal, bounds)
    least = 1e-9 * total / len(signal) + 1e-14
    powers = (energy[:, 1] - energy[:, 0]) / (bounds[:, 1] - bounds[:, 0]) + least
    return [np.log(after / before) for after, before in zip(powers[::2], powers[1::2], strict=True)]


def _accumulate_energy(signal: npt.NDArray[np.float32], bounds: Indices) -> tuple[Floats, float]:
    """Return the energy of a signal, high frequencies emphasised, up to some samples and in total."""
    energy, total = np.zeros(bounds.shape), 0.0
    for start in range(0, len(signal), _BLOCK):
        before = signal[start - 1] if start else np.float32(0)
        squares = np.square(np.diff(signal[start : start + _BLOCK], prepend=before))
        sums = np.cumsum(np.concatenate([[total], squares]))
        inside = (bounds >= start) & (bounds < start + len(sums))
        energy[inside] = sums[bounds[inside] - start]
        total = float(sums[-1])
    return energy, total


def _compare_neighbours(ms: Floats, values: Floats, window_ms: tuple[float, float], least: float) -> Floats:
    """Return by how much the greatest value of the candidates in a window exceeds each candidate's own."""
    first = np.searchsorted(ms, ms + window_ms[0], "left")
    last = np.searchsorted(ms, ms + window_ms[1], "right")
    greatest = [values[a:b].max() if b > a else least for a, b in zip(first, last, strict=True)]
    return np.maximum(greatest, least) - values
