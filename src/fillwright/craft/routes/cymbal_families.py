"""Families of routes with cymbals, the foot, and split flams."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from fractions import Fraction

from fillwright.craft.chains.chain import PlacedStroke
from fillwright.craft.routes.laying import (
    Orchestrations,
    add_accents,
    choose_always,
    choose_by_hand,
    find_toms,
    is_accent,
    lay_strokes,
    move_chosen,
    number_strokes,
)
from fillwright.craft.routes.round_families import (
    orchestrate_round,
)
from fillwright.craft.routes.route import RoutedStroke, Setting
from fillwright.music.stroke import Level, Stroke


def _choose_crash(placed: PlacedStroke, setting: Setting) -> str:
    """Return the crash on the side of a hand: the second crash is on the side of the floor tom."""
    near = "second crash" if setting.kit.has("second crash") else "crash"
    return near if placed.stroke.hand is setting.low_hand else "crash"


def _strike(placed: PlacedStroke) -> PlacedStroke:
    """Return a stroke as it is played on a cymbal: single and accented."""
    return replace(placed, stroke=Stroke(hand=placed.stroke.hand, level=Level.ACCENT))


def _lay_on_cymbals(
    strokes: Sequence[PlacedStroke], setting: Setting, crashes: Callable[[PlacedStroke], bool]
) -> list[RoutedStroke]:
    return [
        RoutedStroke(placed=_strike(placed), surface=_choose_crash(placed, setting))
        if crashes(placed)
        else RoutedStroke(placed=placed, surface="snare")
        for placed in strokes
    ]


def orchestrate_cymbals(strokes: Sequence[PlacedStroke], setting: Setting) -> Orchestrations:
    """Yield strokes on the crashes."""
    if not setting.kit.has("crash"):
        return
    ends = _find_ends(strokes, setting)
    yield _describe_ends(strokes, ends), _lay_on_cymbals(strokes, setting, lambda placed: placed.at in ends)
    accented = add_accents(strokes, setting)
    yield "accents on the crashes", _lay_on_cymbals(accented, setting, is_accent)
    last = strokes[-1]
    for words, routed in orchestrate_round(strokes, setting):
        end = RoutedStroke(placed=_strike(last), surface=_choose_crash(last, setting))
        yield f"{words}, the last stroke on the crash", [*routed[:-1], end]


def _describe_ends(strokes: Sequence[PlacedStroke], ends: set[Fraction]) -> str:
    """Return which repetitions end on a crash: every one, those that end with a beat, or the last."""
    lasts = {placed.at for placed in strokes if placed.last} | {strokes[-1].at}
    if lasts == ends:
        return "every repetition ends on a crash" if len(ends) > 1 else "the last stroke on a crash"
    return "the last stroke on a crash" if len(ends) == 1 else "repetitions that end with a beat end on a crash"


def _find_ends(strokes: Sequence[PlacedStroke], setting: Setting) -> set[Fraction]:
    """Return the places of strokes that end a repetition of several strokes and a beat, and the last place."""
    borders = {*setting.beats(), setting.span.length}
    number = number_strokes(strokes)
    together = {
        placed.at
        for placed in strokes
        if placed.last and number[placed.at] and placed.at + placed.length in borders
    }
    return together | {strokes[-1].at}


def orchestrate_kick(strokes: Sequence[PlacedStroke], setting: Setting) -> Orchestrations:
    """Yield strokes given to the foot."""
    if not setting.kit.has("kick"):
        return
    number = number_strokes(strokes)
    lengths = {placed.statement: number[placed.at] + 1 for placed in strokes}

    shortest = min(lengths.values())

    def in_last(count: int) -> Callable[[PlacedStroke], bool]:
        return lambda placed: lengths[placed.statement] - number[placed.at] <= count

    if shortest > 2:
        yield (
            "the last stroke of each repetition for the foot",
            move_chosen(strokes, in_last(1), choose_always("kick")),
        )
    if shortest > 3:
        yield (
            "the last two strokes of each repetition for the foot",
            move_chosen(strokes, in_last(2), choose_always("kick")),
        )
    toms = find_toms(setting)
    if toms and shortest > 2:
        yield (
            "hands apart, the last stroke of each repetition for the foot",
            lay_strokes(
                strokes, lambda placed: "kick" if placed.last else choose_by_hand(placed, setting, toms)
            ),
        )
