"""Ideas: patterns that make a route recognisable; strokes of placed cell share placed choice of surface."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import product

from fillwright.craft.chains.chain import PlacedStroke
from fillwright.craft.routes.kbest import Table
from fillwright.craft.routes.laying import spread_drums
from fillwright.craft.routes.prices import StrokePrices
from fillwright.craft.routes.route import Setting
from fillwright.craft.routes.taste import Taste, load_costs

ONE_FOR_EACH = "a drum or cymbal for each"
"""Opening words of the ideas whose drums are listed in order."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Idea:
    """A pattern: strokes that share a choice of surface.

    Attributes:
        words: the pattern in words.
        cells: number of each stroke's choice, from 0 in order of appearance.
        moving: for each stroke the number in the palette of the surface that "moving on" means; empty for a
            pattern that does not move.
        price: cost of the idea itself, in thousandths.
    """

    words: str
    cells: tuple[int, ...]
    moving: tuple[int, ...] = ()
    price: int

    @property
    def size(self) -> int:
        """Number of choices."""
        return max(self.cells) + 1

    def surfaces(self, values: Sequence[int], names: Sequence[str]) -> tuple[str, ...]:
        """Return the surface of each stroke for placed value of each choice."""
        return tuple(names[self._surface(values, number, len(names))] for number in range(len(self.cells)))

    def _surface(self, values: Sequence[int], number: int, count: int) -> int:
        value = values[self.cells[number]]
        return self.moving[number] if value == count else value

    def tables(self, strokes: Sequence[StrokePrices], count: int) -> list[Table]:
        """Return the prices of strokes as prices of choices, for a palette of `count` surfaces."""
        return [self._build_table(number, stroke, count) for number, stroke in enumerate(strokes)]

    def _build_table(self, number: int, prices: StrokePrices, count: int) -> Table:
        involved = [prices.before, prices.other, number]
        scope = tuple(sorted({self.cells[stroke] for stroke in involved if stroke is not None}))
        positions = tuple(-1 if s is None else scope.index(self.cells[s]) for s in involved)
        moved = tuple(-1 if s is None or not self.moving else self.moving[s] for s in involved)
        index = _index_prices(len(scope), positions, moved, count)
        return Table(cells=scope, prices=tuple([prices.prices[number] for number in index]))


@lru_cache(maxsize=4096)
def _index_prices(
    cells: int, positions: tuple[int, ...], moved: tuple[int, ...], count: int
) -> tuple[int, ...]:
    """Return the index among a stroke's prices of each combination of some cells' values.

    Args:
        cells: number of cells.
        positions: the cells for the surface of the same hand, the other hand and the stroke; -1 for none.
        moved: the surface that "moving on" means for each of the three; -1 for no move.
        count: number of surfaces.
    """
    values = range(count + (moved[2] >= 0))
    indices = []
    for chosen in product(values, repeat=cells):
        index = 0
        for cell, to in zip(positions, moved, strict=True):
            if cell >= 0:
                value = chosen[cell]
                index = index * count + (to if value == count else value)
        indices.append(index)
    return tuple(indices)


def list_ideas(
    strokes: Sequence[PlacedStroke], setting: Setting, taste: Taste, names: Sequence[str]
) -> tuple[Idea, ...]:
    """Return the ideas that suit a chain, no two alike, those with the most choices last.

    Args:
        strokes: strokes of hands, in time.
        setting: for its beats.
        taste: the wanted regularity.
        names: the palette.
    """
    position = _number_strokes(strokes)
    beats = setting.beats()
    of_beat = [setting.beat_of(placed.at) for placed in strokes]
    offset = [placed.at - beats[beat] for placed, beat in zip(strokes, of_beat, strict=True)]
    hands = [placed.stroke.hand for placed in strokes]
    numbers = range(len(strokes))
    table = load_costs()
    turns = [placed.statement for placed in strokes]
    by_cells: dict[object, Idea] = {}

    def add(words: str, key: Callable[[int], Hashable], extra: int = 0, moving: tuple[int, ...] = ()) -> None:
        cells = number_keys([key(number) for number in numbers])
        size = max(cells) + 1
        if moving and size == len(strokes):
            return
        words = {1: "one drum or cymbal", len(strokes): "free"}.get(size, words)
        price = round(taste.regular * (table.each_choice * size + extra))
        by_cells.setdefault((cells, moving), Idea(words=words, cells=cells, moving=moving, price=price))

    add("each repetition alike", lambda n: position[n])
    add("each beat alike", lambda n: offset[n])
    add("each repetition alike, hand by hand", lambda n: (position[n], hands[n]), table.by_hand)
    add(f"{ONE_FOR_EACH} beat", lambda n: of_beat[n])
    add(f"{ONE_FOR_EACH} repetition", lambda n: turns[n])
    for words, order in _list_orders(setting, names):
        add(
            f"each repetition alike, {words}",
            lambda n: position[n],
            table.moving_on,
            _choose_moving(order, turns, names),
        )
        add(
            f"each beat alike, {words}",
            lambda n: offset[n],
            table.moving_on,
            _choose_moving(order, of_beat, names),
        )
    add("free", lambda n: n)
    return tuple(by_cells.values())


def _number_strokes(strokes: Sequence[PlacedStroke]) -> list[tuple[int, ...]]:
    """Return for each stroke the number of strokes of its repetition, and its own number there."""
    count: dict[int, int] = {}
    numbers = []
    for placed in strokes:
        numbers.append(count.get(placed.statement, 0))
        count[placed.statement] = numbers[-1] + 1
    return [(count[placed.statement], number) for placed, number in zip(strokes, numbers, strict=True)]


def number_keys(keys: Sequence[Hashable]) -> tuple[int, ...]:
    """Number keys from 0 in order of appearance.

    >>> number_keys("abca")
    (0, 1, 2, 0)
    """
    numbers: dict[Hashable, int] = {}
    return tuple(numbers.setdefault(key, len(numbers)) for key in keys)


def _list_orders(setting: Setting, names: Sequence[str]) -> list[tuple[str, tuple[str, ...]]]:
    """Return the drums of the palette downwards and upwards with words for it; empty below two toms."""
    drums = tuple(name for name in setting.drums if name in names)
    return (
        [("moving down the kit", drums), ("moving up the kit", tuple(reversed(drums)))]
        if len(drums) > 2
        else []
    )


def _choose_moving(order: Sequence[str], groups: Sequence[int], names: Sequence[str]) -> tuple[int, ...]:
    """Return the surface that "moving on" means for each stroke; the snare only for lack of toms."""
    first = groups[0]
    count = groups[-1] - first + 1
    toms = [name for name in order if name != "snare"]
    along = spread_drums(toms if count <= len(toms) else order, count)
    return tuple(names.index(along[group - first]) for group in groups)
