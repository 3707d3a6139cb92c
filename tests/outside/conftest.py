"""Phrases for the checks: every figure in its rhythms, through every step."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from functools import cache

import pytest

from fillwright.craft.brief import Brief
from fillwright.craft.chains.readings import rhythms_in
from fillwright.craft.steps import plan
from fillwright.music.grooves import grooves
from fillwright.music.meter import meter, meter_names
from fillwright.music.phrase import Phrase, landing, phrase
from fillwright.music.rudiments import find_figure, rudiments


@cache
def _phrases(name: str) -> tuple[Phrase, ...]:
    """A bar and its landing for each step of a rudiment.

    In 4/4 every rhythm goes through every step, the grooves in turn; in every other of the other meters one
    rhythm does, so that all are seen over the 40 rudiments.
    """
    return tuple(_made(name))


def _made(name: str) -> Iterator[Phrase]:
    figure = find_figure(name)
    turn = number = next(i for i, rudiment in enumerate(rudiments()) if rudiment is figure)
    for place, meter_name in enumerate(meter_names()):
        where = meter(meter_name)
        suiting = [groove for groove in grooves() if groove.meter == where]
        rhythms = rhythms_in(figure, where)
        if meter_name != "4/4":
            rhythms = rhythms[turn % len(rhythms) :][:1] if rhythms and (number + place) % 2 else ()
        for rhythm in rhythms:
            asked = Brief(figure=figure, meter=where, bars=1, rhythm=rhythm, earlier=rudiments()[:3])
            for step in plan(asked).steps:
                turn += 1
                groove = suiting[turn % len(suiting)]
                yield phrase(groove, step.fill, bars=1, land=landing(where, step.lands))


@pytest.fixture(scope="session")
def phrases_of() -> Callable[[str], tuple[Phrase, ...]]:
    """The phrases of a rudiment by its name."""
    return _phrases
