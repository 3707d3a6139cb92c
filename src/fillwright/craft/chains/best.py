"""The best chains in order, exactly.

Costs are whole numbers, so the chains are written out cost by cost, each cost's in the order of the readings.
Before a turn is taken, it is known whether a chain of exactly the cost that is left lies behind it, so the
search never turns back. Where at most n different figures are asked for, that is known for every set of n
figures at once: a bit for each.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations

from fillwright.craft.chains.graph import Edge, Graph, Node
from fillwright.craft.chains.rules import REPEAT_COST, Filling
from fillwright.errors import FitError

MOST_TURNS = 400
"""The most turns of a chain that is looked for; 8 bars of 12/8 in thirty-seconds have 384 strokes."""


class Best:
    """The chains of a graph in the order of their costs."""

    def __init__(self, graph: Graph, most: int | None) -> None:
        """Over a graph.

        Args:
            graph: places and turns.
            most: at most so many different figures, fewer than there are; None for any number.

        Raises:
            FitError: where a chain could have more turns than can be looked through.
        """
        shortest = min((graph.units(reading.length) for reading in graph.readings), default=graph.end)
        if graph.end > MOST_TURNS * shortest:
            raise FitError(
                f"The best of chains of {graph.end // shortest} turns can't be found, {MOST_TURNS} can be; "
                "take a shorter span or longer figures."
            )
        self._graph = graph
        figures = range(len(graph.figures))
        sets = [()] if most is None else list(combinations(figures, most))
        self._all = (1 << len(sets)) - 1
        self._holding = [
            self._all if most is None else _bits([figure in each for each in sets]) for figure in figures
        ]
        nodes = graph.nodes(graph.needed)
        self._start = nodes[0]
        self._exits = {node: self._exits_of(node) for node in nodes}
        self._least: dict[Node, dict[int | None, int]] = {}
        for node in reversed(nodes):
            self._least[node] = self._least_costs(node)
        self._behind: dict[tuple[Node, int, int], int] = {}

    def _exits_of(self, node: Node) -> dict[int, list[tuple[int, Node]]]:
        """For each figure the costs of its turns from a node, with the nodes they lead to, each pair once."""
        exits: dict[int, dict[tuple[int, Node], None]] = {}
        for edge, after in self._graph.steps(node, self._graph.needed):
            exits.setdefault(edge.figure, {})[edge.cost, after] = None
        return {figure: list(pairs) for figure, pairs in exits.items()}

    def _least_costs(self, node: Node) -> dict[int | None, int]:
        """The least cost to the end by the figure that comes next, None for an ending; sets left aside."""
        costs: dict[int | None, int] = {}
        for figure, pairs in self._exits[node].items():
            reached = [cost + self._cheapest(after, figure) for cost, after in pairs if self._least[after]]
            if reached:
                costs[figure] = min(reached)
        if ending := [self._graph.ending_cost(ending) for ending in self._endings(node)]:
            costs[None] = min(ending)
        return costs

    def _cheapest(self, node: Node, before: int) -> int:
        """The least cost to the end from a node behind a figure; there must be a way."""
        return min(cost + REPEAT_COST * (figure == before) for figure, cost in self._least[node].items())

    def _endings(self, node: Node) -> tuple[int | None, ...]:
        return () if node[2] else self._graph.endings(node[0], node[1])

    def chains(self, number: int) -> Iterator[Filling]:
        """The best chains.

        Args:
            number: how many; not more than there are.
        """
        cost = 0
        while number > 0:
            for filling in self._walk(self._start, cost, self._all, ()):
                yield filling
                number -= 1
                if number == 0:
                    return
            cost += 1

    def _walk(self, node: Node, cost: int, sets: int, path: tuple[Edge, ...]) -> Iterator[Filling]:
        """The chains of exactly that cost from a node on, inside one of those sets, in order."""
        for ending in self._endings(node):
            if self._graph.ending_cost(ending) == cost:
                yield self._graph.filling([edge.reading for edge in path], ending)
        for edge, after in self._graph.steps(node, self._graph.needed):
            inside = sets & self._holding[edge.figure]
            left = cost - edge.cost - REPEAT_COST * (path[-1:] != () and path[-1].figure == edge.figure)
            if inside & self._reach(after, left, edge.figure):
                yield from self._walk(after, left, inside, (*path, edge))

    def _reach(self, node: Node, cost: int, before: int) -> int:
        """The sets inside which a chain of exactly that cost leads on from a node behind a figure, as bits."""
        least = self._least[node]
        ends = any(self._graph.ending_cost(ending) == cost for ending in self._endings(node))
        found = self._all if ends else 0
        for figure in self._exits[node]:
            if found == self._all:
                break
            left = cost - REPEAT_COST * (figure == before)
            if least.get(figure, left + 1) <= left:
                found |= self._through(node, left, figure)
        return found

    def _through(self, node: Node, cost: int, figure: int) -> int:
        """The same for chains that go on with a figure, its repeat already paid for."""
        key = (node, cost, figure)
        if key not in self._behind:
            found = 0
            for paid, after in self._exits[node][figure]:
                found |= self._reach(after, cost - paid, figure)
            self._behind[key] = found & self._holding[figure]
        return self._behind[key]


def _bits(flags: list[bool]) -> int:
    return int("".join("1" if flag else "0" for flag in reversed(flags)), 2)
