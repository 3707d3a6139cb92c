"""Every time through the phrase in a take: where it lies and which onset is which moment.

Idea: candidates from `search` are laid against the onsets one by one (`assign`), their map is fitted
(`barmap`) and both repeated; of candidates that overlap, those are kept that explain most of the take together.
An onset that no time through explains earns nothing, so that a fit beside the phrase by a beat loses to the
phrase itself.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from fillwright.listen.alignment.assign import FAR, MISS, Pairs, Taken, assigned, time_cost
from fillwright.listen.alignment.candidates import Candidate, Channel, candidates, paces, picture
from fillwright.listen.alignment.moments import Moments
from fillwright.listen.alignment.onset_arrays import Hearing
from fillwright.listen.alignment.tempo_map import BarMap, Evidence, Layout, layout, roughly_fitted, steady

Floats = npt.NDArray[np.float64]
SLOWEST, FASTEST = 0.83, 1.2
"""How much slower or faster than asked a take may be: a little more than 15 % either way, as played pace."""

_FIRST_SCATTER_SECONDS = 0.025
_USUAL_SCATTER_SECONDS = 0.016
REACH_SECONDS = 0.15
_LEFT_OVER, _LEFT_OVER_PER_DB, _LEFT_OVER_DOUBTFUL = 2.2, 0.25, 0.2
_STRONGEST_DB = 20.0
_PER_ODDS, _SURE_ODDS = 0.8, 3.0
_OUTSIDE = 0.6
_RUSHES = (-0.07, -0.045, -0.02, 0.02, 0.045, 0.07)


@dataclass(frozen=True, slots=True, kw_only=True)
class Laid:
    """One time through the phrase, laid on the take.

    Attributes:
        map: from written time to the take's.
        pairs: which onset, counted in the whole take, is which moment.
        worth: what it explains, less what half a phrase met by chance would.
    """

    map: BarMap
    pairs: Pairs
    worth: float

    @property
    def matched(self) -> int:
        """How many moments were met."""
        return sum(one >= 0 for one in self.pairs.mains)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Ground:
    """What is laid on what.

    Attributes:
        plan: the phrase.
        layout: of the phrase.
        ears: the onsets.
        left_over: what each onset costs where it belongs to nothing.
        colours: what the colour of each onset says against each moment, shape (moments, onsets); None before
            anything is known of them.
    """

    plan: Moments
    layout: Layout
    ears: Hearing
    left_over: Floats
    colours: Floats | None = None

    def evidence(self, pairs: Pairs) -> Evidence:
        """Places of moments in the writing and in the take."""
        met = [(place, onset) for place, onset in enumerate(pairs.mains) if onset >= 0]
        written = self.plan.at[[place for place, _ in met]]
        played = self.ears.seconds[[onset for _, onset in met]]
        return Evidence(written=written, played=played, weight=np.ones(len(met)))


def ground(plan: Moments, ears: Hearing) -> Ground:
    """The phrase and the onsets, before anything is known of colours."""
    strength = np.clip(ears.strength_db, 0.0, _STRONGEST_DB)
    odds = np.log(np.clip(ears.confidence, 0.02, 0.98) / (1 - np.clip(ears.confidence, 0.02, 0.98)))
    left_over = _LEFT_OVER + _LEFT_OVER_PER_DB * strength + np.minimum(_PER_ODDS * (odds - _SURE_ODDS), 0.0)
    left_over = np.where(ears.doubtful, _LEFT_OVER_DOUBTFUL, np.maximum(left_over, _LEFT_OVER_DOUBTFUL))
    return Ground(plan=plan, layout=layout(plan), ears=ears, left_over=left_over)


def found(base: Ground, slowest: float = SLOWEST, fastest: float = FASTEST) -> tuple[Laid, ...]:
    """The times through the phrase that explain a take best, in order; none where nothing fits half-way.

    Args:
        base: the phrase and the onsets.
        slowest: least played pace to try; below 1 is faster than asked.
        fastest: greatest pace to try.
    """
    before = base.plan.expected.bar_starts[1]
    length = base.plan.expected.bar_starts[-1]
    most = 10 + 5 * int(base.ears.heard.seconds / length)
    rough = candidates(
        base.plan,
        _channels(base, before),
        paces(slowest, fastest),
        before_seconds=before,
        most=min(most, 120),
    )
    tried = [_first_laid(base, one) for one in rough]
    tried = [one for one in tried if one.worth > 0]
    return _best_together(base.plan, tried)


def _channels(base: Ground, before: float) -> tuple[Channel, ...]:
    """Whether there is an onset, how loud it is, and on an electronic kit on what."""
    ears, plan = base.ears, base.plan
    seconds = ears.heard.seconds
    middle = float(np.median(ears.loudness_db)) if len(ears) else 0.0
    firm = np.where(ears.faint, 0.0, np.clip(ears.strength_db / 12.0, 0.5, 1.0)) * ears.confidence
    loud = np.clip((ears.loudness_db - middle) / 12.0, -1.0, 1.0) * firm
    made = [
        Channel(picture=picture(ears.seconds, firm, seconds, before), asked=np.ones(len(plan.all))),
        Channel(picture=picture(ears.seconds, loud, seconds, before), asked=_loudness_asked(plan)),
    ]
    for name in sorted({name for name in ears.surfaces if name}):
        own = np.array([surface == name for surface in ears.surfaces])
        asked = np.array([0.7 if name in one.surfaces else 0.0 for one in plan.all])
        if asked.any():
            shown = picture(ears.seconds[own], np.ones(int(own.sum())), seconds, before)
            made.append(Channel(picture=shown, asked=asked))
    return tuple(made)


_CARRIES = {
    "kick": 0.3,
    "snare": 0.5,
    "crash": 0.5,
    "hi-hat": -0.4,
    "ride bow": -0.4,
    "foot hi-hat": -0.6,
    "rim": -0.2,
}
"""How much louder than most a surface comes through (ours, rough)."""


def _loudness_asked(plan: Moments) -> Floats:
    loud = np.array(
        [(one.velocity - 80) / 64 + max(_CARRIES.get(name, 0.2) for name in one.surfaces) for one in plan.all]
    )
    return np.asarray(0.4 * np.clip(loud - loud.mean(), -1.0, 1.0))


def _first_laid(base: Ground, one: Candidate) -> Laid:
    """A candidate laid on the onsets, its map fitted once or twice."""
    starts, bounds = np.array(one.starts), base.layout.bounds
    bars = np.diff(starts) / np.diff(bounds)[: len(starts) - 1]
    paced = [*map(float, bars), *[one.pace] * (len(bounds) - 1 - len(bars))]
    rough = steady(base.layout, float(starts[0]), paced, _FIRST_SCATTER_SECONDS)
    pairs = paired(base, rough, _FIRST_SCATTER_SECONDS)
    fit = roughly_fitted(base.layout, base.evidence(pairs), rough)
    return laid(base, fit, _USUAL_SCATTER_SECONDS)


def laid(base: Ground, fit: BarMap, scatter_seconds: float) -> Laid:
    """The onsets assigned by a map."""
    pairs = paired(base, fit, scatter_seconds)
    typical = MISS + (float(np.median(base.left_over)) if len(base.left_over) else _LEFT_OVER)
    return Laid(map=fit, pairs=pairs, worth=pairs.gain - _OUTSIDE * typical * len(base.plan.all))


def paired(base: Ground, fit: BarMap, scatter_seconds: float) -> Pairs:
    """Which onset is which moment by a map; onsets count in the whole take."""
    places = fit.played(base.plan.at)
    low, high = np.searchsorted(base.ears.seconds, [places[0] - 2 * REACH_SECONDS, places[-1] + REACH_SECONDS])
    seconds = base.ears.seconds[low:high]
    away = seconds[None, :] - places[:, None]
    costs = time_cost(away, scatter_seconds)
    if base.colours is not None:
        costs = costs + base.colours[:, low:high]
    costs[np.abs(away) > REACH_SECONDS] = FAR
    pairs = assigned(base.plan.ahead, _taken(base, int(low), int(high)), costs)
    shift = int(low)
    return Pairs(
        mains=tuple(one + shift if one >= 0 else -1 for one in pairs.mains),
        graces=tuple(tuple(one + shift for one in own) for own in pairs.graces),
        gain=pairs.gain,
    )


def _taken(base: Ground, low: int, high: int) -> Taken:
    return Taken(
        seconds=base.ears.seconds[low:high],
        left_over=base.left_over[low:high],
        loudness_db=base.ears.loudness_db[low:high],
        confidence=base.ears.confidence[low:high],
    )


def refined(base: Ground, one: Laid) -> Laid:
    """A time through, map and assignment fitted to each other, and other tempos of the fill tried."""
    best = _settled(base, one)
    filled = [place for place, moment in enumerate(base.plan.all) if moment.in_fill]
    if sum(best.pairs.mains[place] < 0 for place in filled) > 0.05 * len(filled):
        pace = best.map.pace(base.layout.bounds[0], base.layout.bounds[-1])
        for rush in _RUSHES:
            other = _settled(base, replace(one, map=best.map.with_rush(rush * pace)))
            if other.worth > best.worth + 1.0:
                best = other
    return best


def _settled(base: Ground, one: Laid) -> Laid:
    now = laid(base, one.map, _USUAL_SCATTER_SECONDS)
    for _ in range(3):
        fit = roughly_fitted(base.layout, base.evidence(now.pairs), now.map)
        after = laid(base, fit, float(np.clip(1.4 * fit.scatter_seconds, 0.008, 0.025)))
        if after.pairs.mains == now.pairs.mains:
            return after
        now = after
    return now


def _best_together(plan: Moments, tried: Sequence[Laid]) -> tuple[Laid, ...]:
    """Of those that overlap, the ones worth most together (weighted intervals)."""
    last = plan.last_start
    spans = []
    for one in tried:
        ends = one.map.played(np.array([0.0, last]))
        spans.append((float(ends[1]), float(ends[0]), one))
    spans.sort(key=lambda span: span[:2])
    slack = 0.25 * plan.expected.bar_starts[1] / 4
    best: list[tuple[float, tuple[Laid, ...]]] = [(0.0, ())]
    for number, (_, start, one) in enumerate(spans):
        before = sum(end <= start + slack for end, _, _ in spans[:number])
        worth, kept = best[before]
        taken = (worth + one.worth, (*kept, one))
        best.append(max(best[-1], taken, key=lambda each: each[0]))
    return best[-1][1]
