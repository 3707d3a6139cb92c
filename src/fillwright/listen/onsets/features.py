"""What speaks for a stroke at a moment: rises of power over several spans, and what stands beside it.

Everything is a ratio, so that the level of a recording does not matter.
"""

from __future__ import annotations

from itertools import chain

import numpy as np
import numpy.typing as npt

from fillwright.listen.onsets.spectrogram import Indices, Spectrogram, sum_change_evidence

Floats = npt.NDArray[np.float64]

_PEAK_MS = (1.0, 5.0)
_EARLY_MS, _LATE_MS, _TAIL_MS = (3.0, 9.0), (9.0, 20.0), (20.0, 40.0)
_BEFORE_MS, _LONG_BEFORE_MS, _JUST_BEFORE_MS = (-14.0, -3.5), (-32.0, -3.5), (-7.0, -3.5)
_LEAST_DB, _MOST_DB = -6.0, 24.0
_CLEAR_DB = 3.0
_MOST_RATIO = 250.0
_LOUDEST_PERCENT = 99.5
_SURPRISES_AT_MS = ((-12.0, -0.01), (-25.0, -12.0), (-50.0, -25.0), (0.01, 12.0), (12.0, 25.0), (25.0, 65.0))
_LEVELS_AT_MS = (
    (-12.0, -0.01),
    (-25.0, -12.0),
    (-50.0, -25.0),
    (-120.0, -50.0),
    (0.01, 12.0),
    (12.0, 65.0),
)
_QUIETEST_DB = -60.0
_FAINTEST = 2.0
_BLOCK = 1 << 20
_WAVE_MS = (((0, 2), (-6, -0.5)), ((0, 5), (-6, -0.5)), ((0, 5), (-15, -1)), ((5, 12), (-15, -1)))


def extract_features(made: Spectrogram, signal: npt.NDArray[np.float32], starts: Indices, tops: Indices) -> Floats:
    """What speaks for a stroke at some moments, shape (moments, features); the first is the mean rise in dB.

    Args:
        made: of the signal.
        signal: mono.
        starts: samples where attacks may start, ascending.
        tops: the frames of the peaks of surprise that led to them.
    """
    at = np.round(starts / made.hop).astype(np.intp)
    peak, early = made.most(_PEAK_MS, at), made.mean(_EARLY_MS, at)
    before, long_before = made.mean(_BEFORE_MS, at), made.mean(_LONG_BEFORE_MS, at)
    level = 10 * np.log10(peak.sum(axis=1)) - _loudest_db(made)
    surprise = made.surprise[tops]
    ms = starts / made.rate * 1000
    columns = [
        *_rises(made, at, (peak, early, before, long_before)),
        _likelihood(peak, before, made.weights),
        _likelihood(early, before, 2 * made.weights),
        _likelihood(early, long_before, 2 * made.weights),
        surprise,
        *_spread(_db(peak, before)),
        *_spread(_db(early, long_before))[1:],
        *_waves(signal, made.rate, starts),
        level,
        *(_beside(ms, surprise, span, _FAINTEST) for span in _SURPRISES_AT_MS),
        *(_beside(ms, level, span, _QUIETEST_DB) for span in _LEVELS_AT_MS),
    ]
    return np.stack(columns, axis=1)


def _loudest_db(made: Spectrogram) -> float:
    return float(np.percentile(10 * np.log10(made.powers.sum(axis=1)), _LOUDEST_PERCENT))


def _db(after: npt.NDArray[np.floating], before: npt.NDArray[np.floating]) -> Floats:
    return np.asarray(np.clip(10 * np.log10(after / before), _LEAST_DB, _MOST_DB), np.float64)


def _rises(made: Spectrogram, at: Indices, spans: tuple[npt.NDArray[np.floating], ...]) -> list[Floats]:
    """Mean rises over several spans; of the first three also in low, middle and high bands."""
    peak, early, before, long_before = spans
    late, tail = made.mean(_LATE_MS, at), made.mean(_TAIL_MS, at)
    with_thirds = (_db(peak, before), _db(peak, made.most(_BEFORE_MS, at)), _db(early, before))
    others = (
        (early, long_before),
        (late, before),
        (late, long_before),
        (tail, long_before),
        (early, made.mean(_JUST_BEFORE_MS, at)),
    )
    return [
        *(column for rise in with_thirds for column in (rise.mean(axis=1), *_thirds(rise))),
        *(_db(after, earlier).mean(axis=1) for after, earlier in others),
    ]


def _thirds(rise: Floats) -> list[Floats]:
    """Means of the low, middle and high bands; of fewer than three bands, of all."""
    bands = rise.shape[1]
    if bands < 3:
        return [rise.mean(axis=1)] * 3
    return [part.mean(axis=1) for part in np.array_split(rise, 3, axis=1)]


def _likelihood(after: npt.NDArray[np.floating], before: Floats, weights: npt.NDArray[np.float32]) -> Floats:
    return sum_change_evidence(np.clip(after / before, 1.0, _MOST_RATIO), weights)


def _spread(rise: Floats) -> list[Floats]:
    """Part of the bands that clearly rise, and what nearly all and nearly none exceed."""
    high, low = np.percentile(rise, (90, 25), axis=1)
    return [(rise > _CLEAR_DB).mean(axis=1), high, low]


def _waves(signal: npt.NDArray[np.float32], rate: float, starts: Indices) -> list[Floats]:
    """Ratios of the energy of the wave itself, high tones lifted, behind and ahead of the start."""
    spans = []
    for span_ms in chain.from_iterable(_WAVE_MS):
        first, last = (starts + int(one * rate / 1000) for one in span_ms)
        first = np.clip(first, 0, len(signal) - 1)
        spans.append((first, np.maximum(np.clip(last, 1, len(signal)), first + 1)))
    at = np.array(spans, np.intp)
    energy, whole = _energy(signal, at)
    least = 1e-9 * whole / len(signal) + 1e-14
    powers = (energy[:, 1] - energy[:, 0]) / (at[:, 1] - at[:, 0]) + least
    return [np.log(after / before) for after, before in zip(powers[::2], powers[1::2], strict=True)]


def _energy(signal: npt.NDArray[np.float32], at: Indices) -> tuple[Floats, float]:
    """Energy of a signal, high tones lifted, up to some samples, and of all; in blocks, as takes are long."""
    made, total = np.zeros(at.shape), 0.0
    for start in range(0, len(signal), _BLOCK):
        before = signal[start - 1] if start else np.float32(0)
        part = np.square(np.diff(signal[start : start + _BLOCK], prepend=before))
        sums = np.cumsum(np.concatenate([[total], part]))
        inside = (at >= start) & (at < start + len(sums))
        made[inside] = sums[at[inside] - start]
        total = float(sums[-1])
    return made, total


def _beside(ms: Floats, values: Floats, span_ms: tuple[float, float], least: float) -> Floats:
    """By how much the greatest value of the moments in a span exceeds each moment's own."""
    first = np.searchsorted(ms, ms + span_ms[0], "left")
    last = np.searchsorted(ms, ms + span_ms[1], "right")
    greatest = [values[a:b].max() if b > a else least for a, b in zip(first, last, strict=True)]
    return np.maximum(greatest, least) - values
