"""How many chains there are, and which stands at a place among them, by dynamic programming; none is listed."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from itertools import accumulate

from fillwright.craft.chains.graph import Graph, Node
from fillwright.craft.chains.rules import Filling


class Ways:
    """The number of ways on from every node of a graph.

    Attributes:
        total: how many chains there are.
        most: the largest number of ways on from any node.
    """

    def __init__(self, graph: Graph, needed: Sequence[int], allowed: frozenset[int] | None = None) -> None:
        """Count.

        Args:
            graph: places and turns.
            needed: numbers of the figures that must appear.
            allowed: numbers of the figures that may be used; None for all.
        """
        self._graph, self._needed, self._allowed = graph, needed, allowed
        nodes = graph.nodes(needed, allowed)
        self._start = nodes[0]
        self._ways: dict[Node, int] = {}
        for node in reversed(nodes):
            ends = 0 if node[2] else len(graph.endings(node[0], node[1]))
            steps = graph.steps(node, needed, allowed)
            self._ways[node] = ends + sum(self._ways[after] for _, after in steps)
        self.total = self._ways[self._start]
        self.most = max(self._ways.values())

    def at(self, rank: int) -> Filling:
        """The chain of that number, from 0, in the order of the readings; each number is a chain of its own."""
        path: list[int] = []
        node = self._start
        while True:
            endings = () if node[2] else self._graph.endings(node[0], node[1])
            if rank < len(endings):
                return self._graph.filling(path, endings[rank])
            steps = tuple(self._graph.steps(node, self._needed, self._allowed))
            below = list(accumulate((self._ways[after] for _, after in steps), initial=len(endings)))
            place = bisect_right(below, rank) - 1
            edge, node = steps[place]
            path.append(edge.reading)
            rank -= below[place]
