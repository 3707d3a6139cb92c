"""The tempo map of a take: a pace for every bar, and how much faster the fill is.

Model: played = start + pace of each bar × written time + rush × written time in the fill + deviation.

Paces drift from bar to bar as a random walk; its step is chosen by the marginal likelihood of a Gaussian model.
So a drifting player's fill isn't taken for a rush, and the standard error of the rush allows for the drift.
Strokes far off count for less (Huber weights).

Units: pace is played seconds per written second at the intended tempo; 1.02 is 2 % slower than intended.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from fillwright.listen.alignment.moments import Moments

Floats = npt.NDArray[np.float64]

_DRIFTS = (0.001, 0.002, 0.004, 0.008)  # standard deviations of the pace from bar to bar that are tried; ours
_USUAL_DRIFT, _ROUGH_DRIFT = 0.004, 0.008  # the likeliest beforehand; the only one of a rough fit; ours
_ROUNDS, _ROUGH_ROUNDS = 4, 2  # of reweighting; ours, not measured
_HUBER = 1.8  # deviations from which a stroke counts for less; ours, not measured
_LEAST_DEVIATION_SECONDS = 0.0008  # of a player; ours, not measured
_PACE_PRIOR = 0.2  # standard deviation of the first bar's pace; ours, not measured
_START_PRIOR_SECONDS = 0.3  # standard deviation of the start; ours, not measured
_RUSH_PRIOR = 0.08  # standard deviation of a fill's rush, as a change of pace; ours, not measured
_COUNTED_WEIGHT = 0.3  # strokes of more weight count for the deviation; ours, not measured
_MAD_TO_DEVIATION = 1.4826  # standard deviation of a normal distribution per median absolute deviation


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class TempoSegments:
    """The segments of a phrase whose pace may differ.

    Attributes:
        bounds: of the bars, in written seconds.
        fills: start and end of each fill, in written seconds.
    """

    bounds: Floats
    fills: tuple[tuple[float, float], ...]

    def build_design_matrix(self, written_seconds: Floats) -> Floats:
        """Return the factors of the start, each bar's pace and the rush, shape (places, parameters)."""
        lengths = np.diff(self.bounds)
        in_bars = np.clip(written_seconds[:, None] - self.bounds[:-1], 0.0, lengths)
        in_bars[:, 0] += np.minimum(written_seconds - self.bounds[0], 0.0)
        in_bars[:, -1] += np.maximum(written_seconds - self.bounds[-1], 0.0)
        in_fills = np.zeros(len(written_seconds))
        for start, end in self.fills:
            in_fills += np.clip(written_seconds - start, 0.0, end - start)
        return np.column_stack([np.ones(len(written_seconds)), in_bars, in_fills])


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class TempoMap:
    """A map from written time to time in the take.

    Attributes:
        segments: of the phrase.
        parameters: start in seconds of the take, each bar's pace, the rush as a change of pace.
        deviation_seconds: standard deviation of the player's strokes.
        rush_error: standard error of the rush.
    """

    segments: TempoSegments
    parameters: Floats
    deviation_seconds: float
    rush_error: float = np.inf

    def map_to_take(self, written_seconds: Floats) -> Floats:
        """Return the times in the take of written times."""
        return self.segments.build_design_matrix(written_seconds) @ self.parameters

    def map_to_groove(self, written_seconds: Floats) -> Floats:
        """Return the times in the take of written times as if the fill were not rushed."""
        return self.segments.build_design_matrix(written_seconds)[:, :-1] @ self.parameters[:-1]

    def replace_rush(self, rush: float) -> TempoMap:
        """Return the same map with another rush."""
        return replace(self, parameters=np.append(self.parameters[:-1], rush))

    def calculate_pace(self, first: float, last: float) -> float:
        """Return the mean pace of the groove between two written times."""
        ends = self.map_to_groove(np.array([first, last]))
        return float(ends[1] - ends[0]) / (last - first)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class StrokeTimes:
    """Times of strokes: written, played, and how much each counts (0 to 1); each of shape (strokes,)."""

    written: Floats
    played: Floats
    weight: Floats


def divide_phrase(moments: Moments) -> TempoSegments:
    """Divide a phrase into the segments whose pace may differ."""
    return TempoSegments(bounds=np.array(moments.written.bar_starts), fills=moments.fills)


def build_tempo_map(
    segments: TempoSegments, start: float, paces: Sequence[float], deviation_seconds: float
) -> TempoMap:
    """Build a map from a start and the pace of each bar, without a rush."""
    return TempoMap(
        segments=segments,
        parameters=np.array([start, *paces, 0.0]),
        deviation_seconds=deviation_seconds,
        rush_error=np.inf,
    )


def fit_rough_map(segments: TempoSegments, times: StrokeTimes, guess: TempoMap) -> TempoMap:
    """Fit a map that is much the same as `fit_tempo_map`'s, at an eighth of the work, on the way to another."""
    return _fit(segments, times, guess, ((_ROUGH_DRIFT,), _ROUGH_ROUNDS, _RUSH_PRIOR))


def fit_tempo_map(
    segments: TempoSegments, times: StrokeTimes, guess: TempoMap, *, rush_prior: float = _RUSH_PRIOR
) -> TempoMap:
    """Fit the likeliest map.

    Args:
        segments: of the phrase.
        times: of at least two strokes; with fewer the guess is returned.
        guess: the map by which the strokes were assigned.
        rush_prior: standard deviation of a fill's rush, as a change of pace; 0 for none.
    """
    return _fit(segments, times, guess, (_DRIFTS, _ROUNDS, rush_prior))


def _fit(
    segments: TempoSegments, times: StrokeTimes, guess: TempoMap, settings: tuple[tuple[float, ...], int, float]
) -> TempoMap:
    """Fit a map with the drifts to try, the number of rounds of reweighting, and the deviation of a rush."""
    drifts, rounds, rush_prior = settings
    if len(times.written) < 2:
        return guess
    design = segments.build_design_matrix(times.written)
    deviation = guess.deviation_seconds
    best = guess
    for _ in range(rounds):
        residuals = times.played - design @ best.parameters
        weight = times.weight * _HUBER / np.maximum(np.abs(residuals) / deviation, _HUBER)
        solutions = [
            _solve(segments, (design, times.played, weight), guess, (deviation, drift, rush_prior))
            for drift in drifts
        ]
        _, parameters, error = max(solutions, key=lambda solution: solution[0])
        deviation = _estimate_deviation(times.played - design @ parameters, times.weight)
        best = TempoMap(segments=segments, parameters=parameters, deviation_seconds=deviation, rush_error=error)
    return best


def _estimate_deviation(residuals: Floats, weight: Floats) -> float:
    """Return a robust standard deviation of residuals, a little more for the parameters fitted."""
    counted = (
        np.abs(residuals[weight > _COUNTED_WEIGHT]) if np.any(weight > _COUNTED_WEIGHT) else np.abs(residuals)
    )
    robust = _MAD_TO_DEVIATION * float(np.median(counted))
    limited = float(np.sqrt(np.mean(np.minimum(counted, 3 * robust) ** 2)))
    return max(_LEAST_DEVIATION_SECONDS, 0.5 * (robust + limited) * (1 + 2 / len(counted)))


def _solve(
    segments: TempoSegments,
    data: tuple[Floats, Floats, Floats],
    guess: TempoMap,
    deviations: tuple[float, float, float],
) -> tuple[float, Floats, float]:
    """Return log likelihood, parameters and standard error of the rush for one deviation and one drift."""
    design, played, weight = data
    deviation, drift, rush = deviations
    prior = _build_prior(segments, drift, rush)
    mean = np.zeros(design.shape[1])
    mean[0], mean[1:-1] = guess.parameters[0], guess.calculate_pace(segments.bounds[0], segments.bounds[-1])
    gap = played - design @ mean
    spread = design @ prior
    noise = deviation**2 / np.maximum(weight, 1e-3)
    covariance = spread @ design.T
    covariance[np.diag_indices_from(covariance)] += noise
    root = np.linalg.cholesky(covariance)
    half = np.linalg.solve(root, np.column_stack([gap, spread]))
    likelihood = -0.5 * float(half[:, 0] @ half[:, 0]) - float(np.log(np.diag(root)).sum())
    likelihood -= 0.5 * float(np.log(drift / _USUAL_DRIFT)) ** 2
    parameters = mean + half[:, 1:].T @ half[:, 0]
    variance = prior[-1, -1] - float(half[:, -1] @ half[:, -1])
    return likelihood, parameters, float(np.sqrt(max(variance, 0.0)))


def _build_prior(segments: TempoSegments, drift: float, rush: float) -> Floats:
    """Return the covariance of the parameters: paces drift as a random walk over the bars' lengths."""
    lengths = np.diff(segments.bounds)
    steps = (drift**2) * np.append([0.0], 0.5 * (lengths[1:] + lengths[:-1]) / lengths.mean())
    walked = np.cumsum(steps)
    bars = len(lengths)
    prior = np.zeros((bars + 2, bars + 2))
    prior[0, 0] = _START_PRIOR_SECONDS**2
    prior[1:-1, 1:-1] = _PACE_PRIOR**2 + np.minimum(walked[:, None], walked[None, :])
    prior[-1, -1] = rush**2
    return prior
