"""The chains that fill a span under some rules: their number, the best, and random ones."""

from __future__ import annotations

from collections.abc import Sequence
from random import Random

from fillwright.craft.chains.enumeration import (
    BestChains,
    ChainCounter,
    LimitedCounter,
    is_within_limit,
)
from fillwright.craft.chains.graph import Graph
from fillwright.craft.chains.readings import Reading
from fillwright.craft.chains.rules import FREE, Filling, Rules
from fillwright.errors import FitError
from fillwright.music.meter import Meter
from fillwright.music.phrase import Span


class ChainSpace:
    """The chains of a span.

    A chain is a sequence of readings (figure, rhythm, lead) and a tail for its remainder. Two sequences are two
    chains even where their strokes coincide.

    >>> from fractions import Fraction
    >>> from fillwright.craft.chains.readings import list_readings
    >>> from fillwright.music.meter import find_meter
    >>> from fillwright.music.rudiments import find_figure
    >>> four = find_meter("4/4")
    >>> beat = Span(start=Fraction(3, 4), length=Fraction(1, 4))
    >>> space = ChainSpace(beat, four, list_readings([find_figure("single paradiddle")], four))
    >>> space.count
    6
    >>> [reading.rhythm_name for reading in space.best(1)[0].chain.readings]
    ['sixteenths']
    """

    def __init__(self, span: Span, meter: Meter, readings: Sequence[Reading], rules: Rules = FREE) -> None:
        """Count the chains of a span.

        Args:
            span: in whole notes from the start of the phrase; at most 8 bars.
            meter: of the phrase.
            readings: the material of chains, in the order preferred among equals.
            rules: conditions that a chain must meet.

        Raises:
            SpanError: for a span that is empty, longer than 8 bars, or not on a subdivision.
            FitError: for rules that the readings can't meet, or too many sets of figures to count.
            UnknownNameError: for a name in `rules.only` that no reading has.
        """
        graph = Graph(span, meter, readings, rules)
        limited = rules.most is not None and not is_within_limit(graph, rules.most)
        self._graph = graph
        self._most = rules.most if limited else None
        self._counter = LimitedCounter(graph, self._most) if self._most else ChainCounter(graph, graph.needed)

    @property
    def count(self) -> int:
        """Number of chains."""
        return self._counter.total

    def best(self, number: int) -> tuple[Filling, ...]:
        """Return the best chains, the cheapest first, equals in the order of the readings.

        Args:
            number: the most chains to return.

        Raises:
            FitError: if a chain could have more than 400 repetitions.
        """
        return tuple(BestChains(self._graph, self._most).chains(min(number, self.count)))

    def draw(self, number: int, *, seed: int) -> tuple[Filling, ...]:
        """Draw random chains, each with the same probability.

        Args:
            number: how many; none are returned where there are no chains.
            seed: the same seed gives the same chains.

        Raises:
            FitError: for a number below 0.
        """
        if number < 0:
            raise FitError(f"{number} chains can't be drawn; use 0 or more.")
        chance = Random(seed)
        return tuple(self._counter.at(chance.randrange(self.count)) for _ in range(number if self.count else 0))

    def at(self, rank: int) -> Filling:
        """Return the chain of a number, from 0 and below `count`; no two numbers share a chain.

        Raises:
            FitError: for a number that no chain has.
        """
        if not 0 <= rank < self.count:
            raise FitError(f"There is no chain {rank}; use 0 to {self.count - 1}.")
        return self._counter.at(rank)
