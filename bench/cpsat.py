"""Solve the search's problem with a general solver, OR-Tools CP-SAT, to check the search."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import product

from ortools.sat.python import cp_model

from fillwright.craft.routes.ideas import Idea
from fillwright.craft.routes.kbest import INFEASIBLE
from fillwright.craft.routes.prices import StrokePrices
from fillwright.craft.routes.search import Problem


def find_optimum(problems: Sequence[Problem], *, workers: int = 2) -> int | None:
    """Return the least cost over all ideas of some problems, or None for no feasible route."""
    costs = [
        cost + idea.price + problem.price
        for problem in problems
        for idea in problem.ideas
        if (cost := _solve_idea(problem, idea, workers)) is not None
    ]
    return min(costs, default=None)


def _solve_idea(problem: Problem, idea: Idea, workers: int) -> int | None:
    """Return the least cost of the strokes under one idea, or None for no feasible route."""
    model = cp_model.CpModel()
    count = len(problem.names)
    values = [model.new_int_var(0, count - 1 + bool(idea.moving), f"v{n}") for n in range(idea.size)]
    surfaces = [_add_surface(model, idea, values, number, count) for number in range(len(idea.cells))]
    costs = [_add_cost(model, stroke, surfaces, number, count) for number, stroke in enumerate(problem.strokes)]
    if any(cost is None for cost in costs):
        return None
    model.minimize(sum(costs))
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = workers
    status = solver.solve(model)
    if status == cp_model.INFEASIBLE:
        return None
    if status != cp_model.OPTIMAL:
        raise RuntimeError(f"the solver gave up: {solver.status_name(status)}")
    return round(solver.objective_value)


def _add_surface(
    model: cp_model.CpModel, idea: Idea, values: list[cp_model.IntVar], number: int, count: int
) -> cp_model.IntVar:
    """Return the variable of a stroke's surface: the value of its choice, or the surface of "moving on"."""
    value = values[idea.cells[number]]
    if not idea.moving:
        return value
    where = model.new_int_var(0, count - 1, f"s{number}")
    pairs = [(surface, surface) for surface in range(count)] + [(count, idea.moving[number])]
    model.add_allowed_assignments([value, where], pairs)
    return where


def _add_cost(
    model: cp_model.CpModel, prices: StrokePrices, surfaces: list[cp_model.IntVar], number: int, count: int
) -> cp_model.IntVar | None:
    """Return the variable of a stroke's price, or None if no surface is feasible."""
    involved = [stroke for stroke in (prices.before, prices.other) if stroke is not None] + [number]
    rows = [
        (*chosen, price)
        for chosen, price in zip(product(range(count), repeat=len(involved)), prices.prices, strict=True)
        if price < INFEASIBLE
    ]
    if not rows:
        return None
    cost = model.new_int_var(0, max(row[-1] for row in rows), f"c{number}")
    model.add_allowed_assignments([*(surfaces[stroke] for stroke in involved), cost], rows)
    return cost
