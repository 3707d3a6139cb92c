"""The graph of chains: places in a span, and the readings that lead from one place to a later one.

Time is in whole units here, the largest unit of which every place and length is a multiple.
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
from fillwright.craft.chains.rules import READING_COST, REBARRED_COST, TAIL_COST, Filling, Rules
from fillwright.errors import FitError, SpanError, UnknownNameError
from fillwright.music.meter import Meter
from fillwright.music.phrase import Span
from fillwright.music.stroke import Limb

MOST_BARS = 8
"""The longest span for chains, in bars; ours, not measured."""

_GRIDS = (Fraction(1, 32), Fraction(1, 48))  # thirty-seconds and their triplets, in whole notes

Hands = tuple[Limb | None, int]
"""The hand that struck last (None without hands) and the units since then, as far as the rules need."""

Node = tuple[int, Hands | None, int]
"""A place in units, the hands there (None before the first reading), and the missing figures, as bits."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Edge:
    """One reading from a place.

    Attributes:
        reading: number of the reading.
        figure: number of its figure.
        to: its end, in units.
        hands: the hands there.
        cost: its cost, without that of repeating the figure before.
    """

    reading: int
    figure: int
    to: int
    hands: Hands
    cost: int


@dataclass(frozen=True, slots=True, kw_only=True)
class _Statement:
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
    """The places of a span and the readings between them.

    Attributes:
        readings: those that the rules allow, numbered in their order.
        figures: names of their figures, in their order.
        end: length of the span, in units.
        needed: numbers of the figures that must appear.
        accents: places of the required accents, in units.
    """

    def __init__(self, span: Span, meter: Meter, readings: Sequence[Reading], rules: Rules) -> None:
        """Take a span and the readings that may fill it.

        Raises:
            SpanError: for a span that is empty, longer than 8 bars, or not on a subdivision.
            FitError: for a required figure that no reading has, or an accent outside the span.
        """
        _check_span(span, meter)
        self.rules = rules
        self.readings = _select_readings(readings, rules)
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
        self._statements = tuple(self._measure(number, reading) for number, reading in enumerate(self.readings))
        self._tails = tuple(self.units(tail.length) for tail in rules.tails)
        self._fitting: dict[int, tuple[_Statement, ...]] = {}
        self._edges: dict[tuple[int, Hands | None], tuple[Edge, ...]] = {}

    def units(self, time: Fraction) -> int:
        """Return a time in whole notes as a number of units."""
        return int(time * self._unit)

    def _number(self, name: str) -> int:
        if name not in self.figures:
            raise FitError(
                f"{name} is required, but it is not among the figures to choose from; add it to them."
            )
        return self.figures.index(name)

    def _measure(self, number: int, reading: Reading) -> _Statement:
        lengths = tuple(self.units(length) for length in reading.lengths)
        places = [self.units(at) for at, _ in reading.strokes()]
        return _Statement(
            number=number,
            figure=self.figures.index(reading.figure.name),
            lead=reading.lead,
            last=reading.last_hand,
            lengths=lengths,
            length=sum(lengths),
            before=places[0],
            after=sum(lengths) - places[-1],
            accents=frozenset(self.units(at) for at in reading.accents),
            cost=READING_COST + REBARRED_COST * reading.rebarred,
        )

    def edges(self, at: int, hands: Hands | None) -> tuple[Edge, ...]:
        """Return the readings that the rules allow at a place, in their order."""
        key = (at, hands)
        if key not in self._edges:
            if at not in self._fitting:
                self._fitting[at] = tuple(
                    statement for statement in self._statements if self._fits(statement, at)
                )
            self._edges[key] = tuple(
                Edge(
                    reading=statement.number,
                    figure=statement.figure,
                    to=at + statement.length,
                    hands=self._hands_after(statement),
                    cost=statement.cost,
                )
                for statement in self._fitting[at]
                if self._may_follow(statement, hands)
            )
        return self._edges[key]

    def _fits(self, statement: _Statement, at: int) -> bool:
        end = at + statement.length
        if end > self.end:
            return False
        required = {accent - at for accent in self.accents if at <= accent < end}
        return required <= statement.accents and self._grid.holds(self._start + at, statement.lengths)

    def _hands_after(self, statement: _Statement) -> Hands:
        if not self.rules.hands:
            return None, 0
        return statement.last, min(statement.after, self._gap)

    def _may_follow(self, statement: _Statement, hands: Hands | None) -> bool:
        rules = self.rules
        if not rules.hands:
            return True
        if hands is None:
            return rules.lead in (None, statement.lead)
        hand, ago = hands
        if not rules.alternate or statement.lead is not hand:
            return True
        return rules.repeat_gap is not None and ago + statement.before >= self._gap

    def endings(self, at: int, hands: Hands | None) -> tuple[int | None, ...]:
        """Return how the span may end at a place: None for no tail, or the number of a tail."""
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
        """Return the cost of an ending."""
        return 0 if ending is None else TAIL_COST

    def filling(self, path: Sequence[int], ending: int | None) -> Filling:
        """Return the chain of some readings, by number, with its ending."""
        chain = Chain(readings=tuple(self.readings[number] for number in path))
        return Filling(chain=chain, tail=None if ending is None else self.rules.tails[ending])

    def nodes(self, needed: Sequence[int], allowed: frozenset[int] | None = None) -> tuple[Node, ...]:
        """Return every node that readings lead to from the start, in order of time.

        Args:
            needed: numbers of the figures still to appear.
            allowed: numbers of the figures that may be used; None for all.
        """
        start: Node = (0, None, sum(1 << bit for bit in range(len(needed))))
        by_time: dict[int, dict[Node, None]] = {0: {start: None}}
        waiting = {0}
        done: list[Node] = []
        while waiting:
            at = min(waiting)
            waiting.remove(at)
            for node in by_time.pop(at):
                done.append(node)
                for _, after in self.steps(node, needed, allowed):
                    by_time.setdefault(after[0], {})[after] = None
                    waiting.add(after[0])
        return tuple(done)

    def steps(
        self, node: Node, needed: Sequence[int], allowed: frozenset[int] | None = None
    ) -> Iterator[tuple[Edge, Node]]:
        """Yield the readings from a node with the nodes they lead to."""
        at, hands, missing = node
        for edge in self.edges(at, hands):
            if allowed is not None and edge.figure not in allowed:
                continue
            left = missing
            if missing and edge.figure in needed:
                left &= ~(1 << needed.index(edge.figure))
            yield edge, (edge.to, edge.hands, left)


class Grid:
    """The places where notes can be written, in units: the rule of `fits_span` in whole numbers, for speed.

    A triplet note starts on its own grid or halfway between, counted from the beat; other notes don't start on
    thirds.
    """

    def __init__(self, meter: Meter, unit: int) -> None:
        """Take a meter and the number of units in a whole note; beats are whole numbers of units."""
        self._bar = int(meter.bar * unit)
        self._beats = tuple(int(start * unit) for start in meter.beat_starts)
        self._thirds = gcd(unit, 3**20)
        self.holds = cache(self._holds)

    def _holds(self, at: int, lengths: tuple[int, ...]) -> bool:
        for length in lengths:
            if not self._is_writable(at % self._bar, length):
                return False
            at += length
        return True

    def _is_writable(self, at: int, length: int) -> bool:
        offset = at - self._beats[bisect_right(self._beats, at) - 1]
        if length % self._thirds:
            return 2 * offset % length == 0
        return offset % self._thirds == 0


def _check_span(span: Span, meter: Meter) -> None:
    if not 0 < span.length <= MOST_BARS * meter.bar:
        raise SpanError(
            f"A span of {span.length} whole notes can't be filled with chains; "
            f"use more than 0 and at most {MOST_BARS} bars of {meter.name}."
        )
    if span.start < 0 or all(span.start % grid for grid in _GRIDS):
        raise SpanError(
            f"The span starts {span.start} whole notes into its phrase, which is not on a subdivision; "
            "use thirty-seconds, their triplets, or longer ones."
        )


def _check_accents(accents: Sequence[Fraction], span: Span) -> None:
    for at in accents:
        if not 0 <= at < span.length:
            raise FitError(
                f"An accent {at} whole notes into a span of {span.length} is outside it; "
                f"use 0 or more, below {span.length}."
            )


def _select_readings(readings: Sequence[Reading], rules: Rules) -> tuple[Reading, ...]:
    """Return the readings that the rules allow, each once; without hands one lead stands for both."""
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
