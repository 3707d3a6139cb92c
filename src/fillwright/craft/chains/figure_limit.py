"""Chains of at most so many different figures, exactly.

For every set of at most n figures we need the number of chains that use no figure outside it. They are all
counted in one pass: the counts stand side by side in one long integer, so that one addition adds them for every
set, and a mask lets a figure's turns count only for the sets that hold it. Taking away the smaller sets' chains
leaves those that use every figure of their set, and each chain is one of exactly one set.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from itertools import accumulate, combinations
from math import comb

from fillwright.craft.chains.counting import Ways
from fillwright.craft.chains.graph import Graph, Node
from fillwright.craft.chains.rules import Filling
from fillwright.errors import FitError

MOST_SETS = 120_000
MOST_BYTES = 250_000_000
"""The most sets of figures that are counted together, and the most bytes that their counts may take.

They are enough for any three of 40 figures over 6 bars, and for any four over 2.
"""


def is_free(graph: Graph, most: int) -> bool:
    """Whether no chain of the span can have more than so many different figures."""
    shortest: dict[int, int] = {}
    for reading in graph.readings:
        figure = graph.figures.index(reading.figure.name)
        length = graph.units(reading.length)
        shortest[figure] = min(length, shortest.get(figure, length))
    fewest = sorted(shortest.values())[: most + 1]
    return len(fewest) <= most or sum(fewest) > graph.end


class FewFigures:
    """The chains of a graph with at most so many different figures, counted by their set of figures.

    Attributes:
        total: how many there are.
    """

    def __init__(self, graph: Graph, most: int) -> None:
        """Count.

        Raises:
            FitError: where there are too many sets of figures to count.
        """
        self._graph = graph
        names = range(len(graph.figures))
        _check_size(graph, most)
        sets = [frozenset(each) for size in range(1, most + 1) for each in combinations(names, size)]
        used = _exactly(sets, _within(graph, sets))
        needed = frozenset(graph.needed)
        kept = [(figures, chains) for figures, chains in used.items() if chains and needed <= figures]
        self._sets = [figures for figures, _ in kept]
        self._below = list(accumulate((chains for _, chains in kept), initial=0))
        self.total = self._below[-1]

    def at(self, rank: int) -> Filling:
        """The chain of that number, from 0, set by set; each number is a chain of its own."""
        place = bisect_right(self._below, rank) - 1
        figures = self._sets[place]
        return Ways(self._graph, sorted(figures), figures).at(rank - self._below[place])


def _check_size(graph: Graph, most: int) -> None:
    number = sum(comb(len(graph.figures), size) for size in range(1, most + 1))
    places = len(graph.nodes(()))
    room = min(MOST_SETS, MOST_BYTES // (places * _count_size(graph)))
    if number > room:
        raise FitError(
            f"At most {most} different figures out of {len(graph.figures)} are {number:,} sets of figures, and "
            f"over a span of this length at most {room:,} can be counted; choose from fewer figures, ask for "
            "fewer different ones, or take a shorter span."
        )


def _count_size(graph: Graph) -> int:
    """How many bytes hold the number of ways on from any place."""
    return Ways(graph, ()).most.bit_length() // 8 + 1


def _within(graph: Graph, sets: Sequence[frozenset[int]]) -> list[int]:
    """For each set, the number of chains that use no figure outside it."""
    size = _count_size(graph)
    one, full, none = (1).to_bytes(size, "little"), b"\xff" * size, bytes(size)
    everywhere = int.from_bytes(one * len(sets), "little")
    masks = [
        int.from_bytes(b"".join(full if figure in each else none for each in sets), "little")
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


def _exactly(sets: Sequence[frozenset[int]], within: Sequence[int]) -> dict[frozenset[int], int]:
    """For each set, the number of chains that use all of it and nothing else."""
    used: dict[frozenset[int], int] = {}
    for figures, chains in zip(sets, within, strict=True):
        smaller = (
            used[frozenset(part)] for size in range(1, len(figures)) for part in combinations(figures, size)
        )
        used[figures] = chains - sum(smaller)
    return used
