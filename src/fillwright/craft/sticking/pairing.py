"""Pairing: share strokes between two limbs with the least peak demand, then the least total, exactly.

Dynamic programming over the strokes in time order. A state is the limb that has just struck and how many
rebounds in a row that was, with the last stroke of the other limb and its rebounds. The other limb's last
stroke may be far back, so states are dropped by two rules that can't lose the optimum:

- the demand of a limb that has rested long is small, whatever it plays next: a state that costs more by at
  least that demand is worse whatever follows;
- of two states whose other limb waits over the same surface, the one that has waited longer, with no more
  rebounds, is at least as good.

The least peak comes first, from a sweep that keeps maxima; the least total from a second sweep that adds and
refuses every demand above that peak.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from enum import Enum
from itertools import accumulate
from math import inf

LEAST_GAP_SECONDS = 0.001
"""Strokes closer than this are at once; it keeps demands finite (ours, not measured)."""

_SLACK = 1 + 1e-9
"""Factor that allows for rounding, since sums and quotients come in different orders."""


class Way(Enum):
    """A fresh stroke, a rebound of the stroke before, or a bounce of a pressed stick."""

    FRESH = "fresh"
    REBOUND = "rebound"
    BOUNCE = "bounce"


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """Limits that are the same for both limbs.

    Attributes:
        rebounds: number of strokes in a row that may be rebounds.
        crossing_seconds: one stick passing the other.
        clear_seconds: a limb that struck longer ago than this is out of the way.
        grace_seconds: time that a grace note or a soft stroke saves, since it starts low.
        soft_velocity: the loudest soft stroke, as a MIDI velocity.
        bounce_gap_seconds: a pressed stick bounces within this time.
        bounce_share: a rebound or bounce has at most this share of the velocity before it,
        bounce_steps: plus this many steps of velocity.
        jitter_seconds: time added to each gap.
    """

    rebounds: int
    crossing_seconds: float = 0.0
    clear_seconds: float = 0.0
    grace_seconds: float = 0.0
    soft_velocity: int = 0
    bounce_gap_seconds: float = 0.0
    bounce_share: float = 1.0
    bounce_steps: int = 0
    jitter_seconds: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class SharedStroke:
    """One stroke to share between two limbs.

    Attributes:
        at_seconds: its written time.
        ahead_seconds: time before that, for grace notes.
        surface: number of its surface in the tables.
        velocity: MIDI velocity, 1 to 127; 0 for unknown.
        limbs: the limbs, 0 or 1, that may play it.
    """

    at_seconds: float
    ahead_seconds: float
    surface: int
    velocity: int
    limbs: tuple[int, ...] = (0, 1)

    def is_low(self, soft_velocity: int) -> bool:
        """Return True if the stick starts low: for a grace note, or a stroke as soft as one."""
        return self.ahead_seconds > 0 or 0 < self.velocity <= soft_velocity

    @property
    def onset_seconds(self) -> float:
        """Time when it sounds."""
        return self.at_seconds - self.ahead_seconds


@dataclass(frozen=True, slots=True, kw_only=True)
class Tables:
    """Seconds that each limb needs, by limb and surface numbers.

    Attributes:
        fresh: from one surface to another, `fresh[limb][before][after]`.
        rebound: on one surface, `rebound[limb][surface]`.
        bounce: the same for a pressed stick.
        crossed: True where the limbs cross, `crossed[limb][own surface][other limb's surface]`.
    """

    fresh: tuple[tuple[tuple[float, ...], ...], ...]
    rebound: tuple[tuple[float, ...], ...]
    bounce: tuple[tuple[float, ...], ...]
    crossed: tuple[tuple[tuple[bool, ...], ...], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Move:
    """One stroke with the limb that plays it.

    Attributes:
        limb: 0 or 1.
        before: number of the limb's stroke before, -1 for none.
        way: fresh, rebound or bounce.
        crossed: True where the limbs cross.
        needed_seconds: the time that the player needs.
        gap_seconds: the time since the stroke before.
        demand: needed over available time; a rebound has at least the least demand of rebounds.
    """

    limb: int
    before: int
    way: Way
    crossed: bool
    needed_seconds: float
    gap_seconds: float
    demand: float


State = tuple[int, int, int, int]
"""Limb that struck last, its rebounds in a row, the other limb's last stroke or -1, and its rebounds."""

Layer = dict[State, tuple[float, "State | None", Way]]
"""For each state after a stroke: its cost, the state before, and the way of the stroke."""

Option = tuple[float, float, int, Way]
"""Seconds needed, seconds available, rebounds in a row afterwards, and the way of the stroke."""


class Pairing:
    """Strokes to share between two limbs."""

    def __init__(self, strokes: Sequence[SharedStroke], tables: Tables, limits: Limits) -> None:
        """Take the strokes in order of their onsets, and the times and limits of the limbs."""
        self.strokes = tuple(strokes)
        self.tables = tables
        self.limits = limits
        self._at = [stroke.at_seconds for stroke in strokes]
        self._onset = [stroke.onset_seconds for stroke in strokes]
        self._surface = [stroke.surface for stroke in strokes]
        self._ahead = [stroke.ahead_seconds for stroke in strokes]
        # grace notes precede their written time, so that isn't quite in order: the earliest from each stroke on
        self._earliest = list(accumulate(reversed(self._at), min))[::-1]
        extra = limits.crossing_seconds + max(self._ahead, default=0.0)
        self._worst = [max((max(row) for row in limb), default=0.0) + extra for limb in tables.fresh]
        self._known: dict[tuple[int, int, int, int, bool], tuple[Option, ...]] = {}

    def best(self, scale: float = 1.0, least: float = 0.0) -> tuple[Move, ...]:
        """Return the moves with the least peak demand, and of those the ones with the least total.

        Args:
            scale: factor on every gap.
            least: the least demand of a rebound or a bounce.
        """
        if not self.strokes:
            return ()
        cap = self.peak(scale, least)
        layers = self._sweep((scale, least), cap, total=True)
        return self._trace_back(layers, scale, least)

    def peak(self, scale: float = 1.0, least: float = 0.0) -> float:
        """Return the least peak demand; see `best` for the arguments."""
        if not self.strokes:
            return 0.0
        layers = self._sweep((scale, least), inf, total=False)
        return min(value for value, _, _ in layers[-1].values())

    def is_crossed(self, limb: int, now: int, other: int) -> bool:
        """Return True if a limb strikes on the far side of the other one's last stroke."""
        return (
            other >= 0
            and self.tables.crossed[limb][self._surface[now]][self._surface[other]]
            and self._onset[now] - self._onset[other] <= self.limits.clear_seconds
        )

    def options(self, limb: int, before: int, run: int, now: int, *, crossed: bool) -> tuple[Option, ...]:
        """Return every way for a limb to play a stroke.

        Args:
            limb: 0 or 1.
            before: its stroke before, -1 for none.
            run: the rebounds in a row it has just played.
            now: the stroke.
            crossed: True if the limbs cross.
        """
        key = (limb, before, run, now, crossed)
        if key not in self._known:
            self._known[key] = tuple(self._list_options(key))
        return self._known[key]

    def _list_options(self, key: tuple[int, int, int, int, bool]) -> Iterator[Option]:
        limb, before, run, now, crossed = key
        if before < 0:
            yield 0.0, 1.0, 0, Way.FRESH
            return
        limits, tables, start, end = self.limits, self.tables, self._surface[before], self._surface[now]
        gap = max(self._at[now] - self._at[before] + limits.jitter_seconds, LEAST_GAP_SECONDS)
        shift = self._ahead[now] - self._ahead[before]
        needed = tables.fresh[limb][start][end] + shift + (limits.crossing_seconds if crossed else 0.0)
        needed -= limits.grace_seconds if self.strokes[now].is_low(limits.soft_velocity) else 0.0
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
        """Return True if a stroke is not too loud for a rebound of the stroke before."""
        loudest = self.strokes[before].velocity * self.limits.bounce_share + self.limits.bounce_steps
        return self.strokes[now].velocity <= loudest or not self.strokes[before].velocity

    def _is_close(self, before: int, now: int) -> bool:
        """Return True if a stroke of known velocity may be a bounce of a stick pressed on the stroke before."""
        near = self._onset[now] - self._onset[before] <= self.limits.bounce_gap_seconds
        return near and self.strokes[before].velocity > 0 and self.strokes[now].velocity > 0

    def _sweep(self, scale_and_least: tuple[float, float], cap: float, *, total: bool) -> list[Layer]:
        """Return the cheapest way into every state after every stroke.

        Args:
            scale_and_least: see `best`.
            cap: the greatest demand allowed.
            total: True to add the demands, False to take the greatest.
        """
        scale, least = scale_and_least
        bound = cap if total else self._bound(scale, least)
        start = 0.0 if total else bound
        layer: Layer = {(limb, 0, -1, 0): (start, None, Way.FRESH) for limb in self.strokes[0].limbs}
        layers = [layer]
        for now in range(1, len(self.strokes)):
            following: Layer = {}
            for state, (value, _, _) in layer.items():
                for limb in self.strokes[now].limbs:
                    mine, run, other, other_run = _read_state(limb, state, now - 1)
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
            layer = self._thin(following, now, (scale, bound), total=total)
            layers.append(layer)
        return layers

    def _bound(self, scale: float, least: float) -> float:
        """Return a lower bound of the peak demand: of three strokes in a row one limb plays two."""
        bound = 0.0
        for last in range(2, len(self.strokes)):
            pairs = ((last - 2, last - 1), (last - 1, last), (last - 2, last))
            bound = max(bound, min(self._least_demand(pair, scale, least) for pair in pairs))
        return bound

    def _least_demand(self, pair: tuple[int, int], scale: float, least: float) -> float:
        before, now = pair
        limbs = [limb for limb in self.strokes[now].limbs if limb in self.strokes[before].limbs]
        return min(
            (
                needed / (gap * scale) if way is Way.FRESH else max(needed / (gap * scale), least)
                for limb in limbs
                for needed, gap, _, way in self.options(limb, before, 0, now, crossed=False)
            ),
            default=0.0,
        )

    def _thin(self, layer: Layer, now: int, scale_and_bound: tuple[float, float], *, total: bool) -> Layer:
        """Return a layer without the states that another one beats whatever follows."""
        if now + 1 == len(self.strokes):
            return layer
        scale, bound = scale_and_bound
        groups: dict[tuple[int, int], list[State]] = {}
        for state in layer:
            groups.setdefault(state[:2], []).append(state)
        useful: Layer = {}
        for group in groups.values():
            limit, best = inf, None
            for state in group:
                extra = self._extra(state, now, scale)
                cost = layer[state][0] + (extra if total else 0.0)
                if cost < limit and extra <= bound and self._is_clear(state[2], now):
                    limit, best = cost, state
            left = [state for state in group if state == best or layer[state][0] < limit]
            for state in self._select_rested(left, layer, now):
                useful[state] = layer[state]
        return useful

    def _extra(self, state: State, now: int, scale: float) -> float:
        """Return the greatest demand that the resting limb can have at its next stroke."""
        limb, other = 1 - state[0], state[2]
        if other < 0:
            return 0.0
        gap = self._earliest[now + 1] - self._at[other] + self.limits.jitter_seconds
        return self._worst[limb] / (max(gap, LEAST_GAP_SECONDS) * scale)

    def _is_clear(self, other: int, now: int) -> bool:
        return other < 0 or self._onset[now + 1] - self._onset[other] > self.limits.clear_seconds

    def _select_rested(self, states: list[State], layer: Layer, now: int) -> Iterator[State]:
        """Yield the states of a group that no longer rest over the same surface beats."""
        over: dict[int, list[State]] = {}
        for state in sorted(states, key=lambda state: (state[2], state[3])):
            earlier = over.setdefault(self._surface[state[2]] if state[2] >= 0 else -1, [])
            if not any(self._beats(better, state, layer, now) for better in earlier):
                earlier.append(state)
                yield state

    def _beats(self, better: State, state: State, layer: Layer, now: int) -> bool:
        """Return True if a state that has rested longer over the same surface is at least as good."""
        old, new = better[2], state[2]
        if better[3] > state[3] or layer[better][0] > layer[state][0]:
            return False
        if old == new:
            return True
        loud, soft = self.strokes[old].velocity or inf, self.strokes[new].velocity or inf
        at_rest = loud >= soft and self._onset[now + 1] - self._onset[new] > self.limits.bounce_gap_seconds
        return at_rest and self._at[old] <= self._at[new] and self._ahead[old] >= self._ahead[new]

    def _trace_back(self, layers: list[Layer], scale: float, least: float) -> tuple[Move, ...]:
        """Return the moves that lead to the cheapest last state."""
        last = layers[-1]
        state = min(last, key=lambda state: last[state][0])
        moves: list[Move] = []
        for now in range(len(layers) - 1, -1, -1):
            _, came_from, way = layers[now][state]
            moves.append(self._build_move(now, state, came_from, way, (scale, least)))
            state = came_from or state
        return tuple(reversed(moves))

    def _build_move(
        self, now: int, state: State, came_from: State | None, way: Way, scale_and_least: tuple[float, float]
    ) -> Move:
        limb = state[0]
        mine, run, other, _ = _read_state(limb, came_from, now - 1) if came_from else (-1, 0, -1, 0)
        crossed = self.is_crossed(limb, now, other)
        options = self.options(limb, mine, run, now, crossed=crossed)
        needed, gap = next((needed, gap) for needed, gap, _, option_way in options if option_way is way)
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


def _read_state(limb: int, state: State, last: int) -> tuple[int, int, int, int]:
    """Return a state from the next limb's side: its last stroke and rebounds, then the other limb's."""
    struck, run, other, other_run = state
    return (last, run, other, other_run) if limb == struck else (other, other_run, last, run)
