"""The ground that chains are counted on: places in a span, and the turns that lead from one to the next.

Time is counted in whole units here, the largest of which every place and length is a multiple.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import cache
from math import gcd, lcm

from fillwright.craft.chains.chain import Chain
from fillwright.craft.chains.readings import Reading
from fillwright.craft.chains.rules import REBARRED_COST, TAIL_COST, TURN_COST, Filling, Rules
from fillwright.errors import FitError, SpanError, UnknownNameError
from fillwright.music.meter import Meter
from fillwright.music.phrase import Span
from fillwright.music.stroke import Limb

MOST_BARS = 8
"""The longest span that chains are made for."""

_GRIDS = (Fraction(1, 32), Fraction(1, 48))

Hands = tuple[Limb | None, int]
"""Who struck last (None without hands), and how long ago in units, as far as the rules ask."""

Node = tuple[int, Hands | None, int]
"""A place in units, the hands there (None before the first turn), and the figures still to appear, as bits."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Edge:
    """One turn from a place.

    Attributes:
        reading: number of the reading.
        figure: number of its figure.
        to: the place it ends at, in units.
        hands: the hands there.
        cost: what it costs the chain, a repeat of the figure before left aside.
    """

    reading: int
    figure: int
    to: int
    hands: Hands
    cost: int


@dataclass(frozen=True, slots=True, kw_only=True)
class _Turn:
    """A reading in units."""

    number: int
    figure: int
    lead: Limb
    last: Limb
    lengths: tuple[int, ...]
    length: int
    before: int
    after: int
    accents: frozenset[int]
    cost: int


class Graph:
    """The places of a span and the turns between them.

    Attributes:
        readings: those that the rules leave, numbered in the order given.
        figures: names of their figures, in the order given.
        end: length of the span, in units.
        needed: numbers of the figures that must appear.
        accents: places of the asked accents, in units.
    """

    def __init__(self, span: Span, meter: Meter, readings: Sequence[Reading], rules: Rules) -> None:
        """For a span and the readings that may fill it.

        Raises:
            SpanError: for a span that is empty, longer than 8 bars, or not on a subdivision.
            FitError: for a figure that must appear but is not there, or an accent outside the span.
        """
        _check_span(span, meter)
        self.rules = rules
        self.readings = _admitted(readings, rules)
        self.figures = tuple(dict.fromkeys(reading.figure.name for reading in self.readings))
        self.needed = tuple(self._number(name) for name in dict.fromkeys(rules.must))
        gap = rules.repeat_gap or Fraction(0)
        times = [span.start, span.length, gap, *meter.beat_starts, meter.bar, *rules.accents]
        times += [tail.length for tail in rules.tails]
        times += {length for reading in self.readings for length in reading.lengths}
        self._unit = lcm(*(time.denominator for time in times))
        self._grid = Grid(meter, self._unit)
        self._start = self.units(span.start)
        self._gap = self.units(gap)
        self.end = self.units(span.length)
        self.accents = frozenset(self.units(at) for at in rules.accents)
        _check_accents(rules.accents, span)
        self._turns = tuple(self._turn(number, reading) for number, reading in enumerate(self.readings))
        self._tails = tuple(self.units(tail.length) for tail in rules.tails)
        self._fitting: dict[int, tuple[_Turn, ...]] = {}
        self._edges: dict[tuple[int, Hands | None], tuple[Edge, ...]] = {}

    def units(self, time: Fraction) -> int:
        """A time in whole notes in units."""
        return int(time * self._unit)

    def _number(self, name: str) -> int:
        if name not in self.figures:
            raise FitError(
                f"{name} must appear, but it is not among the figures to choose from; add it to them."
            )
        return self.figures.index(name)

    def _turn(self, number: int, reading: Reading) -> _Turn:
        lengths = tuple(self.units(length) for length in reading.lengths)
        places = [self.units(at) for at, _ in reading.strokes()]
        return _Turn(
            number=number,
            figure=self.figures.index(reading.figure.name),
            lead=reading.lead,
            last=reading.last_hand,
            lengths=lengths,
            length=sum(lengths),
            before=places[0],
            after=sum(lengths) - places[-1],
            accents=frozenset(self.units(at) for at in reading.accents),
            cost=TURN_COST + REBARRED_COST * reading.rebarred,
        )

    def edges(self, at: int, hands: Hands | None) -> tuple[Edge, ...]:
        """The turns that the rules let follow at a place, in the order of the readings."""
        key = (at, hands)
        if key not in self._edges:
            if at not in self._fitting:
                self._fitting[at] = tuple(turn for turn in self._turns if self._fits(turn, at))
            self._edges[key] = tuple(
                Edge(
                    reading=turn.number,
                    figure=turn.figure,
                    to=at + turn.length,
                    hands=self._hands_after(turn),
                    cost=turn.cost,
                )
                for turn in self._fitting[at]
                if self._may_follow(turn, hands)
            )
        return self._edges[key]

    def _fits(self, turn: _Turn, at: int) -> bool:
        end = at + turn.length
        if end > self.end:
            return False
        asked = {accent - at for accent in self.accents if at <= accent < end}
        return asked <= turn.accents and self._grid.holds(self._start + at, turn.lengths)

    def _hands_after(self, turn: _Turn) -> Hands:
        if not self.rules.hands:
            return None, 0
        return turn.last, min(turn.after, self._gap)

    def _may_follow(self, turn: _Turn, hands: Hands | None) -> bool:
        rules = self.rules
        if not rules.hands:
            return True
        if hands is None:
            return rules.lead in (None, turn.lead)
        hand, ago = hands
        if not rules.alternate or turn.lead is not hand:
            return True
        return rules.repeat_gap is not None and ago + turn.before >= self._gap

    def endings(self, at: int, hands: Hands | None) -> tuple[int | None, ...]:
        """How the span may end at a place: None for nothing more, or the number of a tail."""
        if hands is None or (self.rules.land and hands[0] is not self.rules.land.other):
            return ()
        if at == self.end:
            return (None,)
        left = self.end - at
        free = not any(accent >= at for accent in self.accents)
        return tuple(
            number
            for number, length in enumerate(self._tails)
            if length == left and free and self._grid.holds(self._start + at, (length,))
        )

    @staticmethod
    def ending_cost(ending: int | None) -> int:
        """What an ending costs the chain."""
        return 0 if ending is None else TAIL_COST

    def filling(self, path: Sequence[int], ending: int | None) -> Filling:
        """The chain of some readings by number, with its ending."""
        chain = Chain(readings=tuple(self.readings[number] for number in path))
        return Filling(chain=chain, tail=None if ending is None else self.rules.tails[ending])

    def nodes(self, needed: Sequence[int], allowed: frozenset[int] | None = None) -> tuple[Node, ...]:
        """Every node that turns lead to from the start, in order of time.

        Args:
            needed: numbers of the figures still to appear.
            allowed: numbers of the figures that may be used; None for all.
        """
        start: Node = (0, None, sum(1 << place for place in range(len(needed))))
        found: dict[int, dict[Node, None]] = {0: {start: None}}
        waiting = {0}
        done: list[Node] = []
        while waiting:
            at = min(waiting)
            waiting.remove(at)
            for node in found.pop(at):
                done.append(node)
                for _, after in self.steps(node, needed, allowed):
                    found.setdefault(after[0], {})[after] = None
                    waiting.add(after[0])
        return tuple(done)

    def steps(
        self, node: Node, needed: Sequence[int], allowed: frozenset[int] | None = None
    ) -> Iterator[tuple[Edge, Node]]:
        """The turns from a node with the nodes they lead to."""
        at, hands, missing = node
        for edge in self.edges(at, hands):
            if allowed is not None and edge.figure not in allowed:
                continue
            left = missing
            if missing and edge.figure in needed:
                left &= ~(1 << needed.index(edge.figure))
            yield edge, (edge.to, edge.hands, left)


class Grid:
    """Where notes can be written, in units: the rule of `chains.fits`, in whole numbers for speed.

    A note of a triplet stands on its own grid or halfway between, counted from the beat; other notes don't
    start on thirds.
    """

    def __init__(self, meter: Meter, unit: int) -> None:
        """For a meter and a number of units in a whole note, of which beats are multiples."""
        self._bar = int(meter.bar * unit)
        self._beats = tuple(int(start * unit) for start in meter.beat_starts)
        self._thirds = gcd(unit, 3**20)
        self.holds = cache(self._holds)

    def _holds(self, at: int, lengths: tuple[int, ...]) -> bool:
        for length in lengths:
            if not self._writable(at % self._bar, length):
                return False
            at += length
        return True

    def _writable(self, at: int, length: int) -> bool:
        offset = at - self._beats[bisect_right(self._beats, at) - 1]
        if length % self._thirds:
            return 2 * offset % length == 0
        return offset % self._thirds == 0


def _check_span(span: Span, meter: Meter) -> None:
    if not 0 < span.length <= MOST_BARS * meter.bar:
        raise SpanError(
            f"Chains fill more than nothing and at most {MOST_BARS} bars of {meter.name}; "
            f"the span takes {span.length} whole notes."
        )
    if span.start < 0 or all(span.start % grid for grid in _GRIDS):
        raise SpanError(
            f"The span starts {span.start} whole notes into its phrase, which is on no subdivision; "
            "thirty-seconds and their triplets are the finest."
        )


def _check_accents(accents: Sequence[Fraction], span: Span) -> None:
    for at in accents:
        if not 0 <= at < span.length:
            raise FitError(
                f"An accent {at} whole notes into a span of {span.length} can't be; it lies inside the span."
            )


def _admitted(readings: Sequence[Reading], rules: Rules) -> tuple[Reading, ...]:
    """The readings that the rules leave, each once; without hands one lead stands for both."""
    if rules.only is not None:
        known = {reading.figure.name for reading in readings}
        for name in rules.only:
            if name not in known:
                raise UnknownNameError.of("figure among the readings", name, known)
        readings = [reading for reading in readings if reading.figure.name in rules.only]
    first: dict[object, Reading] = {}
    for reading in readings:
        lead = reading.lead if rules.hands else None
        first.setdefault((reading.figure.name, reading.lengths, lead), reading)
    return tuple(first.values())
