"""Phrases for the checks: every figure in its rhythms, through every step."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from functools import cache

import pytest

from fillwright.craft.brief import Brief
from fillwright.craft.chains.readings import fit_rhythms
from fillwright.craft.steps import plan_steps
from fillwright.music.grooves import load_grooves
from fillwright.music.meter import find_meter, list_meters
from fillwright.music.phrase import Phrase, build_landing, build_phrase
from fillwright.music.rudiments import find_figure, load_rudiments


@cache
def _phrases(name: str) -> tuple[Phrase, ...]:
    """A bar and its landing for each step of a rudiment.

    In 4/4 every rhythm goes through every step, the grooves in turn; in every other of the other meters one
    rhythm does, so that all are seen over the 40 rudiments.
    """
    return tuple(_made(name))


def _made(name: str) -> Iterator[Phrase]:
    figure = find_figure(name)
    turn = number = next(i for i, rudiment in enumerate(load_rudiments()) if rudiment is figure)
    for place, meter_name in enumerate(list_meters()):
        where = find_meter(meter_name)
        suiting = [groove for groove in load_grooves() if groove.meter == where]
        rhythms = fit_rhythms(figure, where)
        if meter_name != "4/4":
            rhythms = rhythms[turn % len(rhythms) :][:1] if rhythms and (number + place) % 2 else ()
        for rhythm in rhythms:
            asked = Brief(figure=figure, meter=where, bars=1, rhythm=rhythm, earlier=load_rudiments()[:3])
            for step in plan_steps(asked).steps:
                turn += 1
                groove = suiting[turn % len(suiting)]
                yield build_phrase(groove, step.fill, bars=1, land=build_landing(where, step.lands))


@pytest.fixture(scope="session")
def phrases_of() -> Callable[[str], tuple[Phrase, ...]]:
    """The phrases of a rudiment by its name."""
    return _phrases
