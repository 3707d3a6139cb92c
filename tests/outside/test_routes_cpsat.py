"""The search finds the optimum that a general solver finds.

Source: OR-tools CP-SAT
"""

from __future__ import annotations

import importlib.util
import sys
import warnings
from fractions import Fraction
from pathlib import Path
from random import Random
from types import ModuleType

import pytest

from fillwright.craft.chains.chain import Chain, repeat_figure
from fillwright.craft.player.kits import load_kits
from fillwright.craft.player.players import load_players
from fillwright.craft.routes.route import Setting
from fillwright.craft.routes.search import list_answers, list_problems
from fillwright.craft.routes.taste import Taste
from fillwright.music.figure import Figure, Rhythm
from fillwright.music.meter import find_meter
from fillwright.music.phrase import locate_last_beats
from fillwright.music.stroke import Kind, Level, Limb, Stroke

HERE = Path(__file__).parent
SEEDS = range(36)


@pytest.fixture(scope="module")
def cpsat() -> ModuleType:
    """The model of the benchmark, loaded from its file; the solver's binding warns of itself when it loads."""
    spec = importlib.util.spec_from_file_location("routes_cpsat", HERE.parents[1] / "bench" / "cpsat.py")
    assert spec
    assert spec.loader
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        spec.loader.exec_module(module)
    return module


def some_chain(dice: Random) -> Chain:
    """A few strokes with one rhythm, played once or more, over four beats at most."""
    strokes = tuple(
        Stroke(
            hand=dice.choice((Limb.RIGHT, Limb.LEFT)),
            kind=dice.choice((Kind.SINGLE, Kind.SINGLE, Kind.SINGLE, Kind.FLAM, Kind.DRAG)),
            level=dice.choice(tuple(Level)),
        )
        for _ in range(dice.randint(1, 4))
    )
    lengths = (dice.choice((Fraction(1, 8), Fraction(1, 12), Fraction(1, 16))),) * len(strokes)
    figure = Figure(
        name="own",
        group="own",
        strokes=strokes,
        rhythms=(Rhythm(name="own", lengths=lengths),),
        alternates=dice.random() < 0.5,
    )
    return repeat_figure(figure, figure.rhythms[0], dice.randint(1, 2), strokes[0].hand)


def some_problem(seed: int) -> tuple[Chain, Setting, Taste]:
    """A chain, someone to play it and what is wanted of it."""
    dice = Random(seed)
    chain = some_chain(dice)
    setting = Setting(
        span=locate_last_beats(find_meter("4/4"), 4, chain.length * 4),
        meter=find_meter("4/4"),
        kit=dice.choice([*load_kits().values()]),
        player=dice.choice([*load_players().values()]),
        tempo=dice.choice((50, 80, 110, 220)),
    )
    taste = Taste(
        away=dice.random(),
        surfaces=dice.randint(2, 5),
        regular=dice.random(),
        cymbals=dice.random() < 0.5,
        kick=dice.random() < 0.3,
    )
    return chain, setting, taste


def least(seed: int) -> int | None:
    """What the search says."""
    return next((answer.cost for answer in list_answers(*some_problem(seed))), None)


@pytest.mark.parametrize("seed", SEEDS)
def test_the_optimum_is_the_one_of_a_general_solver(seed: int, cpsat: ModuleType) -> None:
    assert least(seed) == cpsat.find_optimum(list(list_problems(*some_problem(seed))), workers=1)


def test_there_are_instances_that_can_be_played_and_some_that_can_not() -> None:
    """Else the comparison would say less than it seems to."""
    found = [least(seed) is not None for seed in SEEDS]
    assert found.count(True) > 20
    assert found.count(False) > 2
