"""How written time runs in a take: a pace for every bar, and how much faster the fill is.

Idea: played = start + pace of each bar × written time + rush × written time in the fill + the hand's scatter.
Paces wander slowly from bar to bar; how slowly is chosen by what explains the take best (marginal likelihood of
a Gaussian model), so that a drifting player's fill isn't taken for a rush and the standard error of the rush
allows for the drift. Strokes far off count for less (Huber).

Units: pace is played seconds per written second at the intended tempo; 1.02 is 2 % slower than asked.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from fillwright.listen.alignment.moments import Moments

Floats = npt.NDArray[np.float64]

_WANDER = (0.001, 0.002, 0.004, 0.008)
_USUAL_WANDER, _ROUGH_WANDER = 0.004, 0.008
_HUBER = 1.8
_LEAST_SCATTER_SECONDS = 0.0008
_FIRST_PACE = 0.2
_FIRST_START_SECONDS = 0.3
_RUSH_PRIOR = 0.08


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Layout:
    """Where paces change: bounds of the bars, and the spans of the fills, in written seconds."""

    bounds: Floats
    fills: tuple[tuple[float, float], ...]

    def columns(self, at: Floats) -> Floats:
        """What each unknown adds to a place: the start, each bar's pace, the rush; shape (places, unknowns)."""
        lengths = np.diff(self.bounds)
        inside = np.clip(at[:, None] - self.bounds[:-1], 0.0, lengths)
        inside[:, 0] += np.minimum(at - self.bounds[0], 0.0)
        inside[:, -1] += np.maximum(at - self.bounds[-1], 0.0)
        filled = np.zeros(len(at))
        for start, end in self.fills:
            filled += np.clip(at - start, 0.0, end - start)
        return np.column_stack([np.ones(len(at)), inside, filled])


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class BarMap:
    """A fitted map.

    Attributes:
        layout: of the phrase.
        unknowns: start in seconds of the take, each bar's pace, the rush as a change of pace.
        scatter_seconds: standard deviation of the hand.
        rush_deviation: standard error of the rush.
    """

    layout: Layout
    unknowns: Floats
    scatter_seconds: float
    rush_deviation: float = np.inf

    def played(self, at: Floats) -> Floats:
        """Where in the take written places lie."""
        return self.layout.columns(at) @ self.unknowns

    def groove(self, at: Floats) -> Floats:
        """The same by the groove's own time, as if the fill were not rushed."""
        return self.layout.columns(at)[:, :-1] @ self.unknowns[:-1]

    def with_rush(self, rush: float) -> BarMap:
        """The same with another rush."""
        return replace(self, unknowns=np.append(self.unknowns[:-1], rush))

    def pace(self, first: float, last: float) -> float:
        """Mean pace of the groove between two written places."""
        ends = self.groove(np.array([first, last]))
        return float(ends[1] - ends[0]) / (last - first)


def layout(moments: Moments) -> Layout:
    """The layout of a phrase."""
    return Layout(bounds=np.array(moments.expected.bar_starts), fills=moments.fills)


def steady(plan: Layout, start: float, bars: Sequence[float], scatter_seconds: float) -> BarMap:
    """A map from a start and the pace of each bar, without a rush."""
    return BarMap(
        layout=plan,
        unknowns=np.array([start, *bars, 0.0]),
        scatter_seconds=scatter_seconds,
        rush_deviation=np.inf,
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Evidence:
    """Places of strokes: in the writing and in the take, and how much each counts (0 to 1)."""

    written: Floats
    played: Floats
    weight: Floats


def roughly_fitted(plan: Layout, evidence: Evidence, guess: BarMap) -> BarMap:
    """Much the same as `fitted`, at an eighth of its price: for a map on the way to another."""
    return _fitted(plan, evidence, guess, ((_ROUGH_WANDER,), 2, _RUSH_PRIOR))


def fitted(plan: Layout, evidence: Evidence, guess: BarMap, *, rush_prior: float = _RUSH_PRIOR) -> BarMap:
    """The map that explains strokes best.

    Args:
        plan: of the phrase.
        evidence: at least two strokes; with fewer the guess stays.
        guess: the map that led to them.
        rush_prior: standard deviation of a fill's rush, as a change of pace; 0 for none.
    """
    return _fitted(plan, evidence, guess, (_WANDER, 4, rush_prior))


def _fitted(
    plan: Layout, evidence: Evidence, guess: BarMap, how: tuple[tuple[float, ...], int, float]
) -> BarMap:
    """A map fitted with the wanders to try, so many rounds of weighing, and the spread of a rush."""
    wanders, rounds, rush_prior = how
    if len(evidence.written) < 2:
        return guess
    columns = plan.columns(evidence.written)
    scatter, weight = guess.scatter_seconds, evidence.weight
    best = guess
    for _ in range(rounds):
        rest = evidence.played - columns @ best.unknowns
        weight = evidence.weight * _HUBER / np.maximum(np.abs(rest) / scatter, _HUBER)
        solved = [
            _solved(plan, (columns, evidence.played, weight), guess, (scatter, wander, rush_prior))
            for wander in wanders
        ]
        _, unknowns, deviation = max(solved, key=lambda one: one[0])
        scatter = _scatter(evidence.played - columns @ unknowns, evidence.weight)
        best = BarMap(layout=plan, unknowns=unknowns, scatter_seconds=scatter, rush_deviation=deviation)
    return best


def _scatter(rest: Floats, weight: Floats) -> float:
    """Standard deviation of what is left, by the middle of its size, and some for the unknowns fitted."""
    known = np.abs(rest[weight > 0.3]) if np.any(weight > 0.3) else np.abs(rest)
    middle = 1.4826 * float(np.median(known))
    usual = float(np.sqrt(np.mean(np.minimum(known, 3 * middle) ** 2)))
    return max(_LEAST_SCATTER_SECONDS, 0.5 * (middle + usual) * (1 + 2 / len(known)))


def _solved(
    plan: Layout,
    data: tuple[Floats, Floats, Floats],
    guess: BarMap,
    spreads: tuple[float, float, float],
) -> tuple[float, Floats, float]:
    """Log likelihood, unknowns and standard error of the rush for one scatter and one wander."""
    columns, played, weight = data
    scatter, wander, rush = spreads
    prior = _prior(plan, wander, rush)
    mean = np.zeros(columns.shape[1])
    mean[0], mean[1:-1] = guess.unknowns[0], guess.pace(plan.bounds[0], plan.bounds[-1])
    gap = played - columns @ mean
    spread = columns @ prior
    noise = scatter**2 / np.maximum(weight, 1e-3)
    whole = spread @ columns.T
    whole[np.diag_indices_from(whole)] += noise
    root = np.linalg.cholesky(whole)
    half = np.linalg.solve(root, np.column_stack([gap, spread]))
    likelihood = -0.5 * float(half[:, 0] @ half[:, 0]) - float(np.log(np.diag(root)).sum())
    likelihood -= 0.5 * float(np.log(wander / _USUAL_WANDER)) ** 2
    unknowns = mean + half[:, 1:].T @ half[:, 0]
    variance = prior[-1, -1] - float(half[:, -1] @ half[:, -1])
    return likelihood, unknowns, float(np.sqrt(max(variance, 0.0)))


def _prior(plan: Layout, wander: float, rush: float) -> Floats:
    """Covariance of the unknowns: paces wander as a random walk with the square root of the bars' lengths."""
    lengths = np.diff(plan.bounds)
    steps = (wander**2) * np.append([0.0], 0.5 * (lengths[1:] + lengths[:-1]) / lengths.mean())
    walked = np.cumsum(steps)
    size = len(lengths)
    made = np.zeros((size + 2, size + 2))
    made[0, 0] = _FIRST_START_SECONDS**2
    made[1:-1, 1:-1] = _FIRST_PACE**2 + np.minimum(walked[:, None], walked[None, :])
    made[-1, -1] = rush**2
    return made
