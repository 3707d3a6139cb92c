"""Prices: the cost of each stroke of a chain on each surface, by the surfaces that both hands struck before."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import product

from fillwright.craft.chains.chain import PlacedStroke
from fillwright.craft.player.motion import Motion, Touch
from fillwright.craft.routes.kbest import INFEASIBLE
from fillwright.craft.routes.route import Setting
from fillwright.craft.routes.taste import Taste, choose_palette, load_costs, price_stroke
from fillwright.music.hit import Hit
from fillwright.music.stroke import Level, Limb
from fillwright.music.surfaces import find_surface


@dataclass(frozen=True, slots=True, kw_only=True)
class StrokePrices:
    """The prices of one stroke.

    Attributes:
        before: number of the stroke before by the same hand; None for its first.
        other: number of the stroke before by the other hand; None for none.
        prices: for each surface of those two strokes and of the stroke itself, in this order, the last index
            running fastest; without a stroke before, for the stroke itself alone.
    """

    before: int | None
    other: int | None
    prices: tuple[int, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Move:
    """A stick on its way: from a touch to the next of the same limb."""

    before: Touch
    after: Touch
    may_rebound: bool


def price_strokes(
    strokes: Sequence[PlacedStroke], setting: Setting, taste: Taste, kicks: Sequence[Fraction]
) -> list[StrokePrices]:
    """Return the prices of the strokes of the hands.

    Args:
        strokes: strokes of hands, in time.
        setting: player, kit and tempo; a move that is too fast is infeasible.
        taste: what the routes should be like.
        kicks: places where the foot plays alone.
    """
    return _Pricing(strokes, setting, taste, kicks).all()


def find_strong_places(strokes: Iterable[PlacedStroke], beats: Sequence[Fraction]) -> frozenset[Fraction]:
    """Return the places of the strokes that stand out: the accents, or the beats of a chain without accents."""
    placed_strokes = tuple(strokes)
    accents = frozenset(placed.at for placed in placed_strokes if placed.stroke.level is Level.ACCENT)
    return accents or frozenset(placed.at for placed in placed_strokes if placed.at in beats)


class _Pricing:
    """Prices strokes; keeps the times between surfaces, which many strokes share."""

    def __init__(
        self, strokes: Sequence[PlacedStroke], setting: Setting, taste: Taste, kicks: Sequence[Fraction]
    ) -> None:
        self._placed = strokes
        self._setting = setting
        self._taste = taste
        self._names = choose_palette(taste, setting.kit)
        self._whole_seconds = setting.whole_seconds
        self._motion = Motion(setting.kit, setting.player)
        self._fresh = Motion(setting.kit, replace(setting.player, rebounds=0))
        self._needed: dict[object, dict[tuple[str, str], tuple[float, bool]]] = {}
        self._known: dict[object, tuple[int, ...]] = {}
        self._ways = self._price_ways()
        self._crossings = {hand: self._price_crossings(hand) for hand in (Limb.RIGHT, Limb.LEFT)}
        self._beats = setting.beats()
        self._strong = find_strong_places(strokes, self._beats)
        self._for_cymbals = self._choose_cymbal_places(kicks)

    def all(self) -> list[StrokePrices]:
        """Return the prices of every stroke."""
        moves = self._find_moves()
        return [self._price(number, moves) for number in range(len(self._placed))]

    def _find_moves(self) -> dict[tuple[int, bool], tuple[_Move | None, int | None]]:
        """Return by stroke, and True for its grace note, the move and the other hand's last stroke."""
        touches = sorted(
            self._motion.touches(
                [
                    Hit(at=placed.at, length=placed.length, stroke=placed.stroke, surface=find_surface("snare"))
                    for placed in self._placed
                ]
            ),
            key=lambda touch: (touch.at, -touch.ahead_seconds),
        )
        rebounds = _choose_rebounds(touches, self._setting.player.rebounds)
        last: dict[object, Touch] = {}
        moves: dict[tuple[int, bool], tuple[_Move | None, int | None]] = {}
        for number, touch in enumerate(touches):
            before, across = last.get(touch.limb), last.get(touch.limb.other)
            move = _Move(before=before, after=touch, may_rebound=number in rebounds) if before else None
            grace = touch.limb is not self._placed[touch.stroke].stroke.hand
            moves[touch.stroke, grace] = (move, across.stroke if across else None)
            last[touch.limb] = touch
        return moves

    def _price(
        self, number: int, moves: dict[tuple[int, bool], tuple[_Move | None, int | None]]
    ) -> StrokePrices:
        main, across = moves[number, False]
        grace, _ = moves.get((number, True), (None, None))
        graced = (number, True) in moves
        before = main.before.stroke if main else None
        other = (grace.before.stroke if grace else None) if graced else across
        key = (
            self._signature(number),
            self._is_free(number, main),
            _key_move(main),
            _key_move(grace),
            graced,
            other is None,
            self._placed[number].stroke.hand,
        )
        if key not in self._known:
            self._known[key] = self._combine(number, main, grace, graced=graced, across=other is not None)
        return StrokePrices(before=before, other=other, prices=self._known[key])

    def _signature(self, number: int) -> tuple[object, ...]:
        placed = self._placed[number]
        return placed.stroke.level, placed.at in self._strong, placed.at in self._for_cymbals

    def _combine(
        self, number: int, main: _Move | None, grace: _Move | None, *, graced: bool, across: bool
    ) -> tuple[int, ...]:
        names = range(len(self._names))
        alone = [self._price_surface(number, name) for name in self._names]
        main_prices = self._price_move(main, weak=not self._is_free(number, main))
        grace_prices = self._price_move(grace, weak=False)
        same_hand = names if main else range(1)
        other_hand = names if across else range(1)
        stale = round(self._taste.away * load_costs().stale) if self._placed[number].at in self._strong else 0
        prices = []
        for before, other, to in product(same_hand, other_hand, names):
            price = alone[to] + (stale if main and to in (before, other if across else before) else 0)
            if main:
                # with a grace note of its own just before, the other hand is where this stroke is
                at = to if graced or not across else other
                price += main_prices[before][to][at]
            if grace:
                price += grace_prices[other][to][before if main else to]
            prices.append(min(price, INFEASIBLE))
        return tuple(prices)

    def _price_move(self, move: _Move | None, *, weak: bool) -> list[list[list[int]]]:
        """Return the prices of a move by its two surfaces and the surface of the other hand."""
        if move is None:
            return []
        table = load_costs()
        gap = float(move.after.at - move.before.at) * self._whole_seconds
        limb, needed = move.after.limb, self._find_times(move)
        prices = []
        for start, name in enumerate(self._names):
            rows = []
            for end, target in enumerate(self._names):
                seconds, rebound = needed[name, target]
                way = self._ways[start][end] + (table.weak_change if weak and start != end else 0)
                row = []
                for crossed, extra in self._crossings[limb][end]:
                    demand = (seconds + (0.0 if rebound else extra)) / gap if gap > 0 else 2.0
                    price = way + crossed + round(table.at_the_limit * demand**2)
                    row.append(price if demand <= 1 else INFEASIBLE)
                rows.append(row)
            prices.append(rows)
        return prices

    def _price_ways(self) -> list[list[int]]:
        """Return the price of the way between any two surfaces."""
        spots = [self._setting.kit.spot(name) for name in self._names]
        return [
            [round(load_costs().a_metre * spot.distance_cm(other) / 100) for other in spots] for spot in spots
        ]

    def _price_crossings(self, hand: Limb) -> list[list[tuple[int, float]]]:
        """Return the price and seconds of crossing, by the surface of a hand and that of the other hand."""
        motion, price = self._motion, load_costs().crossing
        return [
            [
                (price * motion.is_crossed(hand, mine, other), motion.crossing_seconds(hand, mine, other))
                for other in self._names
            ]
            for mine in self._names
        ]

    def _find_times(self, move: _Move) -> dict[tuple[str, str], tuple[float, bool]]:
        """Return the seconds that a move needs between any two surfaces, and True for a rebound."""
        key = _classify(move)
        if key not in self._needed:
            pairs = [(start, end) for start in self._names for end in self._names]
            times = _time_all(self._fresh, move, pairs)
            if move.may_rebound:
                for name in self._names:
                    times |= _time_all(self._motion, move, ((name, name),))
            self._needed[key] = times
        return self._needed[key]

    def _price_surface(self, number: int, name: str) -> int:
        placed = self._placed[number]
        if name in self._setting.doubled and placed.at not in self._for_cymbals:
            return INFEASIBLE
        strong = placed.at in self._strong
        price = price_stroke(self._taste, self._setting.kit, name, level=placed.stroke.level, strong=strong)
        return price + (load_costs().doubled_cymbal if name in self._setting.doubled else 0)

    def _is_change_expected(self, number: int) -> bool:
        """Return True if a change of surface is expected: on a strong stroke, a beat or a new repetition."""
        placed = self._placed[number]
        new_statement = number == 0 or self._placed[number - 1].statement != placed.statement
        return new_statement or placed.at in self._strong or placed.at in self._beats

    def _is_free(self, number: int, move: _Move | None) -> bool:
        """Return True if a hand may change surface here: to or from a stroke where a change is expected."""
        return self._is_change_expected(number) or (
            move is not None and self._is_change_expected(move.before.stroke)
        )

    def _choose_cymbal_places(self, kicks: Sequence[Fraction]) -> frozenset[Fraction]:
        """Return places for doubled cymbals: strong strokes and the last one, if the foot has time between."""
        setting = self._setting
        apart = self._motion.time_stroke("kick", "kick", setting.kick_foot) if setting.kit.has("kick") else None
        if apart is None:
            return frozenset()
        chosen: list[Fraction] = []
        last = self._placed[-1].at
        wanted = [
            placed
            for number, placed in enumerate(self._placed)
            if not placed.stroke.kind.graces and (placed.at == last or self._is_change_expected(number))
        ]
        for placed in sorted(
            wanted, key=lambda placed: (placed.at not in self._strong, placed.at not in self._beats, placed.at)
        ):
            if all(abs(float(placed.at - at)) * self._whole_seconds >= apart for at in (*kicks, *chosen)):
                chosen.append(placed.at)
        return frozenset(chosen)


def _time_all(
    motion: Motion, move: _Move, pairs: Sequence[tuple[str, str]]
) -> dict[tuple[str, str], tuple[float, bool]]:
    """Return the seconds that a move needs between pairs of surfaces, all pairs in one call."""
    touches = []
    for number, (start, end) in enumerate(pairs):
        touches.append(replace(move.before, surface=start, at=2.0 * number, stroke=2 * number))
        touches.append(replace(move.after, surface=end, at=2.0 * number + 1, stroke=2 * number + 1))
    demands = [demand for demand in motion.demands(touches) if demand.stroke % 2]
    return {pair: (demand.needed_seconds, demand.rebound) for pair, demand in zip(pairs, demands, strict=True)}


def _key_move(move: _Move | None) -> tuple[object, ...] | None:
    return (*_classify(move), move.after.at - move.before.at) if move else None


def _classify(move: _Move) -> tuple[object, ...]:
    """Return what decides the time of a move, apart from the surfaces."""
    before, after = move.before, move.after
    return (
        after.limb,
        move.may_rebound,
        before.ahead_seconds,
        before.presses,
        after.ahead_seconds,
        after.presses,
    )


def _choose_rebounds(touches: Sequence[Touch], limit: int) -> set[int]:
    """Return the touches that may be rebounds, chosen the quickest first, at most `limit` in a row.

    The choice depends on the rhythm alone, so it holds for every route; the motion check allows all of it.
    """
    by_limb: dict[object, list[int]] = {}
    for number, touch in enumerate(touches):
        by_limb.setdefault(touch.limb, []).append(number)
    chosen: set[int] = set()
    for indices in by_limb.values():
        later = range(1, len(indices))
        gaps = {number: touches[indices[number]].at - touches[indices[number - 1]].at for number in later}
        flags = [False] * len(indices)
        for number in sorted(later, key=lambda number: (gaps[number], number)):
            if touches[indices[number]].ahead_seconds:
                continue
            flags[number] = True
            flags[number] = _measure_longest_run(flags) <= limit
        chosen |= {indices[number] for number in later if flags[number]}
    return chosen


def _measure_longest_run(flags: Sequence[bool]) -> int:
    longest = run = 0
    for flag in flags:
        run = run + 1 if flag else 0
        longest = max(longest, run)
    return longest
