"""The search is exact: the k best of any small problem are those that trying everything finds."""

from __future__ import annotations

from itertools import product

from hypothesis import given, settings
from hypothesis import strategies as st

from fillwright.craft.routes.kbest import INFEASIBLE, Table, find_k_best

PRICES = st.one_of(st.integers(0, 30), st.integers(0, 30), st.just(INFEASIBLE))


@st.composite
def problems(draw: st.DrawFn) -> tuple[tuple[int, ...], list[Table]]:
    """Up to six cells of up to three values, and tables over up to three of them."""
    sizes = tuple(draw(st.lists(st.integers(1, 3), min_size=1, max_size=6)))
    tables = []
    for _ in range(draw(st.integers(0, 8))):
        cells = draw(st.sets(st.integers(0, len(sizes) - 1), min_size=1, max_size=3))
        scope = tuple(sorted(cells))
        count = 1
        for cell in scope:
            count *= sizes[cell]
        prices = draw(st.lists(PRICES, min_size=count, max_size=count))
        tables.append(Table(cells=scope, prices=tuple(prices)))
    return sizes, tables


def cost(values: tuple[int, ...], sizes: tuple[int, ...], tables: list[Table]) -> int:
    total = 0
    for table in tables:
        place = 0
        for cell in table.cells:
            place = place * sizes[cell] + values[cell]
        total += table.prices[place]
    return total


@settings(deadline=None)
@given(problems())
def test_every_assignment_comes_once_in_order_of_its_cost(problem: tuple[tuple[int, ...], list[Table]]) -> None:
    sizes, tables = problem
    everything = [(cost(values, sizes, tables), values) for values in product(*map(range, sizes))]
    feasible = sorted(pair for pair in everything if pair[0] < INFEASIBLE)
    found = list(find_k_best(sizes, tables))
    assert [price for price, _ in found] == [price for price, _ in feasible]
    assert sorted(found) == feasible
