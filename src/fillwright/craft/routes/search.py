"""Search: the best routes of a chain under a taste, each different enough from the others.

The objective is a sum: the cost of each stroke on its surface, of each move of a hand, and of the idea that the
route follows, which is less for fewer choices. A move that the player can't make in time is excluded. Within
each idea the best routes come in exact order; the ideas are merged in order of cost.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from heapq import merge
from itertools import islice, pairwise
from math import ceil

from fillwright.craft.chains.chain import Chain, PlacedStroke
from fillwright.craft.player.motion import Motion
from fillwright.craft.routes.ideas import ONE_FOR_EACH, Idea, list_ideas, number_keys
from fillwright.craft.routes.kbest import find_k_best
from fillwright.craft.routes.prices import StrokePrices, price_strokes
from fillwright.craft.routes.route import Family, Orchestration, Route, RouteBuilder, RoutedStroke, Setting
from fillwright.craft.routes.taste import Taste, choose_palette, load_costs
from fillwright.music.stroke import Kind, Level

_MOST_PER_IDEA = 60
"""The most routes of one idea, from the best on; later ones are much alike (ours, not measured)."""

_MOST_PLACES = 12
"""The most places of a repetition in which the foot takes one; a longer pattern isn't noticed (ours)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Problem:
    """One search problem: the strokes of the hands with their prices, and the ideas they may follow.

    Attributes:
        names: the palette.
        placed: the strokes of the hands.
        feet: the strokes of the foot.
        strokes: the prices of each stroke of a hand.
        ideas: the ideas to try.
        price: the cost of moving strokes to the foot.
    """

    names: tuple[str, ...]
    placed: tuple[PlacedStroke, ...]
    feet: tuple[PlacedStroke, ...]
    strokes: tuple[StrokePrices, ...]
    ideas: tuple[Idea, ...]
    price: int = 0

    def cost(self, surfaces: Sequence[str]) -> int:
        """Return the cost of some surfaces without an idea; 10**9 or more for unplayable ones."""
        chosen = [self.names.index(name) for name in surfaces]
        total = 0
        for number, stroke in enumerate(self.strokes):
            index = 0
            for previous in (stroke.before, stroke.other):
                if previous is not None:
                    index = index * len(self.names) + chosen[previous]
            total += stroke.prices[index * len(self.names) + chosen[number]]
        return total


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """One solution: its total cost, the idea it follows, and the surface of each stroke of a hand."""

    cost: int
    problem: Problem
    idea: Idea
    surfaces: tuple[str, ...]


def search_routes(
    chain: Chain, setting: Setting, taste: Taste | None = None, count: int = 12
) -> tuple[Route, ...]:
    """Return the best routes of a chain, the best first, any two different in a share of their strokes.

    Every route is playable at the setting's tempo. There may be fewer than `count`, or none.

    Raises:
        TempoError: for a tempo that can't be played.
    """
    to_solve = list(list_problems(chain, setting, taste or Taste()))
    offer = _Offer(RouteBuilder(setting), count)
    lists = [
        islice(_solve_idea(problem, idea), _MOST_PER_IDEA) for problem in to_solve for idea in problem.ideas
    ]
    for answer in merge(*lists, key=lambda answer: answer.cost):
        if offer.is_full:
            break
        offer.take(answer)
    return tuple(offer.routes)


class _Offer:
    """The routes taken so far, each different enough from the others."""

    def __init__(self, builder: RouteBuilder, count: int) -> None:
        self._builder = builder
        self._count = count
        self._shapes: Counter[tuple[int, ...]] = Counter()
        self.routes: list[Route] = []
        self._taken: list[dict[Fraction, str]] = []

    @property
    def is_full(self) -> bool:
        """True where there are `count` routes."""
        return len(self.routes) >= self._count

    def take(self, answer: Answer) -> None:
        """Take an answer if it is different enough and playable."""
        orchestration = _orchestrate(answer)
        surfaces = {stroke.placed.at: stroke.surface for stroke in orchestration.strokes}
        shape = number_keys(tuple(surfaces.values()))
        least = max(1, ceil(load_costs().differ * len(surfaces)))
        if self._shapes[shape] >= load_costs().same_shape:
            return
        if any(_count_differences(surfaces, other) < least for other in self._taken):
            return
        route = self._builder.build(orchestration)
        if route is not None:
            self.routes.append(route)
            self._taken.append(surfaces)
            self._shapes[shape] += 1


def list_answers(chain: Chain, setting: Setting, taste: Taste) -> Iterator[Answer]:
    """Yield every solution from the cheapest on; the same surfaces may come again under another idea."""
    yield from merge(
        *(
            _solve_idea(problem, idea)
            for problem in list_problems(chain, setting, taste)
            for idea in problem.ideas
        ),
        key=lambda answer: answer.cost,
    )


def _solve_idea(problem: Problem, idea: Idea) -> Iterator[Answer]:
    count = len(problem.names)
    sizes = (count + bool(idea.moving),) * idea.size
    for cost, values in find_k_best(sizes, idea.tables(problem.strokes, count)):
        yield Answer(
            cost=cost + idea.price + problem.price,
            problem=problem,
            idea=idea,
            surfaces=idea.surfaces(values, problem.names),
        )


def list_problems(chain: Chain, setting: Setting, taste: Taste) -> Iterator[Problem]:
    """Yield the problem of a chain and, if the taste allows, those with one place of a repetition kicked."""
    placed = tuple(chain.place_strokes())
    names = choose_palette(taste, setting.kit)
    hands = tuple(stroke for stroke in placed if not stroke.stroke.hand.is_foot)
    feet = tuple(stroke for stroke in placed if stroke.stroke.hand.is_foot)
    choices: list[tuple[tuple[PlacedStroke, ...], int]] = [((), 0)]
    if taste.kick and setting.kit.has("kick"):
        choices += [(kicked, load_costs().to_the_foot) for kicked in _choose_kicks(hands)]
    for kicked, price in choices:
        left = tuple(stroke for stroke in hands if stroke not in kicked)
        kicks = tuple(sorted((*feet, *kicked), key=lambda stroke: stroke.at))
        if left and _is_playable([stroke.at for stroke in kicks], setting):
            yield Problem(
                names=names,
                placed=left,
                feet=kicks,
                strokes=tuple(price_strokes(left, setting, taste, [stroke.at for stroke in kicks])),
                ideas=list_ideas(left, setting, taste, names),
                price=price,
            )


def _choose_kicks(hands: Sequence[PlacedStroke]) -> list[tuple[PlacedStroke, ...]]:
    """Return the strokes at each place of the repetitions, if they are all plain taps."""
    by_number: dict[int, list[PlacedStroke]] = {}
    count: dict[int, int] = {}
    for stroke in hands:
        number = count.get(stroke.statement, 0)
        count[stroke.statement] = number + 1
        by_number.setdefault(number, []).append(stroke)
    if len(by_number) > _MOST_PLACES:
        return []
    return [
        tuple(strokes)
        for number, strokes in by_number.items()
        if number and all(s.stroke.kind is Kind.SINGLE and s.stroke.level is Level.TAP for s in strokes)
    ]


def _is_playable(kicks: Sequence[Fraction], setting: Setting) -> bool:
    """Return True if one foot can play strokes at these places."""
    needed = Motion(setting.kit, setting.player).time_stroke
    gaps = [float(after - before) * setting.whole_seconds for before, after in pairwise(kicks)]
    return not gaps or min(gaps) >= needed("kick", "kick", setting.kick_foot)


def _orchestrate(answer: Answer) -> Orchestration:
    problem = answer.problem
    routed = [
        RoutedStroke(placed=stroke, surface=name)
        for stroke, name in zip(problem.placed, answer.surfaces, strict=True)
    ]
    routed += [RoutedStroke(placed=stroke, surface="kick") for stroke in problem.feet]
    strokes = tuple(sorted(routed, key=lambda stroke: stroke.placed.at))
    return Orchestration(family=Family.SEARCH, words=_describe(answer), strokes=strokes)


def _describe(answer: Answer) -> str:
    in_order = [answer.surfaces[answer.idea.cells.index(cell)] for cell in range(answer.idea.size)]
    one_each = answer.idea.words.startswith(ONE_FOR_EACH) and answer.idea.size <= _MOST_PLACES
    used = ", ".join(in_order if one_each else dict.fromkeys(answer.surfaces))
    foot = "; with the foot" if answer.problem.feet else ""
    return f"{answer.idea.words}: {used}{foot}"


def _count_differences(surfaces: Mapping[Fraction, str], other: Mapping[Fraction, str]) -> int:
    return sum(other[at] != name for at, name in surfaces.items())
