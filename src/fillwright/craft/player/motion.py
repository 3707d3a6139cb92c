"""Motion: the time that hands and feet need between strokes, against the time there is.

Every time a player needs is a constant and every gap scales with the tempo, so the fastest tempo of a fill, its
ceiling, is a closed form: the tightest stroke sets it.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise
from math import inf, log2

from fillwright.craft.player.kits import Kit, Spot
from fillwright.craft.player.players import Player, give
from fillwright.music.hit import Hit
from fillwright.music.stroke import Kind, Limb
from fillwright.music.timing import FLAM_MS


def index_of_difficulty(distance_cm: float, width_cm: float) -> float:
    """Fitts's index in Shannon's form, bits: log2(D/W + 1) (Fitts 1954; MacKenzie 1992).

    >>> index_of_difficulty(30, 30)
    1.0
    """
    return log2(distance_cm / width_cm + 1)


@dataclass(frozen=True, slots=True, kw_only=True)
class Touch:
    """One stick or foot meeting one surface.

    Attributes:
        at: when, in whole notes or in seconds; the same for all touches that are compared.
        limb: what moves.
        surface: name of the surface.
        ahead_seconds: how far before `at` it falls, for grace notes.
        stroke: which stroke of the fill it belongs to, from 0.
        presses: extra time it takes, a drag's second grace note.
    """

    at: Fraction | float
    limb: Limb
    surface: str
    ahead_seconds: float = 0.0
    stroke: int = 0
    presses: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Demand:
    """What one stroke asks of a limb.

    Attributes:
        stroke: which stroke of the fill, from 0.
        limb: the limb it asks it of.
        surface: where it strikes.
        before: the surface that limb struck before.
        needed_seconds: what the player needs.
        gap: the time there is, in the unit of the touches.
        rebound: whether it is taken as a rebound of the stroke before.
        crossed: whether the hands cross.
    """

    stroke: int
    limb: Limb
    surface: str
    before: str
    needed_seconds: float
    gap: Fraction | float
    rebound: bool
    crossed: bool

    def at(self, seconds_per_unit: float) -> float:
        """Needed over available: 1 is the limit.

        Args:
            seconds_per_unit: length of the touches' unit of time.
        """
        available = float(self.gap) * seconds_per_unit
        return inf if available <= 0 else self.needed_seconds / available


class Motion:
    """A player at a kit.

    The two numbers that everything else rests on: `stroke_seconds` between touches of one limb, and how many
    touches in a row may be rebounds.
    """

    def __init__(self, kit: Kit, player: Player) -> None:
        """For this player at this kit."""
        self.kit = kit
        self.player = player
        self._travel: dict[tuple[str, str], float] = {}

    def travel_seconds(self, before: str, after: str) -> float:
        """Time to carry a stick from one surface to another, on top of the stroke itself."""
        key = (before, after)
        if key not in self._travel:
            start, end = self.kit.spot(before), self.kit.spot(after)
            bits = index_of_difficulty(start.distance_cm(end), end.size)
            self._travel[key] = bits * self.player.bit_seconds
        return self._travel[key]

    def needed_seconds(self, before: str, after: str, limb: Limb, *, rebound: bool = False) -> float:
        """Time one limb needs from a stroke on one surface to a stroke on another.

        Args:
            before: the surface it struck.
            after: the surface it goes to.
            limb: hand or foot.
            rebound: whether the stick is thrown back; on one surface only.
        """
        player = self.player
        fresh, thrown = give(after)
        if limb.is_foot:
            return player.kick_rebound_seconds * thrown if rebound else player.kick_seconds * fresh
        if rebound and before == after:
            return player.rebound_seconds * thrown
        return player.stroke_seconds * fresh + self.travel_seconds(before, after) + self._reach(after, limb)

    def bounce_seconds(self, name: str) -> float:
        """Time between the bounces of a stick or beater pressed into a surface."""
        return self.player.bounce_seconds * give(name)[1]

    def crossing_seconds(self, limb: Limb, mine: str, others: str) -> float:
        """Extra time where a hand strikes on the far side of the other hand."""
        return self.player.crossing_seconds if self.is_crossed(limb, mine, others) else 0.0

    def is_crossed(self, limb: Limb, mine: str, others: str) -> bool:
        """Whether a hand lies on the far side of the other one."""
        gap = self.kit.spot(mine).x - self.kit.spot(others).x
        return gap < 0 if limb is Limb.RIGHT else gap > 0

    def _reach(self, name: str, limb: Limb) -> float:
        side = self.player.shoulder_cm if limb is Limb.RIGHT else -self.player.shoulder_cm
        shoulder = Spot(x=side, y=0.0, size=1.0)
        beyond = self.kit.spot(name).distance_cm(shoulder) > self.player.reach_cm
        return self.player.reach_seconds if beyond else 0.0

    def demands(self, touches: Iterable[Touch]) -> tuple[Demand, ...]:
        """What each touch but the first of every limb asks, in time order.

        Which strokes of a run of one hand on one surface are rebounds is chosen so that the hardest of them is
        as easy as can be.
        """
        ordered = sorted(touches, key=lambda touch: (touch.at, -touch.ahead_seconds))
        settings = list(zip(ordered, self._crossings(ordered), self._in_a_row(ordered), strict=True))
        found: list[Demand] = []
        for limb in Limb:
            found += self._along([setting for setting in settings if setting[0].limb is limb])
        return tuple(sorted(found, key=lambda demand: demand.stroke))

    def _crossings(self, ordered: Sequence[Touch]) -> list[bool]:
        last: dict[Limb, str] = {}
        crossed = []
        for touch in ordered:
            other = last.get(touch.limb.other)
            hand = not touch.limb.is_foot
            crossed.append(hand and other is not None and self.is_crossed(touch.limb, touch.surface, other))
            last[touch.limb] = touch.surface
        return crossed

    def _in_a_row(self, ordered: Sequence[Touch]) -> list[bool]:
        """Whether each touch comes at once behind one of its own limb: only then may a stick be thrown back."""
        last: Limb | None = None
        at_once = []
        for touch in ordered:
            at_once.append(touch.limb.is_foot or touch.limb is last)
            last = last if touch.limb.is_foot else touch.limb
        return at_once

    def _along(self, own: Sequence[tuple[Touch, bool, bool]]) -> list[Demand]:
        """The demands of one limb, its rebounds chosen by dynamic programming over how many came in a row."""
        limit = self.player.rebounds
        # best[r]: the least peak of needed over gap with r rebounds just played, and the demands so far
        best: dict[int, tuple[float, list[Demand]]] = {0: (0.0, [])}
        for (before, _, _), (after, crossed, at_once) in pairwise(own):
            may_rebound = at_once and before.surface == after.surface and not after.ahead_seconds
            following: dict[int, tuple[float, list[Demand]]] = {}
            for run, (peak, path) in best.items():
                for rebound in (False, True):
                    if rebound and not (may_rebound and run < limit):
                        continue
                    step = self._demand(before, after, rebound=rebound, crossed=crossed)
                    reached = run + 1 if rebound else 0
                    height = max(peak, step.at(1.0))
                    if reached not in following or height < following[reached][0]:
                        following[reached] = (height, [*path, step])
            best = following
        return min(best.values(), key=lambda pair: pair[0])[1]

    def _demand(self, before: Touch, after: Touch, *, rebound: bool, crossed: bool) -> Demand:
        needed = self.needed_seconds(before.surface, after.surface, after.limb, rebound=rebound)
        if after.ahead_seconds:
            needed -= self.player.stroke_seconds * (1 - self.player.grace)
        needed += self.player.crossing_seconds if crossed and not rebound else 0.0
        needed += after.ahead_seconds - before.ahead_seconds + before.presses
        return Demand(
            stroke=after.stroke,
            limb=after.limb,
            surface=after.surface,
            before=before.surface,
            needed_seconds=max(needed, self.player.rebound_seconds),
            gap=after.at - before.at,
            rebound=rebound,
            crossed=crossed,
        )

    def touches(self, hits: Sequence[Hit], graces_on: Sequence[str] = ()) -> tuple[Touch, ...]:
        """Every stick and foot of some hits, grace notes as touches of the other hand.

        Args:
            hits: in time order, in whole notes.
            graces_on: for each hit the surface of its grace notes; empty for the surface of the hit.
        """
        made = []
        for number, hit in enumerate(hits):
            hand, name = hit.stroke.hand, hit.surface.name
            kind = hit.stroke.kind
            if kind.graces:
                flam = FLAM_MS / 1000
                second = self.player.rebound_seconds if kind is Kind.DRAG else 0.0
                made.append(
                    Touch(
                        at=hit.at,
                        limb=hand.other,
                        surface=graces_on[number] if graces_on else name,
                        ahead_seconds=flam + second,
                        stroke=number,
                        presses=second,
                    )
                )
            made.append(Touch(at=hit.at, limb=hand, surface=name, stroke=number))
        return tuple(made)


def ceiling_bpm(demands: Iterable[Demand], unit: Fraction = Fraction(1, 4)) -> float:
    """The fastest tempo at which no demand passes 1, in beats of `unit` a minute; infinite for no demands.

    Args:
        demands: with gaps in whole notes.
        unit: the note value that the tempo counts.
    """
    tightest = max((demand.at(1.0) for demand in demands), default=0.0)
    return inf if tightest == 0 else 60.0 / float(unit) / tightest


def peak(demands: Iterable[Demand]) -> Demand | None:
    """The demand that sets the ceiling."""
    return max(demands, key=lambda demand: demand.at(1.0), default=None)
