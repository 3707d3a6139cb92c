"""Ways to lay the strokes of a chain on drums, shared by the families of routes."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import replace
from fractions import Fraction

from fillwright.craft.chains.chain import PlacedStroke
from fillwright.craft.routes.route import RoutedStroke, Setting
from fillwright.music.stroke import Level, Limb

Orchestrations = Iterator[tuple[str, Sequence[RoutedStroke]]]
"""The orchestrations of a family, one after the other: words and routed strokes."""


def lay_strokes(
    strokes: Iterable[PlacedStroke], where: Callable[[PlacedStroke], str]
) -> tuple[RoutedStroke, ...]:
    """Return every stroke on the surface that a function chooses for it."""
    return tuple(RoutedStroke(placed=placed, surface=where(placed)) for placed in strokes)


def spread_drums(drums: Sequence[str], count: int) -> tuple[str, ...]:
    """Spread drums over a number of beats, in order, the first and the last drum among them.

    >>> spread_drums(("snare", "high tom", "mid tom", "floor tom"), 3)
    ('snare', 'high tom', 'floor tom')
    >>> spread_drums(("snare", "high tom", "floor tom"), 4)
    ('snare', 'snare', 'high tom', 'floor tom')
    """
    if count == 1:
        return (drums[0],)
    if count > len(drums):
        return tuple(drums[len(drums) * number // count] for number in range(count))
    return tuple(drums[number * (len(drums) - 1) // (count - 1)] for number in range(count))


def add_accents(strokes: Sequence[PlacedStroke], setting: Setting) -> tuple[PlacedStroke, ...]:
    """Return the strokes with their accents; a figure without accents gets one on each beat."""
    if any(placed.stroke.level is Level.ACCENT for placed in strokes):
        return tuple(strokes)
    beats = setting.beats()
    return tuple(_with_accent(placed) if placed.at in beats else placed for placed in strokes)


def _with_accent(placed: PlacedStroke) -> PlacedStroke:
    return replace(placed, stroke=replace(placed.stroke, level=Level.ACCENT))


def is_accent(placed: PlacedStroke) -> bool:
    """Return True for an accented stroke."""
    return placed.stroke.level is Level.ACCENT


def describe_accents(strokes: Sequence[PlacedStroke], setting: Setting, toms: tuple[str, str]) -> str:
    """Name the tom of each hand's accents, the low hand first; a hand without accents is not named."""
    accented = {placed.stroke.hand for placed in strokes if is_accent(placed)}
    hands = [hand for hand in (setting.low_hand, setting.low_hand.other) if hand in accented]
    return ", ".join(
        f"{name_side(hand)}-hand accents on the {toms[0] if hand is setting.low_hand else toms[1]}"
        for hand in hands
    )


def name_side(hand: Limb) -> str:
    """Return the name of a hand: right or left."""
    return "right" if hand is Limb.RIGHT else "left"


def find_toms(setting: Setting) -> tuple[str, str] | None:
    """Return the tom of the hand on the floor tom's side and that of the other hand, or None without toms."""
    toms = setting.drums[1:]
    return ("floor tom" if "floor tom" in toms else toms[-1], toms[0]) if toms else None


def choose_by_hand(placed: PlacedStroke, setting: Setting, pair: tuple[str, str]) -> str:
    """Return the low drum for the low hand, the high one for the other."""
    low, high = pair
    return low if placed.stroke.hand is setting.low_hand else high


def lay_hands(
    strokes: Sequence[PlacedStroke], setting: Setting, pair: tuple[str, str]
) -> tuple[RoutedStroke, ...]:
    """Return each hand on its drum; the first of the pair is for the hand on the floor tom's side."""
    return lay_strokes(strokes, lambda placed: choose_by_hand(placed, setting, pair))


def move_chosen(
    strokes: Sequence[PlacedStroke],
    choose: Callable[[PlacedStroke], bool],
    where: Callable[[PlacedStroke], str],
) -> tuple[RoutedStroke, ...]:
    """Return the chosen strokes on their surfaces and the others on the snare."""
    return lay_strokes(strokes, lambda placed: where(placed) if choose(placed) else "snare")


def choose_always(name: str) -> Callable[[PlacedStroke], str]:
    """Return a function that chooses one surface for every stroke."""
    return lambda _: name


def number_strokes(strokes: Sequence[PlacedStroke]) -> dict[Fraction, int]:
    """Return the number of each stroke in its repetition, from 0, by its place."""
    numbers: dict[Fraction, int] = {}
    by_statement: dict[int, int] = {}
    for placed in strokes:
        numbers[placed.at] = by_statement.get(placed.statement, 0)
        by_statement[placed.statement] = numbers[placed.at] + 1
    return numbers
