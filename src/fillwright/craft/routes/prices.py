"""Prices: what each stroke of a chain costs on each surface, given where both hands struck before."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import product

from fillwright.craft.chains.chain import Placed
from fillwright.craft.player.motion import Motion, Touch
from fillwright.craft.routes.kbest import INFEASIBLE
from fillwright.craft.routes.route import Setting
from fillwright.craft.routes.taste import Taste, costs, palette, stroke_cost
from fillwright.music.hit import Hit
from fillwright.music.stroke import Level, Limb
from fillwright.music.surfaces import surface


@dataclass(frozen=True, slots=True, kw_only=True)
class Priced:
    """What one stroke costs.

    Attributes:
        own: the stroke that the same hand struck before, or None for its first.
        other: the stroke that the other hand struck before, or None.
        prices: for each surface under that hand before, under the other hand, and under the stroke itself, in
            this order, the last running fastest; where there is no stroke before, for the last alone.
    """

    own: int | None
    other: int | None
    prices: tuple[int, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Move:
    """A stick on its way: from a touch to the next of the same limb."""

    before: Touch
    after: Touch
    may_rebound: bool


def priced(placed: Sequence[Placed], setting: Setting, taste: Taste, kicks: Sequence[Fraction]) -> list[Priced]:
    """The prices of the strokes of the hands.

    Args:
        placed: strokes of hands, in time.
        setting: who plays them, where and how fast; a move too fast is infeasible.
        taste: what is wanted.
        kicks: where the foot plays strokes of its own.
    """
    return _Pricing(placed, setting, taste, kicks).all()


def strong_places(placed: Iterable[Placed], beats: Sequence[Fraction]) -> frozenset[Fraction]:
    """Places of the strokes a listener follows: the accents, or the beats of a chain without any."""
    strokes = tuple(placed)
    accents = frozenset(one.at for one in strokes if one.stroke.level is Level.ACCENT)
    return accents or frozenset(one.at for one in strokes if one.at in beats)


class _Pricing:
    """Keeps what many strokes share: the time needed between any two surfaces."""

    def __init__(
        self, placed: Sequence[Placed], setting: Setting, taste: Taste, kicks: Sequence[Fraction]
    ) -> None:
        self._placed = placed
        self._setting = setting
        self._taste = taste
        self._names = palette(taste, setting.kit)
        self._whole = setting.whole_seconds
        self._motion = Motion(setting.kit, setting.player)
        self._fresh = Motion(setting.kit, replace(setting.player, rebounds=0))
        self._needed: dict[object, dict[tuple[str, str], tuple[float, bool]]] = {}
        self._found: dict[object, tuple[int, ...]] = {}
        self._ways = self._all_ways()
        self._crossings = {hand: self._all_crossings(hand) for hand in (Limb.RIGHT, Limb.LEFT)}
        self._beats = setting.beats()
        self._strong = strong_places(placed, self._beats)
        self._for_cymbals = self._cymbal_places(kicks)

    def all(self) -> list[Priced]:
        """The prices of every stroke."""
        moves = self._moves()
        return [self._price(number, moves) for number in range(len(self._placed))]

    def _moves(self) -> dict[tuple[int, bool], tuple[_Move | None, int | None]]:
        """By stroke, and whether its grace note is meant: the move, and the other hand's last stroke."""
        touches = sorted(
            self._motion.touches(
                [
                    Hit(at=one.at, length=one.length, stroke=one.stroke, surface=surface("snare"))
                    for one in self._placed
                ]
            ),
            key=lambda touch: (touch.at, -touch.ahead_seconds),
        )
        rebounds = _rebounds(touches, self._setting.player.rebounds)
        last: dict[object, Touch] = {}
        moves: dict[tuple[int, bool], tuple[_Move | None, int | None]] = {}
        for number, touch in enumerate(touches):
            before, across = last.get(touch.limb), last.get(touch.limb.other)
            move = _Move(before=before, after=touch, may_rebound=number in rebounds) if before else None
            grace = touch.limb is not self._placed[touch.stroke].stroke.hand
            moves[touch.stroke, grace] = (move, across.stroke if across else None)
            last[touch.limb] = touch
        return moves

    def _price(self, number: int, moves: dict[tuple[int, bool], tuple[_Move | None, int | None]]) -> Priced:
        main, across = moves[number, False]
        grace, _ = moves.get((number, True), (None, None))
        graced = (number, True) in moves
        own = main.before.stroke if main else None
        other = (grace.before.stroke if grace else None) if graced else across
        key = (
            self._signature(number),
            self._is_free(number, main),
            _move_key(main),
            _move_key(grace),
            graced,
            other is None,
            self._placed[number].stroke.hand,
        )
        if key not in self._found:
            self._found[key] = self._tensor(number, main, grace, graced=graced, across=other is not None)
        return Priced(own=own, other=other, prices=self._found[key])

    def _signature(self, number: int) -> tuple[object, ...]:
        one = self._placed[number]
        return one.stroke.level, one.at in self._strong, one.at in self._for_cymbals

    def _tensor(
        self, number: int, main: _Move | None, grace: _Move | None, *, graced: bool, across: bool
    ) -> tuple[int, ...]:
        names = range(len(self._names))
        alone = [self._alone(number, name) for name in self._names]
        carried = self._carried(main, weak=not self._is_free(number, main))
        brought = self._carried(grace, weak=False)
        owns = names if main else range(1)
        others = names if across else range(1)
        stale = round(self._taste.away * costs().stale) if self._placed[number].at in self._strong else 0
        found = []
        for own, other, to in product(owns, others, names):
            price = alone[to] + (stale if main and to in (own, other if across else own) else 0)
            if main:
                # with a grace note of its own just before, the other hand is where this stroke is
                at = to if graced or not across else other
                price += carried[own][to][at]
            if grace:
                price += brought[other][to][own if main else to]
            found.append(min(price, INFEASIBLE))
        return tuple(found)

    def _carried(self, move: _Move | None, *, weak: bool) -> list[list[list[int]]]:
        """What a move costs from one surface to another while the other hand is on a third."""
        if move is None:
            return []
        table = costs()
        gap = float(move.after.at - move.before.at) * self._whole
        limb, needed = move.after.limb, self._times(move)
        found = []
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
            found.append(rows)
        return found

    def _all_ways(self) -> list[list[int]]:
        """What the way between any two surfaces costs."""
        spots = [self._setting.kit.spot(name) for name in self._names]
        return [[round(costs().a_metre * one.distance_cm(other) / 100) for other in spots] for one in spots]

    def _all_crossings(self, hand: Limb) -> list[list[tuple[int, float]]]:
        """What crossing costs a hand in price and in seconds, by its surface and that under the other hand."""
        motion, price = self._motion, costs().crossing
        return [
            [
                (price * motion.is_crossed(hand, mine, other), motion.crossing_seconds(hand, mine, other))
                for other in self._names
            ]
            for mine in self._names
        ]

    def _times(self, move: _Move) -> dict[tuple[str, str], tuple[float, bool]]:
        """The seconds a move needs between any two surfaces, and whether it is a rebound."""
        key = _kind(move)
        if key not in self._needed:
            pairs = [(start, end) for start in self._names for end in self._names]
            times = _time_all(self._fresh, move, pairs)
            if move.may_rebound:
                for name in self._names:
                    times |= _time_all(self._motion, move, ((name, name),))
            self._needed[key] = times
        return self._needed[key]

    def _alone(self, number: int, name: str) -> int:
        one = self._placed[number]
        if name in self._setting.doubled and one.at not in self._for_cymbals:
            return INFEASIBLE
        strong = one.at in self._strong
        price = stroke_cost(self._taste, self._setting.kit, name, level=one.stroke.level, strong=strong)
        return price + (costs().doubled_cymbal if name in self._setting.doubled else 0)

    def _is_first(self, number: int) -> bool:
        """Whether a change of surface is expected here: on a strong stroke, a beat or a new turn."""
        one = self._placed[number]
        new_turn = number == 0 or self._placed[number - 1].turn != one.turn
        return new_turn or one.at in self._strong or one.at in self._beats

    def _is_free(self, number: int, move: _Move | None) -> bool:
        """Whether a hand may change surface here: to or from a stroke where a change is expected."""
        return self._is_first(number) or (move is not None and self._is_first(move.before.stroke))

    def _cymbal_places(self, kicks: Sequence[Fraction]) -> frozenset[Fraction]:
        """Where a cymbal may be doubled: on strong strokes and the last, if the foot has time between."""
        setting = self._setting
        apart = (
            self._motion.needed_seconds("kick", "kick", setting.kick_foot) if setting.kit.has("kick") else None
        )
        if apart is None:
            return frozenset()
        chosen: list[Fraction] = []
        last = self._placed[-1].at
        wanted = [
            one
            for number, one in enumerate(self._placed)
            if not one.stroke.kind.graces and (one.at == last or self._is_first(number))
        ]
        for one in sorted(
            wanted, key=lambda one: (one.at not in self._strong, one.at not in self._beats, one.at)
        ):
            if all(abs(float(one.at - place)) * self._whole >= apart for place in (*kicks, *chosen)):
                chosen.append(one.at)
        return frozenset(chosen)


def _time_all(
    motion: Motion, move: _Move, pairs: Sequence[tuple[str, str]]
) -> dict[tuple[str, str], tuple[float, bool]]:
    """The seconds a move needs between pairs of surfaces, pair after pair in one call."""
    touches = []
    for number, (start, end) in enumerate(pairs):
        touches.append(replace(move.before, surface=start, at=2.0 * number, stroke=2 * number))
        touches.append(replace(move.after, surface=end, at=2.0 * number + 1, stroke=2 * number + 1))
    demands = [demand for demand in motion.demands(touches) if demand.stroke % 2]
    return {pair: (each.needed_seconds, each.rebound) for pair, each in zip(pairs, demands, strict=True)}


def _move_key(move: _Move | None) -> tuple[object, ...] | None:
    return (*_kind(move), move.after.at - move.before.at) if move else None


def _kind(move: _Move) -> tuple[object, ...]:
    """What the time that a move needs depends on, apart from the surfaces."""
    before, after = move.before, move.after
    return (
        after.limb,
        move.may_rebound,
        before.ahead_seconds,
        before.presses,
        after.ahead_seconds,
        after.presses,
    )


def _rebounds(touches: Sequence[Touch], limit: int) -> set[int]:
    """Which touches may be rebounds, the quickest first, never more in a row than the player has.

    Chosen by the rhythm alone, so that it holds for every route; what it allows, the motion check allows.
    """
    by_limb: dict[object, list[int]] = {}
    for number, touch in enumerate(touches):
        by_limb.setdefault(touch.limb, []).append(number)
    chosen: set[int] = set()
    for own in by_limb.values():
        places = range(1, len(own))
        gaps = {place: touches[own[place]].at - touches[own[place - 1]].at for place in places}
        flags = [False] * len(own)
        for place in sorted(places, key=lambda place: (gaps[place], place)):
            if touches[own[place]].ahead_seconds:
                continue
            flags[place] = True
            flags[place] = _longest_run(flags) <= limit
        chosen |= {own[place] for place in places if flags[place]}
    return chosen


def _longest_run(flags: Sequence[bool]) -> int:
    longest = run = 0
    for flag in flags:
        run = run + 1 if flag else 0
        longest = max(longest, run)
    return longest
