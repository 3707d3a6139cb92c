"""Train the onset classifier on the kits to train on: `python -m bench.listening.training`.

It writes `listen/onsets/classifier.toml`. Every take is recorded under six conditions, and once more with its
tempo, pitch and timbre changed, so that two kits stand for many; then come drills, in which anything is struck
while anything rings. Nothing of the kits that are reported is used. Both kits must be installed.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import numpy as np
import numpy.typing as npt
from scipy.optimize import minimize

from bench.listening.kits import report_missing_kits
from bench.listening.onset_groups import group_attacks, list_buzz_spans
from bench.listening.takes import KnownTake, generate_drill, generate_takes
from fillwright.listen.onsets import classifier
from fillwright.listen.onsets.classifier import OnsetClassifier
from fillwright.listen.onsets.detect import find_onset_candidates
from fillwright.listen.onsets.features import extract_features
from fillwright.listen.onsets.prepare import prepare_recording
from fillwright.listen.onsets.spectrogram import compute_spectrogram

Floats = npt.NDArray[np.float64]

# All ours, not measured.
_CONDITIONS = ("dry", "room 40 dB", "room 30 dB", "room 20 dB", "phone", "clipped")
_TAKES, _DRILLS = 24, 12  # under each condition
_UNITS = 8  # tanh units of the hidden layer
_PENALTY = 3e-4  # of squared weights, against the mean cross-entropy
_NEAR_SECONDS = 0.010  # the candidate nearest to a stroke within this time is that stroke
_SAME_SECONDS = 0.006  # candidates nearer than this to it don't count
_SPEEDS = [0.85, 0.92, 1.1, 1.2]  # of changed takes
_ITERATIONS = 500  # of the minimisation, at most
_FFT_LENGTH = 16_384  # samples: lengths are rounded up to a multiple, which an FFT is quick with


def main() -> None:
    """Record the takes, train the classifier, write the table."""
    missing = report_missing_kits("trained")
    if missing:
        sys.exit("The classifier is trained on all kits to tune on; nothing was written.")
    features, is_stroke, counts = (np.concatenate(parts) for parts in zip(*_collect(), strict=True))
    print(f"{len(is_stroke):,} candidates, {is_stroke.sum():,.0f} of them strokes")
    path = Path(classifier.__file__).with_name("classifier.toml")
    path.write_text(_format_table(_train(features, is_stroke, counts)), "utf-8")


def _collect() -> Iterator[tuple[Floats, Floats, Floats]]:
    for condition in _CONDITIONS:
        for number, take in enumerate(generate_takes("trained", condition, _TAKES)):
            yield label_candidates(take)
            yield label_candidates(change_take(take, np.random.default_rng(number)))
        for number in range(_DRILLS):
            yield label_candidates(generate_drill("trained", condition, number))
        print(f"recorded: {condition}", file=sys.stderr)


def label_candidates(take: KnownTake) -> tuple[Floats, Floats, Floats]:
    """Return the features of a take's onset candidates, and 1 or 0 for a stroke and for one that counts."""
    recording = prepare_recording(take.samples, take.rate)
    spectrogram = compute_spectrogram(recording.signal, recording.rate)
    starts, peaks = find_onset_candidates(spectrogram, recording.signal)
    seconds = recording.calculate_seconds(starts)
    is_stroke, counts = np.zeros(len(starts)), np.ones(len(starts))
    for group in group_attacks(take.truth):
        first, last = np.searchsorted(seconds, (group[0] - _NEAR_SECONDS, group[0] + _NEAR_SECONDS))
        if first == last:
            continue
        away = np.abs(seconds[first:last, None] - np.array(group)).min(axis=1)
        nearest = first + int(np.argmin(away))
        near = np.abs(seconds[first:last] - seconds[nearest]) < _SAME_SECONDS
        counts[first:last][near] = 0
        is_stroke[nearest], counts[nearest] = 1, 1
    for first_second, last_second in list_buzz_spans(take.truth):
        inside = (seconds >= first_second) & (seconds <= last_second) & (is_stroke == 0)
        counts[inside] = 0
    return extract_features(spectrogram, recording.signal, starts, peaks), is_stroke, counts


def change_take(take: KnownTake, chance: np.random.Generator) -> KnownTake:
    """Return a take at another speed and with other timbres, in place of another kit."""
    speed = float(chance.choice(_SPEEDS))
    length = -(-len(take.samples) // _FFT_LENGTH) * _FFT_LENGTH
    hertz = np.maximum(np.fft.rfftfreq(length, 1 / take.rate), 50)
    ripple = chance.uniform(-6, 6) * np.sin(np.log(hertz) * chance.uniform(1, 3) + chance.uniform(0, 6))
    gains = (hertz / 1000) ** chance.uniform(-0.5, 0.5) * 10 ** (ripple / 20)
    samples = np.fft.irfft(np.fft.rfft(take.samples, length) * gains, length)[: len(take.samples)]
    played = tuple(
        replace(sound, seconds=sound.seconds / speed, grid_seconds=None) for sound in take.truth.played
    )
    return replace(
        take,
        samples=(samples / np.abs(samples).max()).astype(np.float32),
        rate=take.rate * speed,
        truth=replace(take.truth, played=played),
    )


def _train(features: Floats, is_stroke: Floats, counts: Floats) -> OnsetClassifier:
    """Return the weights of least cross-entropy and squared weights."""
    means, deviations = features.mean(axis=0), features.std(axis=0) + 1e-6
    inputs = (features - means) / deviations
    size = inputs.shape[1]
    ends = np.cumsum([size * _UNITS, _UNITS, _UNITS])
    total = counts.sum()

    def split(weights: Floats) -> tuple[Floats, Floats, Floats, Floats]:
        hidden, hidden_biases, output, output_bias = np.split(weights, ends)
        return hidden.reshape(size, _UNITS), hidden_biases, output, output_bias

    def calculate_cost(weights: Floats) -> tuple[float, Floats]:
        hidden, hidden_biases, output, output_bias = split(weights)
        units = np.tanh(inputs @ hidden + hidden_biases)
        sums = units @ output + output_bias
        entropy = (counts * (np.logaddexp(0, sums) - is_stroke * sums)).sum() / total
        error = counts * (1 / (1 + np.exp(-sums)) - is_stroke) / total
        back = np.outer(error, output) * (1 - units**2)
        gradient = [
            (inputs.T @ back + 2 * _PENALTY * hidden).ravel(),
            back.sum(axis=0),
            units.T @ error + 2 * _PENALTY * output,
            [error.sum()],
        ]
        penalty = _PENALTY * ((hidden**2).sum() + (output**2).sum())
        return float(entropy + penalty), np.concatenate(gradient)

    start = np.random.default_rng(0).normal(0, 0.3, ends[-1] + 1)
    solution = minimize(calculate_cost, start, jac=True, method="L-BFGS-B", options={"maxiter": _ITERATIONS})
    hidden, hidden_biases, output, output_bias = split(solution.x)
    return OnsetClassifier(
        feature_means=means,
        feature_deviations=deviations,
        hidden_weights=hidden,
        hidden_biases=hidden_biases,
        output_weights=output,
        output_bias=float(output_bias[0]),
    )


def _format_table(trained: OnsetClassifier) -> str:
    """Return the weights as TOML; `hidden_weights` has a line for each feature."""

    def format_row(values: Floats) -> str:
        return f"[{', '.join(f'{value:.5g}' for value in values)}]"

    hidden = "\n".join(f"    {format_row(row)}," for row in trained.hidden_weights)
    return (
        "# Weights of the onset classifier (classifier.py). bench/listening/training.py wrote them; "
        "do not edit by hand.\n"
        f"output_bias = {trained.output_bias:.5f}\n"
        f"output_weights = {format_row(trained.output_weights)}\n"
        f"hidden_biases = {format_row(trained.hidden_biases)}\n"
        f"feature_means = {format_row(trained.feature_means)}\n"
        f"feature_deviations = {format_row(trained.feature_deviations)}\n"
        f"hidden_weights = [\n{hidden}\n]\n"
    )


if __name__ == "__main__":
    main()
