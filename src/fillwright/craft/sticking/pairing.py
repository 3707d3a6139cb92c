"""Which of two limbs plays each stroke: the least peak demand, then the least total, exactly.

Dynamic programming over the strokes in time order. A state is the limb that has just struck and how many
rebounds in a row that was, with the last stroke of the other limb and its rebounds. The other limb's last
stroke may lie far back, so states are dropped by two rules that can't lose the optimum:

- a limb that has rested so long that nothing it might do next asks much leaves little to choose: a state that
  costs more by at least that little is worse whatever follows;
- of two states whose other limb waits over the same surface, the one that has waited longer, with no more
  rebounds behind it, is no worse.

The least peak comes first, from a sweep that keeps maxima; the least total from a second sweep that adds and
refuses every demand above that peak.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import accumulate
from math import inf

from fillwright.craft.sticking.limbs import Limits, Move, Place, Tables, Way

LEAST_GAP_SECONDS = 0.001
"""Strokes closer than this are at once; it keeps demands finite."""

_SLACK = 1 + 1e-9
"""Room for the rounding of sums and quotients in a different order."""

State = tuple[int, int, int, int]
"""Limb that struck last, its rebounds in a row, the other limb's last stroke or -1, and its rebounds."""

Layer = dict[State, tuple[float, "State | None", Way]]
"""For each state after a stroke: what it costs, the state before, and how the stroke came about."""

Option = tuple[float, float, int, Way]
"""Seconds needed, seconds there are, rebounds in a row afterwards, and how."""


class Pairing:
    """Strokes to be shared by two limbs."""

    def __init__(self, places: Sequence[Place], tables: Tables, limits: Limits) -> None:
        """Places in order of their onsets."""
        self.places = tuple(places)
        self.tables = tables
        self.limits = limits
        self._at = [place.at_seconds for place in places]
        self._onset = [place.onset_seconds for place in places]
        self._surface = [place.surface for place in places]
        self._ahead = [place.ahead_seconds for place in places]
        # grace notes precede their place, so places are not quite in order: the earliest from each stroke on
        self._earliest = list(accumulate(reversed(self._at), min))[::-1]
        extra = limits.crossing_seconds + max(self._ahead, default=0.0)
        self._worst = [max((max(row) for row in limb), default=0.0) + extra for limb in tables.fresh]
        self._known: dict[tuple[int, int, int, int, bool], tuple[Option, ...]] = {}

    def best(self, scale: float = 1.0, least: float = 0.0) -> tuple[Move, ...]:
        """The moves with the least peak demand, and of those the ones with the least total.

        Args:
            scale: how many times longer every gap is.
            least: what a rebound or a bounce counts at least.
        """
        if not self.places:
            return ()
        cap = self.peak(scale, least)
        layers = self._sweep((scale, least), cap, total=True)
        return self._back(layers, scale, least)

    def peak(self, scale: float = 1.0, least: float = 0.0) -> float:
        """The least peak demand; see `best`."""
        if not self.places:
            return 0.0
        layers = self._sweep((scale, least), inf, total=False)
        return min(value for value, _, _ in layers[-1].values())

    def is_crossed(self, limb: int, now: int, other: int) -> bool:
        """Whether a limb strikes on the far side of where the other one has just struck."""
        return (
            other >= 0
            and self.tables.crossed[limb][self._surface[now]][self._surface[other]]
            and self._onset[now] - self._onset[other] <= self.limits.clear_seconds
        )

    def options(self, limb: int, before: int, run: int, now: int, *, crossed: bool) -> tuple[Option, ...]:
        """Every way for a limb to play a stroke.

        Args:
            limb: 0 or 1.
            before: its stroke before, -1 for none.
            run: the rebounds in a row it has just played.
            now: the stroke.
            crossed: whether the limbs cross.
        """
        key = (limb, before, run, now, crossed)
        found = self._known.get(key)
        if found is None:
            found = self._known[key] = tuple(self._options(key))
        return found

    def _options(self, key: tuple[int, int, int, int, bool]) -> Iterator[Option]:
        limb, before, run, now, crossed = key
        if before < 0:
            yield 0.0, 1.0, 0, Way.FRESH
            return
        limits, tables, start, end = self.limits, self.tables, self._surface[before], self._surface[now]
        gap = max(self._at[now] - self._at[before] + limits.jitter_seconds, LEAST_GAP_SECONDS)
        shift = self._ahead[now] - self._ahead[before]
        needed = tables.fresh[limb][start][end] + shift + (limits.crossing_seconds if crossed else 0.0)
        needed -= limits.grace_seconds if self.places[now].is_low(limits.soft_velocity) else 0.0
        yield max(needed, 0.0), gap, 0, Way.FRESH
        if start != end:
            return
        if not self._may_follow(before, now):
            return
        if run < limits.rebounds and not self._ahead[now]:
            yield max(tables.rebound[limb][end] + shift, 0.0), gap, run + 1, Way.REBOUND
        if self._is_close(before, now):
            yield max(tables.bounce[limb][end] + shift, 0.0), gap, limits.rebounds, Way.BOUNCE

    def _may_follow(self, before: int, now: int) -> bool:
        """Whether a stroke is no louder than one thrown back by the stroke before can be."""
        throws = self.places[before].velocity * self.limits.bounce_share + self.limits.bounce_steps
        return self.places[now].velocity <= throws or not self.places[before].velocity

    def _is_close(self, before: int, now: int) -> bool:
        """Whether a stroke of known loudness may be a bounce of a stick pressed on the stroke before."""
        near = self._onset[now] - self._onset[before] <= self.limits.bounce_gap_seconds
        return near and self.places[before].velocity > 0 and self.places[now].velocity > 0

    def _sweep(self, scale_and_least: tuple[float, float], cap: float, *, total: bool) -> list[Layer]:
        """The cheapest way into every state after every stroke.

        Args:
            scale_and_least: see `best`.
            cap: no demand may be above it.
            total: whether demands add up, or the greatest counts.
        """
        scale, least = scale_and_least
        bound = cap if total else self._bound(scale, least)
        start = 0.0 if total else bound
        layer: Layer = {(limb, 0, -1, 0): (start, None, Way.FRESH) for limb in self.places[0].limbs}
        layers = [layer]
        for now in range(1, len(self.places)):
            following: Layer = {}
            for state, (value, _, _) in layer.items():
                for limb in self.places[now].limbs:
                    mine, run, other, other_run = _seen_by(limb, state, now - 1)
                    crossed = self.is_crossed(limb, now, other)
                    for needed, gap, after, way in self.options(limb, mine, run, now, crossed=crossed):
                        demand = needed / (gap * scale)
                        if way is not Way.FRESH and demand < least:
                            demand = least
                        if demand > cap * _SLACK:
                            continue
                        reached = value + demand if total else max(value, demand)
                        key = (limb, after, other, other_run)
                        if key not in following or reached < following[key][0]:
                            following[key] = (reached, state, way)
            layer = self._thinned(following, now, (scale, bound), total=total)
            layers.append(layer)
        return layers

    def _bound(self, scale: float, least: float) -> float:
        """A demand that no sharing gets below: of three strokes in a row one limb plays two."""
        bound = 0.0
        for last in range(2, len(self.places)):
            pairs = ((last - 2, last - 1), (last - 1, last), (last - 2, last))
            bound = max(bound, min(self._least_demand(pair, scale, least) for pair in pairs))
        return bound

    def _least_demand(self, pair: tuple[int, int], scale: float, least: float) -> float:
        before, now = pair
        limbs = [limb for limb in self.places[now].limbs if limb in self.places[before].limbs]
        return min(
            (
                needed / (gap * scale) if way is Way.FRESH else max(needed / (gap * scale), least)
                for limb in limbs
                for needed, gap, _, way in self.options(limb, before, 0, now, crossed=False)
            ),
            default=0.0,
        )

    def _thinned(self, layer: Layer, now: int, scale_and_bound: tuple[float, float], *, total: bool) -> Layer:
        """A layer without the states that another one beats whatever follows."""
        if now + 1 == len(self.places):
            return layer
        scale, bound = scale_and_bound
        groups: dict[tuple[int, int], list[State]] = {}
        for state in layer:
            groups.setdefault(state[:2], []).append(state)
        kept: Layer = {}
        for group in groups.values():
            limit, keeper = inf, None
            for state in group:
                extra = self._extra(state, now, scale)
                cost = layer[state][0] + (extra if total else 0.0)
                if cost < limit and extra <= bound and self._has_made_way(state[2], now):
                    limit, keeper = cost, state
            left = [state for state in group if state == keeper or layer[state][0] < limit]
            for state in self._longest_rested(left, layer, now):
                kept[state] = layer[state]
        return kept

    def _extra(self, state: State, now: int, scale: float) -> float:
        """The most that the limb that waits can be asked at its next stroke."""
        limb, other = 1 - state[0], state[2]
        if other < 0:
            return 0.0
        gap = self._earliest[now + 1] - self._at[other] + self.limits.jitter_seconds
        return self._worst[limb] / (max(gap, LEAST_GAP_SECONDS) * scale)

    def _has_made_way(self, other: int, now: int) -> bool:
        return other < 0 or self._onset[now + 1] - self._onset[other] > self.limits.clear_seconds

    def _longest_rested(self, states: list[State], layer: Layer, now: int) -> Iterator[State]:
        """The states of one group less those beaten by one that has waited longer over the same surface."""
        over: dict[int, list[State]] = {}
        for state in sorted(states, key=lambda state: (state[2], state[3])):
            earlier = over.setdefault(self._surface[state[2]] if state[2] >= 0 else -1, [])
            if not any(self._beats(better, state, layer, now) for better in earlier):
                earlier.append(state)
                yield state

    def _beats(self, better: State, state: State, layer: Layer, now: int) -> bool:
        """Whether a state that has waited longer over the same surface is no worse, whatever follows."""
        old, new = better[2], state[2]
        if better[3] > state[3] or layer[better][0] > layer[state][0]:
            return False
        if old == new:
            return True
        loud, soft = self.places[old].velocity or inf, self.places[new].velocity or inf
        at_rest = loud >= soft and self._onset[now + 1] - self._onset[new] > self.limits.bounce_gap_seconds
        return at_rest and self._at[old] <= self._at[new] and self._ahead[old] >= self._ahead[new]

    def _back(self, layers: list[Layer], scale: float, least: float) -> tuple[Move, ...]:
        """The moves that lead to the cheapest last state."""
        last = layers[-1]
        state = min(last, key=lambda state: last[state][0])
        made: list[Move] = []
        for now in range(len(layers) - 1, -1, -1):
            _, came_from, way = layers[now][state]
            made.append(self._made(now, state, came_from, way, (scale, least)))
            state = came_from or state
        return tuple(reversed(made))

    def _made(
        self, now: int, state: State, came_from: State | None, way: Way, scale_and_least: tuple[float, float]
    ) -> Move:
        limb = state[0]
        mine, run, other, _ = _seen_by(limb, came_from, now - 1) if came_from else (-1, 0, -1, 0)
        crossed = self.is_crossed(limb, now, other)
        options = self.options(limb, mine, run, now, crossed=crossed)
        needed, gap = next((needed, gap) for needed, gap, _, each in options if each is way)
        demand = needed / (gap * scale_and_least[0])
        return Move(
            limb=limb,
            before=mine,
            way=way,
            crossed=crossed and way is Way.FRESH,
            needed_seconds=needed,
            gap_seconds=inf if mine < 0 else gap * scale_and_least[0],
            demand=demand if way is Way.FRESH else max(demand, scale_and_least[1]),
        )


def _seen_by(limb: int, state: State, last: int) -> tuple[int, int, int, int]:
    """A state as the limb that strikes next sees it: its last stroke and rebounds, then the other's."""
    struck, run, other, other_run = state
    return (last, run, other, other_run) if limb == struck else (other, other_run, last, run)
