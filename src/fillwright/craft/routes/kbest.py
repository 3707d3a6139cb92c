"""The best assignments of a sum of small tables, in order and exactly.

Cells take values; each table prices the values of a few cells; the cost of an assignment is the sum of its
prices. Cells are eliminated from the last to the first. Where that would need a table over too many cells it is
split, which leaves a bound that is never too high; a best-first walk over partial assignments then gives every
assignment in the order of its true cost. (Bucket elimination, mini-buckets and A* are textbook methods.)
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cache
from heapq import heappop, heappush
from itertools import count, product
from operator import add

INFEASIBLE = 10**9
"""A price that forbids; sums with it stay above it."""

_WIDTH = 2
_EFFORT = 20_000


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """Prices of the values of some cells.

    Attributes:
        cells: which cells, ascending, at least one.
        prices: one whole number from 0 per combination of values, the last cell's value running fastest.
    """

    cells: tuple[int, ...]
    prices: tuple[int, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Excess:
    """What each value of a cell costs more than the best one, given the cells before it.

    Attributes:
        cells: the cells before it that matter.
        strides: how far each of them moves in `rows`.
        rows: for each combination of their values, the excess of each value.
    """

    cells: tuple[int, ...]
    strides: tuple[int, ...]
    rows: tuple[tuple[int, ...], ...]


def k_best(
    sizes: Sequence[int], tables: Sequence[Table], *, effort: int = _EFFORT
) -> Iterator[tuple[int, tuple[int, ...]]]:
    """Every feasible assignment from the cheapest on, as pairs of cost and one value per cell.

    Args:
        sizes: how many values each cell has.
        tables: what they cost.
        effort: how many partial assignments to look into; those found up to then are the cheapest ones.

    >>> dear = Table(cells=(0, 1), prices=(5, 1, 2, 9))
    >>> list(k_best((2, 2), [dear]))
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
        for value, more in enumerate(_more(excesses[len(chosen)], chosen)):
            if cost + more < INFEASIBLE:
                longer = (*chosen, value)
                heappush(heap, (cost + more, -len(longer), next(ticket), longer))


def _more(excesses: Sequence[_Excess], chosen: tuple[int, ...]) -> Sequence[int]:
    """The excess of each value of the next cell."""
    total: Sequence[int] = ()
    for one in excesses:
        place = sum(chosen[cell] * stride for cell, stride in zip(one.cells, one.strides, strict=True))
        row = one.rows[place]
        total = list(map(add, total, row)) if total else row
    return total


def _eliminate(sizes: Sequence[int], tables: Sequence[Table]) -> tuple[int, list[list[_Excess]]]:
    """A bound on every cost, and for each cell what its values cost above it."""
    buckets: list[list[Table]] = [[] for _ in sizes]
    for table in tables:
        buckets[table.cells[-1]].append(table)
    bound = 0
    excesses: list[list[_Excess]] = [[] for _ in sizes]
    for cell in reversed(range(len(sizes))):
        own = buckets[cell] or [Table(cells=(cell,), prices=(0,) * sizes[cell])]
        for scope, group in _groups(own):
            prices = _joined(scope, group, sizes)
            width = sizes[cell]
            rows = [prices[start : start + width] for start in range(0, len(prices), width)]
            least = [min(row) for row in rows]
            before = scope[:-1]
            excesses[cell].append(
                _Excess(
                    cells=before,
                    strides=_strides(before, sizes),
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


def _groups(tables: Sequence[Table]) -> list[tuple[tuple[int, ...], list[Table]]]:
    """Tables of one cell in groups over few other cells, the widest first."""
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


def _joined(scope: tuple[int, ...], group: Sequence[Table], sizes: Sequence[int]) -> list[int]:
    """The sum of tables over one scope."""
    total: list[int] = []
    for table in group:
        prices: Sequence[int] = table.prices
        if table.cells != scope:
            places = tuple(scope.index(cell) for cell in table.cells)
            spread = _spread(tuple(sizes[cell] for cell in scope), places)
            prices = [prices[place] for place in spread]
        total = list(map(add, total, prices)) if total else list(prices)
    return total


@cache
def _spread(sizes: tuple[int, ...], places: tuple[int, ...]) -> tuple[int, ...]:
    """Where each combination of a scope stands in a table over some of its places."""
    strides = _strides(places, sizes)
    return tuple(
        sum(values[place] * stride for place, stride in zip(places, strides, strict=True))
        for values in product(*map(range, sizes))
    )


def _strides(cells: tuple[int, ...], sizes: Sequence[int]) -> tuple[int, ...]:
    strides = []
    width = 1
    for cell in reversed(cells):
        strides.append(width)
        width *= sizes[cell]
    return tuple(reversed(strides))
