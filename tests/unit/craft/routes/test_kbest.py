from __future__ import annotations

from itertools import product

from fillwright.craft.routes.kbest import INFEASIBLE, Table, find_k_best


def test_assignments_come_from_the_cheapest_on() -> None:
    tables = [Table(cells=(0,), prices=(3, 0)), Table(cells=(0, 1), prices=(0, 4, 2, 7))]
    found = list(find_k_best((2, 2), tables))
    assert found[:2] == [(2, (1, 0)), (3, (0, 0))]
    assert sorted(found[2:]) == [(7, (0, 1)), (7, (1, 1))]


def test_a_forbidden_assignment_never_comes() -> None:
    tables = [Table(cells=(0, 1), prices=(1, INFEASIBLE, INFEASIBLE, 2))]
    assert list(find_k_best((2, 2), tables)) == [(1, (0, 0)), (2, (1, 1))]


def test_nothing_feasible_gives_nothing() -> None:
    assert list(find_k_best((2,), [Table(cells=(0,), prices=(INFEASIBLE, INFEASIBLE))])) == []
    apart = [
        Table(cells=(0,), prices=(INFEASIBLE, 0)),
        Table(cells=(0, 1), prices=(0, 0, INFEASIBLE, INFEASIBLE)),
    ]
    assert list(find_k_best((2, 2), apart)) == []


def test_a_cell_without_a_price_is_free() -> None:
    assert list(find_k_best((2, 2), [Table(cells=(1,), prices=(0, 5))])) == [
        (0, (0, 0)),
        (0, (1, 0)),
        (5, (0, 1)),
        (5, (1, 1)),
    ]


def test_effort_ends_the_search_with_the_cheapest_found() -> None:
    tables = [Table(cells=(n,), prices=(0, 1)) for n in range(6)]
    some = list(find_k_best((2,) * 6, tables, effort=20))
    assert 0 < len(some) < 64
    assert some[0] == (0, (0,) * 6)


def test_cells_that_all_hang_together_are_still_in_order() -> None:
    """Six cells, each priced with each other one: wider than what is eliminated exactly."""
    tables = [
        Table(
            cells=(a, b),
            prices=tuple(
                (3 * a + 5 * b + 7 * x + 2 * y * (a + 1)) % 11 for x, y in product(range(3), repeat=2)
            ),
        )
        for a in range(6)
        for b in range(a + 1, 6)
    ]
    found = list(find_k_best((3,) * 6, tables, effort=100_000))
    brute = sorted(
        sum(table.prices[3 * values[table.cells[0]] + values[table.cells[1]]] for table in tables)
        for values in product(range(3), repeat=6)
    )
    assert [cost for cost, _ in found] == brute
