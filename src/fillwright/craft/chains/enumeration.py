"""Enumeration: count the chains of a graph, find the chain of a number, and list the best chains in order.

All three are exact and use dynamic programming over the nodes of the graph; no list of all chains is made.

- `ChainCounter` counts the ways on from every node.
- `LimitedCounter` counts chains of at most n different figures. For every set of at most n figures it needs the
  number of chains that use no figure outside the set. One pass counts them all: the counts are packed side by
  side into one long integer, one addition adds them for every set, and a mask lets a figure's readings count
  only for the sets that contain it. Subtracting the chains of the smaller sets leaves those that use every
  figure of their set, and each chain belongs to exactly one set.
- `BestChains` lists the chains cost by cost, those of one cost in the order of the readings. Before it takes a
  reading it knows whether a chain of exactly the remaining cost continues from there, so the search never goes
  back. With a limit of n different figures it knows that for every set of n figures at once: one bit for each.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator, Sequence
from itertools import accumulate, combinations
from math import comb

from fillwright.craft.chains.graph import Edge, Graph, Node
from fillwright.craft.chains.rules import REPEAT_COST, Filling
from fillwright.errors import FitError

MOST_SETS = 120_000  # sets of figures
MOST_BYTES = 250_000_000  # bytes of memory
"""The most sets of figures that are counted together, and the most bytes that their counts may take.

They are enough for any three of 40 figures over 6 bars, and for any four over 2 bars. Ours, not measured.
"""

MOST_REPETITIONS = 400
"""The most repetitions in a chain that `BestChains` looks for; 8 bars of 12/8 have 384 thirty-seconds."""


class ChainCounter:
    """The number of ways on from every node of a graph.

    Attributes:
        total: how many chains there are.
        most: the largest number of ways on from any node.
    """

    def __init__(self, graph: Graph, needed: Sequence[int], allowed: frozenset[int] | None = None) -> None:
        """Count the ways on from every node.

        Args:
            graph: places and repetitions.
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
        """Return the chain of a number, from 0, in the order of the readings; no two numbers share a chain."""
        path: list[int] = []
        node = self._start
        while True:
            endings = () if node[2] else self._graph.endings(node[0], node[1])
            if rank < len(endings):
                return self._graph.filling(path, endings[rank])
            steps = tuple(self._graph.steps(node, self._needed, self._allowed))
            below = list(accumulate((self._ways[after] for _, after in steps), initial=len(endings)))
            number = bisect_right(below, rank) - 1
            edge, node = steps[number]
            path.append(edge.reading)
            rank -= below[number]


def is_within_limit(graph: Graph, most: int) -> bool:
    """Return True if no chain of the span can have more than `most` different figures."""
    shortest: dict[int, int] = {}
    for reading in graph.readings:
        figure = graph.figures.index(reading.figure.name)
        length = graph.units(reading.length)
        shortest[figure] = min(length, shortest.get(figure, length))
    fewest = sorted(shortest.values())[: most + 1]
    return len(fewest) <= most or sum(fewest) > graph.end


class LimitedCounter:
    """The chains of a graph with at most n different figures, counted by their set of figures.

    Attributes:
        total: how many there are.
    """

    def __init__(self, graph: Graph, most: int) -> None:
        """Count the chains of every set of at most `most` figures.

        Raises:
            FitError: for too many sets of figures to count.
        """
        self._graph = graph
        numbers = range(len(graph.figures))
        _check_size(graph, most)
        sets = [frozenset(chosen) for size in range(1, most + 1) for chosen in combinations(numbers, size)]
        used = _count_exact(sets, _count_within(graph, sets))
        needed = frozenset(graph.needed)
        counts = [(figures, chains) for figures, chains in used.items() if chains and needed <= figures]
        self._sets = [figures for figures, _ in counts]
        self._below = list(accumulate((chains for _, chains in counts), initial=0))
        self.total = self._below[-1]

    def at(self, rank: int) -> Filling:
        """Return the chain of a number, from 0, set by set; no two numbers share a chain."""
        number = bisect_right(self._below, rank) - 1
        figures = self._sets[number]
        return ChainCounter(self._graph, sorted(figures), figures).at(rank - self._below[number])


def _check_size(graph: Graph, most: int) -> None:
    number = sum(comb(len(graph.figures), size) for size in range(1, most + 1))
    nodes = len(graph.nodes(()))
    countable = min(MOST_SETS, MOST_BYTES // (nodes * _find_count_bytes(graph)))
    if number > countable:
        raise FitError(
            f"At most {most} different figures out of {len(graph.figures)} are {number:,} sets of figures, and "
            f"over a span of this length at most {countable:,} can be counted; choose from fewer figures, use "
            "fewer different ones, or take a shorter span."
        )


def _find_count_bytes(graph: Graph) -> int:
    """Return how many bytes the largest count of ways on from any node needs."""
    return ChainCounter(graph, ()).most.bit_length() // 8 + 1


def _count_within(graph: Graph, sets: Sequence[frozenset[int]]) -> list[int]:
    """Return for each set the number of chains that use no figure outside it."""
    size = _find_count_bytes(graph)
    unit, full, none = (1).to_bytes(size, "little"), b"\xff" * size, bytes(size)
    everywhere = int.from_bytes(unit * len(sets), "little")
    masks = [
        int.from_bytes(b"".join(full if figure in figures else none for figures in sets), "little")
        for figure in range(len(graph.figures))
    ]
    counts: dict[Node, int] = {}
    for node in reversed(graph.nodes(())):
        by_figure: dict[int, int] = {}
        for edge, after in graph.steps(node, ()):
            by_figure[edge.figure] = by_figure.get(edge.figure, 0) + counts[after]
        through = sum(packed & masks[figure] for figure, packed in by_figure.items())
        counts[node] = len(graph.endings(node[0], node[1])) * everywhere + through
    start = counts[0, None, 0].to_bytes(size * len(sets), "little")
    return [int.from_bytes(start[i : i + size], "little") for i in range(0, len(start), size)]


def _count_exact(sets: Sequence[frozenset[int]], within: Sequence[int]) -> dict[frozenset[int], int]:
    """Return for each set the number of chains that use all of its figures and no others."""
    used: dict[frozenset[int], int] = {}
    for figures, chains in zip(sets, within, strict=True):
        smaller = (
            used[frozenset(part)] for size in range(1, len(figures)) for part in combinations(figures, size)
        )
        used[figures] = chains - sum(smaller)
    return used


class BestChains:
    """The chains of a graph in the order of their costs."""

    def __init__(self, graph: Graph, most: int | None) -> None:
        """Find the least cost to the end from every node.

        Args:
            graph: places and repetitions.
            most: at most so many different figures, fewer than there are; None for any number.

        Raises:
            FitError: for a graph whose chains could have more than 400 repetitions.
        """
        shortest = min((graph.units(reading.length) for reading in graph.readings), default=graph.end)
        if graph.end > MOST_REPETITIONS * shortest:
            raise FitError(
                f"Chains of {graph.end // shortest} repetitions can't be searched for the best, at most "
                f"{MOST_REPETITIONS} can; take a shorter span or longer figures."
            )
        self._graph = graph
        figures = range(len(graph.figures))
        sets = [()] if most is None else list(combinations(figures, most))
        self._all = (1 << len(sets)) - 1
        self._holding = [
            self._all if most is None else _pack_bits([figure in chosen for chosen in sets])
            for figure in figures
        ]
        nodes = graph.nodes(graph.needed)
        self._start = nodes[0]
        self._exits = {node: self._find_exits(node) for node in nodes}
        self._least: dict[Node, dict[int | None, int]] = {}
        for node in reversed(nodes):
            self._least[node] = self._find_least_costs(node)
        self._after: dict[tuple[Node, int, int], int] = {}

    def _find_exits(self, node: Node) -> dict[int, list[tuple[int, Node]]]:
        """Return for each figure its (cost, next node) pairs from a node, each pair once."""
        exits: dict[int, dict[tuple[int, Node], None]] = {}
        for edge, after in self._graph.steps(node, self._graph.needed):
            exits.setdefault(edge.figure, {})[edge.cost, after] = None
        return {figure: list(pairs) for figure, pairs in exits.items()}

    def _find_least_costs(self, node: Node) -> dict[int | None, int]:
        """Return the least cost to the end by the next figure, None for an ending; ignores sets of figures."""
        costs: dict[int | None, int] = {}
        for figure, pairs in self._exits[node].items():
            reached = [cost + self._find_cheapest(after, figure) for cost, after in pairs if self._least[after]]
            if reached:
                costs[figure] = min(reached)
        if ending := [self._graph.ending_cost(ending) for ending in self._endings(node)]:
            costs[None] = min(ending)
        return costs

    def _find_cheapest(self, node: Node, before: int) -> int:
        """Return the least cost to the end from a node after a figure; there must be a way."""
        return min(cost + REPEAT_COST * (figure == before) for figure, cost in self._least[node].items())

    def _endings(self, node: Node) -> tuple[int | None, ...]:
        return () if node[2] else self._graph.endings(node[0], node[1])

    def chains(self, number: int) -> Iterator[Filling]:
        """Yield the best chains, the cheapest first.

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
        """Yield the chains of exactly that cost from a node on, inside one of those sets, in order."""
        for ending in self._endings(node):
            if self._graph.ending_cost(ending) == cost:
                yield self._graph.filling([edge.reading for edge in path], ending)
        for edge, after in self._graph.steps(node, self._graph.needed):
            inside = sets & self._holding[edge.figure]
            left = cost - edge.cost - REPEAT_COST * (path[-1:] != () and path[-1].figure == edge.figure)
            if inside & self._reach(after, left, edge.figure):
                yield from self._walk(after, left, inside, (*path, edge))

    def _reach(self, node: Node, cost: int, before: int) -> int:
        """Return as bits the sets inside which a chain of that cost goes on from a node after a figure."""
        least = self._least[node]
        ends = any(self._graph.ending_cost(ending) == cost for ending in self._endings(node))
        reached = self._all if ends else 0
        for figure in self._exits[node]:
            if reached == self._all:
                break
            left = cost - REPEAT_COST * (figure == before)
            if least.get(figure, left + 1) <= left:
                reached |= self._reach_through(node, left, figure)
        return reached

    def _reach_through(self, node: Node, cost: int, figure: int) -> int:
        """Return the same bits for chains that go on with a figure whose repeat is already paid for."""
        key = (node, cost, figure)
        if key not in self._after:
            reached = 0
            for paid, after in self._exits[node][figure]:
                reached |= self._reach(after, cost - paid, figure)
            self._after[key] = reached & self._holding[figure]
        return self._after[key]


def _pack_bits(flags: list[bool]) -> int:
    return int("".join("1" if flag else "0" for flag in reversed(flags)), 2)
