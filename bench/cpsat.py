"""The objective of the search put to a general solver, OR-tools CP-SAT: a second opinion."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import product

from ortools.sat.python import cp_model

from fillwright.craft.routes.ideas import Idea
from fillwright.craft.routes.kbest import INFEASIBLE
from fillwright.craft.routes.prices import Priced
from fillwright.craft.routes.search import Problem


def optimum(problems: Sequence[Problem], *, workers: int = 2) -> int | None:
    """The least cost over all ideas of some problems, or None where nothing is feasible."""
    found = [
        cost + idea.price + problem.price
        for problem in problems
        for idea in problem.ideas
        if (cost := _least(problem, idea, workers)) is not None
    ]
    return min(found, default=None)


def _least(problem: Problem, idea: Idea, workers: int) -> int | None:
    """The least cost of the strokes under one idea."""
    model = cp_model.CpModel()
    count = len(problem.names)
    values = [model.new_int_var(0, count - 1 + bool(idea.moving), f"v{n}") for n in range(idea.size)]
    struck = [_struck(model, idea, values, number, count) for number in range(len(idea.cells))]
    costs = [_cost(model, one, struck, number, count) for number, one in enumerate(problem.strokes)]
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


def _struck(
    model: cp_model.CpModel, idea: Idea, values: list[cp_model.IntVar], number: int, count: int
) -> cp_model.IntVar:
    """The surface of a stroke: the value of its choice, or where "moving on" has come to."""
    value = values[idea.cells[number]]
    if not idea.moving:
        return value
    where = model.new_int_var(0, count - 1, f"s{number}")
    pairs = [(surface, surface) for surface in range(count)] + [(count, idea.moving[number])]
    model.add_allowed_assignments([value, where], pairs)
    return where


def _cost(
    model: cp_model.CpModel, one: Priced, struck: list[cp_model.IntVar], number: int, count: int
) -> cp_model.IntVar | None:
    """The price of a stroke by where the hands were and where it goes; None if nothing is feasible."""
    involved = [stroke for stroke in (one.own, one.other) if stroke is not None] + [number]
    rows = [
        (*chosen, price)
        for chosen, price in zip(product(range(count), repeat=len(involved)), one.prices, strict=True)
        if price < INFEASIBLE
    ]
    if not rows:
        return None
    cost = model.new_int_var(0, max(row[-1] for row in rows), f"c{number}")
    model.add_allowed_assignments([*(struck[stroke] for stroke in involved), cost], rows)
    return cost
