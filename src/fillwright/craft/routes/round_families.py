"""Families of routes that go round the kit: by beat, by repetition, up and down."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from fillwright.craft.chains.chain import PlacedStroke
from fillwright.craft.routes.laying import (
    Orchestrations,
    is_accent,
    lay_strokes,
    move_chosen,
    number_strokes,
    spread_drums,
)
from fillwright.craft.routes.route import RoutedStroke, Setting


def orchestrate_one_surface(strokes: Sequence[PlacedStroke], setting: Setting) -> Orchestrations:
    """Yield the whole figure on one surface."""
    yield "all on the snare", lay_strokes(strokes, lambda _: "snare")
    if "floor tom" in setting.drums:
        yield "all on the floor tom", lay_strokes(strokes, lambda _: "floor tom")


def _lay_by_beat(
    strokes: Sequence[PlacedStroke], setting: Setting, drums: Sequence[str]
) -> tuple[RoutedStroke, ...]:
    order = spread_drums(drums, len(setting.beats()))
    return lay_strokes(strokes, lambda placed: order[setting.beat_of(placed.at)])


def orchestrate_round(strokes: Sequence[PlacedStroke], setting: Setting) -> Orchestrations:
    """Yield the figure round the kit, beat by beat."""
    drums = setting.drums
    if len(setting.beats()) < 2 or len(drums) < 2:
        return
    yield _describe_round(drums, setting), _lay_by_beat(strokes, setting, drums)
    if len(drums) > 2:
        yield _describe_round(drums[1:], setting), _lay_by_beat(strokes, setting, drums[1:])


def orchestrate_up(strokes: Sequence[PlacedStroke], setting: Setting) -> Orchestrations:
    """Yield the figure up the kit."""
    drums = tuple(reversed(setting.drums))
    if len(setting.beats()) < 2 or len(drums) < 2:
        return
    yield _describe_round(drums, setting, "up the kit"), _lay_by_beat(strokes, setting, drums)
    if len(drums) > 2:
        yield _describe_round(drums[:-1], setting, "up the kit"), _lay_by_beat(strokes, setting, drums[:-1])


def _describe_round(drums: Sequence[str], setting: Setting, way: str = "round the kit") -> str:
    order = tuple(dict.fromkeys(spread_drums(drums, len(setting.beats()))))
    return f"{way} beat by beat: {', '.join(order)}"


def orchestrate_by_position(strokes: Sequence[PlacedStroke], setting: Setting) -> Orchestrations:
    """Yield parts of the figure that move down the kit from repetition to repetition."""
    count = len({placed.statement for placed in strokes})
    toms = setting.drums[1:]
    longest = max(number_strokes(strokes).values()) + 1
    if count < 2 or len(toms) < 2 or longest < 2:
        return
    number = number_strokes(strokes)
    order = spread_drums(toms if count <= len(toms) else setting.drums, count)

    def choose_drum(placed: PlacedStroke) -> str:
        return order[placed.statement]

    moving: tuple[tuple[str, Callable[[PlacedStroke], bool]], ...] = (
        ("the first stroke of each repetition moves down the kit", lambda placed: number[placed.at] == 0),
        ("the accents move down the kit, a drum for each repetition", is_accent),
        ("the end of each repetition moves down the kit", lambda placed: number[placed.at] >= longest - 2),
        ("each repetition moves to the next drum", lambda _: True),
    )
    for words, moves in moving:
        if any(map(moves, strokes)):
            yield words, move_chosen(strokes, moves, choose_drum)
