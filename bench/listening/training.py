"""Finds the weights of `listen/judge.toml` on the kits to tune on: `python -m bench.listening.training`.

Every take is heard under six conditions, and once more with its tempo, pitch and colour changed, so that two
kits stand for many; then come drills, in which anything is struck while anything rings. Nothing of the kits
that are reported is used.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import numpy as np
import numpy.typing as npt
from scipy.optimize import minimize

from bench.listening.scoring import blurred, grouped
from bench.listening.takes import Take, drill, takes
from fillwright.listen.onsets import classifier as judge
from fillwright.listen.onsets.detect import find_onset_candidates
from fillwright.listen.onsets.features import extract_features
from fillwright.listen.onsets.prepare import prepare_recording
from fillwright.listen.onsets.spectrogram import compute_spectrogram

Floats = npt.NDArray[np.float64]

_CONDITIONS = ("dry", "room 40 dB", "room 30 dB", "room 20 dB", "phone", "clipped")
_TAKES = 24
_DRILLS = 12
_SUMS = 8
_PENALTY = 3e-4
_NEAR_SECONDS = 0.010
_SAME_SECONDS = 0.006


def main() -> None:
    """Hear the takes, find the weights, write the table."""
    evidences, struck, counts = (np.concatenate(parts) for parts in zip(*_heard(), strict=True))
    print(f"{len(struck):,} moments, {struck.sum():,.0f} of them strokes")
    path = Path(judge.__file__).with_name("judge.toml")
    path.write_text(_table(_fitted(evidences, struck, counts)), "utf-8")


def _heard() -> Iterator[tuple[Floats, Floats, Floats]]:
    for condition in _CONDITIONS:
        for number, take in enumerate(takes("tune", condition, _TAKES)):
            yield moments_of(take)
            yield moments_of(changed(take, np.random.default_rng(number)))
        for number in range(_DRILLS):
            yield moments_of(drill("tune", condition, number))
        print(f"heard: {condition}", file=sys.stderr)


def moments_of(take: Take) -> tuple[Floats, Floats, Floats]:
    """Evidence of every moment of a take, whether it is a stroke, and whether it counts (1 or 0)."""
    ready = prepare_recording(take.samples, take.rate)
    made = compute_spectrogram(ready.signal, ready.rate)
    starts, tops = find_onset_candidates(made, ready.signal)
    seconds = ready.seconds_at(starts)
    struck, counts = np.zeros(len(starts)), np.ones(len(starts))
    for group in grouped(take.truth):
        first, last = np.searchsorted(seconds, (group[0] - _NEAR_SECONDS, group[0] + _NEAR_SECONDS))
        if first == last:
            continue
        away = np.abs(seconds[first:last, None] - np.array(group)).min(axis=1)
        nearest = first + int(np.argmin(away))
        beside = np.abs(seconds[first:last] - seconds[nearest]) < _SAME_SECONDS
        counts[first:last][beside] = 0
        struck[nearest], counts[nearest] = 1, 1
    for first_second, last_second in blurred(take.truth):
        inside = (seconds >= first_second) & (seconds <= last_second) & (struck == 0)
        counts[inside] = 0
    return extract_features(made, ready.signal, starts, tops), struck, counts


def changed(take: Take, chance: np.random.Generator) -> Take:
    """A take at another speed and with other colours: as good as another kit."""
    speed = float(chance.choice([0.85, 0.92, 1.1, 1.2]))
    length = -(-len(take.samples) // 16_384) * 16_384
    hertz = np.maximum(np.fft.rfftfreq(length, 1 / take.rate), 50)
    ripple = chance.uniform(-6, 6) * np.sin(np.log(hertz) * chance.uniform(1, 3) + chance.uniform(0, 6))
    shape = (hertz / 1000) ** chance.uniform(-0.5, 0.5) * 10 ** (ripple / 20)
    samples = np.fft.irfft(np.fft.rfft(take.samples, length) * shape, length)[: len(take.samples)]
    played = tuple(replace(one, seconds=one.seconds / speed, grid_seconds=None) for one in take.truth.played)
    return replace(
        take,
        samples=(samples / np.abs(samples).max()).astype(np.float32),
        rate=take.rate * speed,
        truth=replace(take.truth, played=played),
    )


def _fitted(evidences: Floats, struck: Floats, counts: Floats) -> judge.OnsetClassifier:
    """The weights of least cross-entropy, large ones punished."""
    middle, spread = evidences.mean(axis=0), evidences.std(axis=0) + 1e-6
    inputs = (evidences - middle) / spread
    features = inputs.shape[1]
    ends = np.cumsum([features * _SUMS, _SUMS, _SUMS])
    total = counts.sum()

    def parted(weights: Floats) -> tuple[Floats, Floats, Floats, Floats]:
        inner, inner_offset, outer, outer_offset = np.split(weights, ends)
        return inner.reshape(features, _SUMS), inner_offset, outer, outer_offset

    def cost(weights: Floats) -> tuple[float, Floats]:
        inner, inner_offset, outer, outer_offset = parted(weights)
        bent = np.tanh(inputs @ inner + inner_offset)
        sums = bent @ outer + outer_offset
        entropy = (counts * (np.logaddexp(0, sums) - struck * sums)).sum() / total
        error = counts * (1 / (1 + np.exp(-sums)) - struck) / total
        back = np.outer(error, outer) * (1 - bent**2)
        slope = [
            (inputs.T @ back + 2 * _PENALTY * inner).ravel(),
            back.sum(axis=0),
            bent.T @ error + 2 * _PENALTY * outer,
            [error.sum()],
        ]
        punished = _PENALTY * ((inner**2).sum() + (outer**2).sum())
        return float(entropy + punished), np.concatenate(slope)

    start = np.random.default_rng(0).normal(0, 0.3, ends[-1] + 1)
    found = minimize(cost, start, jac=True, method="L-BFGS-B", options={"maxiter": 500})
    inner, inner_offset, outer, outer_offset = parted(found.x)
    return judge.OnsetClassifier(
        middle=middle,
        spread=spread,
        inner=inner,
        inner_offset=inner_offset,
        outer=outer,
        outer_offset=float(outer_offset[0]),
    )


def _table(found: judge.OnsetClassifier) -> str:
    """The weights as TOML; `inner` has a line for each feature."""

    def row(values: Floats) -> str:
        return f"[{', '.join(f'{value:.5g}' for value in values)}]"

    inner = "\n".join(f"    {row(line)}," for line in found.inner)
    return (
        "# Weights of listen/judge.py, written by bench/listening/training.py; nobody set them by hand.\n"
        f"outer_offset = {found.outer_offset:.5f}\n"
        f"outer = {row(found.outer)}\n"
        f"inner_offset = {row(found.inner_offset)}\n"
        f"middle = {row(found.middle)}\n"
        f"spread = {row(found.spread)}\n"
        f"inner = [\n{inner}\n]\n"
    )


if __name__ == "__main__":
    main()
