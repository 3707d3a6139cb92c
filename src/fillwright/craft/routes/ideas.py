"""Ideas: the patterns that make a route recognisable, as cells whose surface is chosen once and kept."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import product

from fillwright.craft.chains.chain import Placed
from fillwright.craft.routes.families import stops
from fillwright.craft.routes.kbest import Table
from fillwright.craft.routes.prices import Priced
from fillwright.craft.routes.route import Setting
from fillwright.craft.routes.taste import Taste, costs


@dataclass(frozen=True, slots=True, kw_only=True)
class Idea:
    """A way to make one choice stand for many strokes.

    Attributes:
        words: what repeats.
        cells: for each stroke the choice it follows, numbered from 0 in order of appearance.
        moving: for each stroke the surface, by its number in the palette, that "moving on" stands for; empty
            for an idea that stays.
        price: what the idea itself costs, in thousandths.
    """

    words: str
    cells: tuple[int, ...]
    moving: tuple[int, ...] = ()
    price: int

    @property
    def size(self) -> int:
        """How many choices it takes."""
        return max(self.cells) + 1

    def surfaces(self, values: Sequence[int], names: Sequence[str]) -> tuple[str, ...]:
        """The surface of each stroke, given one value for each choice."""
        return tuple(names[self._surface(values, number, len(names))] for number in range(len(self.cells)))

    def _surface(self, values: Sequence[int], number: int, count: int) -> int:
        value = values[self.cells[number]]
        return self.moving[number] if value == count else value

    def tables(self, strokes: Sequence[Priced], count: int) -> list[Table]:
        """The prices of strokes as prices of choices, for a palette of `count` surfaces."""
        return [self._table(number, one, count) for number, one in enumerate(strokes)]

    def _table(self, number: int, one: Priced, count: int) -> Table:
        involved = [one.own, one.other, number]
        scope = tuple(sorted({self.cells[stroke] for stroke in involved if stroke is not None}))
        places = tuple(-1 if s is None else scope.index(self.cells[s]) for s in involved)
        moved = tuple(-1 if s is None or not self.moving else self.moving[s] for s in involved)
        index = _index(len(scope), places, moved, count)
        return Table(cells=scope, prices=tuple([one.prices[place] for place in index]))


@lru_cache(maxsize=4096)
def _index(cells: int, places: tuple[int, ...], moved: tuple[int, ...], count: int) -> tuple[int, ...]:
    """Where each combination of some cells' values stands among the prices of a stroke.

    Args:
        cells: how many cells.
        places: which of them gives the surface of the own hand, the other hand and the stroke; -1 for none.
        moved: the surface that "moving on" means for each of the three; -1 where nothing moves.
        count: how many surfaces there are.
    """
    values = range(count + (moved[2] >= 0))
    found = []
    for chosen in product(values, repeat=cells):
        place = 0
        for cell, to in zip(places, moved, strict=True):
            if cell >= 0:
                value = chosen[cell]
                place = place * count + (to if value == count else value)
        found.append(place)
    return tuple(found)


def ideas(placed: Sequence[Placed], setting: Setting, taste: Taste, names: Sequence[str]) -> tuple[Idea, ...]:
    """The ideas that a chain lends itself to, no two alike, those that need most choices last.

    Args:
        placed: strokes of hands, in time.
        setting: for its beats.
        taste: how regular it is wanted.
        names: the palette.
    """
    place = _places_in_turn(placed)
    beats = setting.beats()
    of_beat = [setting.beat_of(one.at) for one in placed]
    offset = [one.at - beats[beat] for one, beat in zip(placed, of_beat, strict=True)]
    hands = [one.stroke.hand for one in placed]
    numbers = range(len(placed))
    table = costs()
    turns = [one.turn for one in placed]
    found: dict[object, Idea] = {}

    def add(words: str, key: Callable[[int], Hashable], extra: int = 0, moving: tuple[int, ...] = ()) -> None:
        cells = numbered([key(number) for number in numbers])
        size = max(cells) + 1
        if moving and size == len(placed):
            return
        words = {1: "one surface", len(placed): "free"}.get(size, words)
        price = round(taste.regular * (table.each_choice * size + extra))
        found.setdefault((cells, moving), Idea(words=words, cells=cells, moving=moving, price=price))

    add("each turn alike", lambda n: place[n])
    add("each beat alike", lambda n: offset[n])
    add("each turn alike, hand by hand", lambda n: (place[n], hands[n]), table.by_hand)
    add("a surface for each beat", lambda n: of_beat[n])
    add("a surface for each turn", lambda n: turns[n])
    for words, order in _orders(setting, names):
        add(f"each turn alike, {words}", lambda n: place[n], table.moving_on, _moving(order, turns, names))
        add(f"each beat alike, {words}", lambda n: offset[n], table.moving_on, _moving(order, of_beat, names))
    add("free", lambda n: n)
    return tuple(found.values())


def _places_in_turn(placed: Sequence[Placed]) -> list[tuple[int, ...]]:
    """Which stroke of its turn each is, told apart by how many strokes the turn has."""
    count: dict[int, int] = {}
    number = []
    for one in placed:
        number.append(count.get(one.turn, 0))
        count[one.turn] = number[-1] + 1
    return [(count[one.turn], place) for one, place in zip(placed, number, strict=True)]


def numbered(keys: Sequence[Hashable]) -> tuple[int, ...]:
    """Keys as numbers from 0 in order of appearance.

    >>> numbered("abca")
    (0, 1, 2, 0)
    """
    numbers: dict[Hashable, int] = {}
    return tuple(numbers.setdefault(key, len(numbers)) for key in keys)


def _orders(setting: Setting, names: Sequence[str]) -> list[tuple[str, tuple[str, ...]]]:
    """The drums of the palette downwards and upwards, the snare first, where there are two toms."""
    drums = tuple(name for name in setting.drums if name in names)
    return (
        [("moving down the kit", drums), ("moving up the kit", tuple(reversed(drums)))]
        if len(drums) > 2
        else []
    )


def _moving(order: Sequence[str], groups: Sequence[int], names: Sequence[str]) -> tuple[int, ...]:
    """The surface that "moving on" means for each stroke; the snare only where it is needed."""
    first = groups[0]
    count = groups[-1] - first + 1
    toms = [name for name in order if name != "snare"]
    along = stops(toms if count <= len(toms) else order, count)
    return tuple(names.index(along[group - first]) for group in groups)
