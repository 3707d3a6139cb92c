"""Families of routes that give each hand its own drum."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from fillwright.craft.chains.chain import PlacedStroke
from fillwright.craft.routes.laying import (
    Orchestrations,
    add_accents,
    choose_always,
    choose_by_hand,
    describe_accents,
    find_toms,
    is_accent,
    lay_hands,
    move_chosen,
    name_side,
)
from fillwright.craft.routes.route import Setting


def orchestrate_accents(strokes: Sequence[PlacedStroke], setting: Setting) -> Orchestrations:
    """Yield the accents on toms, the taps on the snare."""
    accented = add_accents(strokes, setting)
    if not any(map(is_accent, accented)):
        return
    toms = find_toms(setting)
    if toms:
        low, high = toms
        yield (
            describe_accents(accented, setting, toms),
            move_chosen(accented, is_accent, lambda placed: choose_by_hand(placed, setting, toms)),
        )
        for tom in dict.fromkeys((high, low)):
            yield f"accents on the {tom}", move_chosen(accented, is_accent, choose_always(tom))


def orchestrate_apart(strokes: Sequence[PlacedStroke], setting: Setting) -> Orchestrations:
    """Yield each hand on a drum of its own."""
    toms = find_toms(setting)
    if toms is None:
        return
    low, high = toms
    hand, other = name_side(setting.low_hand), name_side(setting.low_hand.other)
    for pair in dict.fromkeys(((low, "snare"), (low, high))):
        if pair[0] != pair[1]:
            routed = lay_hands(strokes, setting, pair)
            # a grace note is played by the other hand, on that hand's drum
            drums = {pair[0]: pair[1], pair[1]: pair[0]}
            split = tuple(
                replace(stroke, graces_on=drums[stroke.surface]) if stroke.placed.stroke.kind.graces else stroke
                for stroke in routed
            )
            yield f"{hand} hand on the {pair[0]}, {other} hand on the {pair[1]}", split


def orchestrate_mirror(strokes: Sequence[PlacedStroke], setting: Setting) -> Orchestrations:
    """Yield the accents and hands with their toms exchanged, so that the hands cross."""
    toms = find_toms(setting)
    if toms is None or toms[0] == toms[1]:
        return
    low, high = toms
    other = (high, low)
    accented = add_accents(strokes, setting)
    if any(map(is_accent, accented)):
        yield (
            describe_accents(accented, setting, other),
            move_chosen(accented, is_accent, lambda placed: choose_by_hand(placed, setting, other)),
        )
    hand, other_hand = name_side(setting.low_hand), name_side(setting.low_hand.other)
    yield (
        f"{hand} hand on the snare, {other_hand} hand on the {low}",
        lay_hands(strokes, setting, ("snare", low)),
    )
