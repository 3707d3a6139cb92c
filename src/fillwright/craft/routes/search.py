"""Search: the best routes of a chain under a taste, each different enough from the others.

The objective is a sum: what each stroke costs where it lies, what each move of a hand costs, and what the idea
costs that the route follows, less the fewer choices it takes. A move that the player can't make in time is cut.
Within each idea the best routes come in exact order; the ideas are merged in order of cost.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from heapq import merge
from itertools import islice, pairwise
from math import ceil

from fillwright.craft.chains.chain import Chain, Placed
from fillwright.craft.player.motion import Motion
from fillwright.craft.routes.ideas import Idea, ideas, numbered
from fillwright.craft.routes.kbest import k_best
from fillwright.craft.routes.prices import Priced, priced
from fillwright.craft.routes.route import Family, Laid, Layout, Maker, Route, Setting
from fillwright.craft.routes.taste import Taste, costs, palette
from fillwright.music.stroke import Kind, Level

_LOOKED_AT = 60
"""How many routes of one idea are looked at, from the best on; those further down are much alike."""

_MOST_PLACES = 12
"""How many places a turn may have for the foot to take one; in a longer one nobody would hear it come round."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Problem:
    """What is to be solved: the strokes of the hands with their prices, and the ideas they may follow.

    Attributes:
        names: the palette.
        placed: the strokes of the hands.
        feet: the strokes of the foot.
        strokes: what each stroke of a hand costs.
        ideas: what they may follow.
        price: what it costs to hand strokes to the foot.
    """

    names: tuple[str, ...]
    placed: tuple[Placed, ...]
    feet: tuple[Placed, ...]
    strokes: tuple[Priced, ...]
    ideas: tuple[Idea, ...]
    price: int = 0

    def cost(self, surfaces: Sequence[str]) -> int:
        """What some surfaces cost without an idea; 10**9 or more where they can't be played."""
        chosen = [self.names.index(name) for name in surfaces]
        total = 0
        for number, one in enumerate(self.strokes):
            place = 0
            for before in (one.own, one.other):
                if before is not None:
                    place = place * len(self.names) + chosen[before]
            total += one.prices[place * len(self.names) + chosen[number]]
        return total


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """One solution: its whole cost, the idea it follows, and the surface of each stroke of a hand."""

    cost: int
    problem: Problem
    idea: Idea
    surfaces: tuple[str, ...]


def search(chain: Chain, setting: Setting, taste: Taste | None = None, count: int = 12) -> tuple[Route, ...]:
    """The best routes of a chain, the best first, any two different in a share of their strokes.

    Every one can be played at the tempo of the setting. There may be fewer than asked for, or none.

    Raises:
        TempoError: for a tempo that can't be played.
    """
    solved = list(problems(chain, setting, taste or Taste()))
    offer = _Offer(Maker(setting), count)
    lists = [islice(_of_idea(problem, idea), _LOOKED_AT) for problem in solved for idea in problem.ideas]
    for answer in merge(*lists, key=lambda answer: answer.cost):
        if offer.is_full:
            break
        offer.take(answer)
    return tuple(offer.routes)


class _Offer:
    """The routes taken so far, each different enough from the others."""

    def __init__(self, maker: Maker, count: int) -> None:
        self._maker = maker
        self._count = count
        self._shapes: Counter[tuple[int, ...]] = Counter()
        self.routes: list[Route] = []
        self._taken: list[dict[Fraction, str]] = []

    @property
    def is_full(self) -> bool:
        """Whether there are as many as were asked for."""
        return len(self.routes) >= self._count

    def take(self, answer: Answer) -> None:
        """Take an answer if it is different enough and the motion check agrees."""
        layout = _layout(answer)
        surfaces = {laid.placed.at: laid.surface for laid in layout.strokes}
        shape = numbered(tuple(surfaces.values()))
        least = max(1, ceil(costs().differ * len(surfaces)))
        if self._shapes[shape] >= costs().same_shape:
            return
        if any(_differing(surfaces, other) < least for other in self._taken):
            return
        route = self._maker.route(layout)
        if route is not None:
            self.routes.append(route)
            self._taken.append(surfaces)
            self._shapes[shape] += 1


def answers(chain: Chain, setting: Setting, taste: Taste) -> Iterator[Answer]:
    """Every solution from the cheapest on; the same surfaces may come again under a dearer idea."""
    yield from merge(
        *(_of_idea(problem, idea) for problem in problems(chain, setting, taste) for idea in problem.ideas),
        key=lambda answer: answer.cost,
    )


def _of_idea(problem: Problem, idea: Idea) -> Iterator[Answer]:
    count = len(problem.names)
    sizes = (count + bool(idea.moving),) * idea.size
    for cost, values in k_best(sizes, idea.tables(problem.strokes, count)):
        yield Answer(
            cost=cost + idea.price + problem.price,
            problem=problem,
            idea=idea,
            surfaces=idea.surfaces(values, problem.names),
        )


def problems(chain: Chain, setting: Setting, taste: Taste) -> Iterator[Problem]:
    """The problem of a chain, and where the taste allows it those with one place of each turn for the foot."""
    placed = tuple(chain.placed())
    names = palette(taste, setting.kit)
    hands = tuple(one for one in placed if not one.stroke.hand.is_foot)
    feet = tuple(one for one in placed if one.stroke.hand.is_foot)
    choices: list[tuple[tuple[Placed, ...], int]] = [((), 0)]
    if taste.kick and setting.kit.has("kick"):
        choices += [(handed, costs().to_the_foot) for handed in _for_the_foot(hands)]
    for handed, price in choices:
        left = tuple(one for one in hands if one not in handed)
        kicks = tuple(sorted((*feet, *handed), key=lambda one: one.at))
        if left and _in_time([one.at for one in kicks], setting):
            yield Problem(
                names=names,
                placed=left,
                feet=kicks,
                strokes=tuple(priced(left, setting, taste, [one.at for one in kicks])),
                ideas=ideas(left, setting, taste, names),
                price=price,
            )


def _for_the_foot(hands: Sequence[Placed]) -> list[tuple[Placed, ...]]:
    """The strokes at each place of the turns, as far as they are all plain taps."""
    by_place: dict[int, list[Placed]] = {}
    count: dict[int, int] = {}
    for one in hands:
        place = count.get(one.turn, 0)
        count[one.turn] = place + 1
        by_place.setdefault(place, []).append(one)
    if len(by_place) > _MOST_PLACES:
        return []
    return [
        tuple(strokes)
        for place, strokes in by_place.items()
        if place and all(s.stroke.kind is Kind.SINGLE and s.stroke.level is Level.TAP for s in strokes)
    ]


def _in_time(kicks: Sequence[Fraction], setting: Setting) -> bool:
    """Whether one foot can play strokes of its own at these places."""
    needed = Motion(setting.kit, setting.player).needed_seconds
    gaps = [float(later - sooner) * setting.whole_seconds for sooner, later in pairwise(kicks)]
    return not gaps or min(gaps) >= needed("kick", "kick", setting.kick_foot)


def _layout(answer: Answer) -> Layout:
    problem = answer.problem
    laid = [Laid(placed=one, surface=name) for one, name in zip(problem.placed, answer.surfaces, strict=True)]
    laid += [Laid(placed=one, surface="kick") for one in problem.feet]
    strokes = tuple(sorted(laid, key=lambda each: each.placed.at))
    return Layout(family=Family.SEARCH, words=_words(answer), strokes=strokes)


def _words(answer: Answer) -> str:
    in_order = [answer.surfaces[answer.idea.cells.index(cell)] for cell in range(answer.idea.size)]
    one_each = answer.idea.words.startswith("a surface") and answer.idea.size <= _MOST_PLACES
    used = ", ".join(in_order if one_each else dict.fromkeys(answer.surfaces))
    foot = "; with the foot" if answer.problem.feet else ""
    return f"{answer.idea.words}: {used}{foot}"


def _differing(one: Mapping[Fraction, str], other: Mapping[Fraction, str]) -> int:
    return sum(other[at] != name for at, name in one.items())
