"""The best assignments of a sum of small tables, in order and exactly.

Cells take values; each table prices the values of a few cells; the cost of an assignment is the sum of its
prices. Cells are eliminated from the last to the first. A table over too many cells is split, which leaves a
lower bound; a best-first search over partial assignments then gives every assignment in order of exact cost.
(Bucket elimination, mini-buckets and A* are textbook methods.)
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cache
from heapq import heappop, heappush
from itertools import count, product
from operator import add

INFEASIBLE = 10**9
"""A price that forbids an assignment; sums with it stay above it."""

_WIDTH = 2  # the most earlier cells of a table during elimination; ours, not measured
_EFFORT = 20_000  # partial assignments looked into for one idea; ours, not measured


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """Prices of the values of some cells.

    Attributes:
        cells: numbers of the cells, ascending, at least one.
        prices: a whole number, 0 or more, for each combination of values; the last cell's value runs fastest.
    """

    cells: tuple[int, ...]
    prices: tuple[int, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Excess:
    """The extra cost of each value of a cell over its best one, by the values of cells before it.

    Attributes:
        cells: the cells before it that matter.
        strides: step in `rows` for each of them.
        rows: for each combination of their values, the extra cost of each value.
    """

    cells: tuple[int, ...]
    strides: tuple[int, ...]
    rows: tuple[tuple[int, ...], ...]


def find_k_best(
    sizes: Sequence[int], tables: Sequence[Table], *, effort: int = _EFFORT
) -> Iterator[tuple[int, tuple[int, ...]]]:
    """Yield every feasible assignment from the cheapest on, as pairs of cost and one value for each cell.

    Args:
        sizes: number of values of each cell.
        tables: their prices.
        effort: the most partial assignments to look into; the search stops there.

    >>> table = Table(cells=(0, 1), prices=(5, 1, 2, 9))
    >>> list(find_k_best((2, 2), [table]))
    [(1, (0, 1)), (2, (1, 0)), (5, (0, 0)), (9, (1, 1))]
    """
    bound, excesses = _eliminate(sizes, tables)
    if bound >= INFEASIBLE:
        return
    ticket = count()
    heap: list[tuple[int, int, int, tuple[int, ...]]] = [(bound, 0, next(ticket), ())]
    for _ in range(effort):
        if not heap:
            return
        cost, _, _, chosen = heappop(heap)
        if len(chosen) == len(sizes):
            yield cost, chosen
            continue
        for value, more in enumerate(_sum_excesses(excesses[len(chosen)], chosen)):
            if cost + more < INFEASIBLE:
                longer = (*chosen, value)
                heappush(heap, (cost + more, -len(longer), next(ticket), longer))


def _sum_excesses(excesses: Sequence[_Excess], chosen: tuple[int, ...]) -> Sequence[int]:
    """Return the extra cost of each value of the next cell."""
    total: Sequence[int] = ()
    for excess in excesses:
        index = sum(chosen[cell] * stride for cell, stride in zip(excess.cells, excess.strides, strict=True))
        row = excess.rows[index]
        total = list(map(add, total, row)) if total else row
    return total


def _eliminate(sizes: Sequence[int], tables: Sequence[Table]) -> tuple[int, list[list[_Excess]]]:
    """Return a lower bound of every cost, and for each cell the extra costs of its values."""
    buckets: list[list[Table]] = [[] for _ in sizes]
    for table in tables:
        buckets[table.cells[-1]].append(table)
    bound = 0
    excesses: list[list[_Excess]] = [[] for _ in sizes]
    for cell in reversed(range(len(sizes))):
        bucket = buckets[cell] or [Table(cells=(cell,), prices=(0,) * sizes[cell])]
        for scope, group in _group_tables(bucket):
            prices = _join_tables(scope, group, sizes)
            width = sizes[cell]
            rows = [prices[start : start + width] for start in range(0, len(prices), width)]
            least = [min(row) for row in rows]
            before = scope[:-1]
            excesses[cell].append(
                _Excess(
                    cells=before,
                    strides=_find_strides(before, sizes),
                    rows=tuple(
                        tuple([price - low for price in row]) for row, low in zip(rows, least, strict=True)
                    ),
                )
            )
            if before:
                buckets[before[-1]].append(Table(cells=before, prices=tuple(least)))
            else:
                bound += least[0]
    return bound, excesses


def _group_tables(tables: Sequence[Table]) -> list[tuple[tuple[int, ...], list[Table]]]:
    """Group tables of one cell so that each group has few other cells, the widest table first."""
    groups: list[tuple[set[int], list[Table]]] = []
    for table in sorted(tables, key=lambda table: -len(table.cells)):
        for cells, group in groups:
            if len(cells | set(table.cells)) <= _WIDTH + 1:
                cells |= set(table.cells)
                group.append(table)
                break
        else:
            groups.append((set(table.cells), [table]))
    return [(tuple(sorted(cells)), group) for cells, group in groups]


def _join_tables(scope: tuple[int, ...], group: Sequence[Table], sizes: Sequence[int]) -> list[int]:
    """Add tables over one scope."""
    total: list[int] = []
    for table in group:
        prices: Sequence[int] = table.prices
        if table.cells != scope:
            positions = tuple(scope.index(cell) for cell in table.cells)
            indices = _index_tables(tuple(sizes[cell] for cell in scope), positions)
            prices = [prices[index] for index in indices]
        total = list(map(add, total, prices)) if total else list(prices)
    return total


@cache
def _index_tables(sizes: tuple[int, ...], positions: tuple[int, ...]) -> tuple[int, ...]:
    """Return the index of each combination of a scope in a table over some of its positions."""
    strides = _find_strides(positions, sizes)
    return tuple(
        sum(values[position] * stride for position, stride in zip(positions, strides, strict=True))
        for values in product(*map(range, sizes))
    )


def _find_strides(cells: tuple[int, ...], sizes: Sequence[int]) -> tuple[int, ...]:
    strides = []
    width = 1
    for cell in reversed(cells):
        strides.append(width)
        width *= sizes[cell]
    return tuple(reversed(strides))
