"""Every chain that fills a span under some rules: how many, the best, and fair random ones."""

from __future__ import annotations

from collections.abc import Sequence
from random import Random

from fillwright.craft.chains.best import Best
from fillwright.craft.chains.counting import Ways
from fillwright.craft.chains.figure_limit import FewFigures, is_free
from fillwright.craft.chains.graph import Graph
from fillwright.craft.chains.readings import Reading
from fillwright.craft.chains.rules import FREE, Filling, Rules
from fillwright.errors import FitError
from fillwright.music.meter import Meter
from fillwright.music.phrase import Span


class ChainSpace:
    """The chains of a span.

    A chain is a sequence of readings (figure, rhythm, lead) and what fills its remainder; two sequences are two
    chains even where their strokes coincide.

    >>> from fractions import Fraction
    >>> from fillwright.craft.readings import readings
    >>> from fillwright.music.meter import meter
    >>> from fillwright.music.rudiments import find_figure
    >>> four = meter("4/4")
    >>> beat = Span(start=Fraction(3, 4), length=Fraction(1, 4))
    >>> space = ChainSpace(beat, four, readings([find_figure("single paradiddle")], four))
    >>> space.count
    6
    >>> [reading.rhythm_name for reading in space.best(1)[0].chain.readings]
    ['sixteenths']
    """

    def __init__(self, span: Span, meter: Meter, readings: Sequence[Reading], rules: Rules = FREE) -> None:
        """Over a span.

        Args:
            span: where it lies, in whole notes from the start of the phrase; at most 8 bars.
            meter: of the phrase.
            readings: what chains are made of, in the order preferred among equals.
            rules: what is asked of a chain.

        Raises:
            SpanError: for a span that is empty, longer than 8 bars, or not on a subdivision.
            FitError: for rules that can't be, or too many sets of figures to count.
            UnknownNameError: for a name in `rules.only` that no reading has.
        """
        graph = Graph(span, meter, readings, rules)
        limited = rules.most is not None and not is_free(graph, rules.most)
        self._graph = graph
        self._most = rules.most if limited else None
        self._all = FewFigures(graph, self._most) if self._most else Ways(graph, graph.needed)

    @property
    def count(self) -> int:
        """How many chains there are."""
        return self._all.total

    def best(self, number: int) -> tuple[Filling, ...]:
        """The best chains: by cost, equals in the order of the readings.

        Args:
            number: how many; fewer are returned where there are not so many.

        Raises:
            FitError: where a chain could have more than 400 turns.
        """
        return tuple(Best(self._graph, self._most).chains(min(number, self.count)))

    def draw(self, number: int, *, seed: int) -> tuple[Filling, ...]:
        """Random chains, each as likely as any other every time.

        Args:
            number: how many; none are returned where there are no chains.
            seed: the same seed gives the same chains.
        """
        if number < 0:
            raise FitError(f"{number} chains can't be drawn; ask for 0 or more.")
        chance = Random(seed)
        return tuple(self._all.at(chance.randrange(self.count)) for _ in range(number if self.count else 0))

    def at(self, rank: int) -> Filling:
        """The chain of a number, from 0 and below `count`; each number is a chain of its own.

        Raises:
            FitError: for a number that no chain has.
        """
        if not 0 <= rank < self.count:
            raise FitError(f"There is no chain {rank}; they are numbered 0 to {self.count - 1}.")
        return self._all.at(rank)
