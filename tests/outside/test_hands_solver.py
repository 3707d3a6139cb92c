"""A general solver finds the same best sticking.

Source: OR-tools CP-SAT (its optimum, with demands as whole numbers of millionths on both sides)
"""

from __future__ import annotations

import random
from collections.abc import Iterator

import pytest
from ortools.sat.python import cp_model

from fillwright.craft.sticking.pairing import Limits, Pairing, SharedStroke, Tables, Way

MILLION = 1_000_000
LEAST = 0.75
INSTANCES = 200


def instance(seed: int) -> Pairing:
    """Strokes at random on a few surfaces at random distances, with every rule of the model at work."""
    chance = random.Random(seed)
    count, surfaces = chance.randint(4, 9), chance.randint(1, 4)
    at, strokes = 0.0, []
    for _ in range(count):
        at += chance.choice((0.0, 0.008, 0.03, 0.06, 0.1, 0.15, 0.3, 0.7))
        strokes.append(
            SharedStroke(
                at_seconds=at,
                ahead_seconds=0.0,
                surface=chance.randrange(surfaces),
                velocity=chance.choice((0, 25, 30, 60, 100)),
            )
        )
    x = [chance.uniform(-60, 60) for _ in range(surfaces)]

    def row(a: int, limb: int) -> tuple[float, ...]:
        return tuple(0.11 + 0.001 * abs(x[a] - x[b]) + 0.005 * limb for b in range(surfaces))

    tables = Tables(
        fresh=tuple(tuple(row(a, limb) for a in range(surfaces)) for limb in (0, 1)),
        rebound=((0.05,) * surfaces,) * 2,
        bounce=((0.02,) * surfaces,) * 2,
        crossed=tuple(
            tuple(
                tuple(x[a] < x[b] if limb == 0 else x[a] > x[b] for b in range(surfaces))
                for a in range(surfaces)
            )
            for limb in (0, 1)
        ),
    )
    limits = Limits(
        rebounds=1,
        crossing_seconds=0.025,
        clear_seconds=0.35,
        grace_seconds=0.035,
        soft_velocity=45,
        bounce_gap_seconds=0.045,
        bounce_share=1.25,
        bounce_steps=8,
        jitter_seconds=0.012,
    )
    return Pairing(strokes, tables, limits)


class Model:
    """Each limb walks from stroke to stroke; a node is a stroke with the rebounds in a row that led there."""

    def __init__(self, pairing: Pairing) -> None:
        self.pairing = pairing
        self.model = cp_model.CpModel()
        self.count = len(pairing.strokes)
        self.first = [self.model.new_bool_var(f"limb 0 plays {n}") for n in range(self.count)]
        self.steps: list[tuple[cp_model.IntVar, int]] = []
        for limb in (0, 1):
            self._walk(limb)

    def plays(self, limb: int, number: int) -> cp_model.LiteralT:
        return self.first[number] if limb == 0 else self.first[number].Not()

    def _others(self, limb: int, before: int, now: int) -> Iterator[tuple[int, list[cp_model.LiteralT]]]:
        """The other limb's last stroke, and what must hold for it to be that one."""
        if before < now - 1:
            yield now - 1, []
            return
        for other in range(-1, now - 1):
            held = [self.plays(limb, number) for number in range(other + 1, now)]
            yield other, held if other < 0 else [self.plays(1 - limb, other), *held]

    def _walk(self, limb: int) -> None:
        model, pairing = self.model, self.pairing
        into: dict[tuple[int, int], list[cp_model.IntVar]] = {}
        out: dict[tuple[int, int], list[cp_model.IntVar]] = {}
        starts = []
        for now in range(self.count):
            starts.append(model.new_bool_var("start"))
            into.setdefault((now, 0), []).append(starts[-1])
            for before in range(now):
                for run in range(pairing.limits.rebounds + 1):
                    for other, held in self._others(limb, before, now):
                        crossed = pairing.is_crossed(limb, now, other)
                        for needed, gap, after, way in pairing.options(limb, before, run, now, crossed=crossed):
                            demand = needed / gap if way is Way.FRESH else max(needed / gap, LEAST)
                            step = model.new_bool_var("step")
                            for literal in held:
                                model.add_implication(step, literal)
                            into.setdefault((now, after), []).append(step)
                            out.setdefault((before, run), []).append(step)
                            self.steps.append((step, round(demand * MILLION)))
        model.add_at_most_one(starts)
        for number in range(self.count):
            runs = range(pairing.limits.rebounds + 1)
            arrived = [step for run in runs for step in into.get((number, run), [])]
            model.add(sum(arrived) == self.plays(limb, number))
            for run in runs:
                model.add(sum(out.get((number, run), [])) <= sum(into.get((number, run), [])))

    def least(self, objective: cp_model.LinearExprT) -> int:
        self.model.minimize(objective)
        solver = cp_model.CpSolver()
        solver.parameters.num_workers = 1
        assert solver.solve(self.model) == cp_model.OPTIMAL
        return round(solver.objective_value)


@pytest.mark.parametrize("block", range(10))
def test_peak_and_total_are_the_general_solvers_optimum(block: int) -> None:
    for seed in range(block, INSTANCES, 10):
        pairing = instance(seed)
        found = pairing.best(least=LEAST)
        own = [round(move.demand * MILLION) for move in found]
        general = Model(pairing)
        peak = general.model.new_int_var(0, 1000 * MILLION, "peak")
        for step, demand in general.steps:
            general.model.add(peak >= demand).only_enforce_if(step)
        assert general.least(peak) == max(own), seed
        general.model.add(peak <= max(own))
        total = general.least(sum(demand * step for step, demand in general.steps))
        assert abs(total - sum(own)) <= len(own), seed  # rounding: half a millionth for each stroke
