"""Motion: the time that hands and feet need between strokes, compared with the time they have.

The time a player needs does not depend on the tempo, and every gap scales with it. So the fastest tempo of a
fill, its ceiling, has a closed form: the tightest stroke sets it.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise
from math import inf, log2

from fillwright.craft.player.kits import Kit, Spot
from fillwright.craft.player.players import Player, find_surface_factors
from fillwright.music.hit import Hit
from fillwright.music.stroke import Kind, Limb
from fillwright.music.timing import FLAM_MS


def index_of_difficulty(distance_cm: float, width_cm: float) -> float:
    """Return Fitts's index in Shannon's form, in bits: log2(D/W + 1) (Fitts 1954; MacKenzie 1992).

    >>> index_of_difficulty(30, 30)
    1.0
    """
    return log2(distance_cm / width_cm + 1)


@dataclass(frozen=True, slots=True, kw_only=True)
class Touch:
    """One stick or foot on one surface.

    Attributes:
        at: its time, in whole notes or in seconds; the same unit for all touches that are compared.
        limb: the limb.
        surface: name of the surface.
        ahead_seconds: time before `at`, for grace notes.
        stroke: number of its stroke in the fill, from 0.
        presses: extra time for a drag's second grace note, in seconds.
    """

    at: Fraction | float
    limb: Limb
    surface: str
    ahead_seconds: float = 0.0
    stroke: int = 0
    presses: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Demand:
    """The time that a limb needs for one stroke and the time it has.

    Attributes:
        stroke: number of the stroke in the fill, from 0.
        limb: the limb.
        surface: the surface of the stroke.
        before: the surface of the limb's stroke before.
        needed_seconds: the time that the player needs.
        gap: the time since the stroke before, in the unit of the touches.
        rebound: True for a rebound of the stroke before.
        crossed: True where the hands cross.
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
        """Return needed time over available time: 1 is the limit.

        Args:
            seconds_per_unit: length of the touches' unit of time.
        """
        available = float(self.gap) * seconds_per_unit
        return inf if available <= 0 else self.needed_seconds / available


class Motion:
    """A player at a kit.

    Two numbers of the player decide most: `stroke_seconds` between touches of one limb, and the number of
    touches in a row that may be rebounds.
    """

    def __init__(self, kit: Kit, player: Player) -> None:
        """Take the kit and its player."""
        self.kit = kit
        self.player = player
        self._travel: dict[tuple[str, str], float] = {}

    def travel_seconds(self, before: str, after: str) -> float:
        """Return the seconds to carry a stick from one surface to another, without the stroke itself."""
        key = (before, after)
        if key not in self._travel:
            start, end = self.kit.spot(before), self.kit.spot(after)
            bits = index_of_difficulty(start.distance_cm(end), end.size)
            self._travel[key] = bits * self.player.bit_seconds
        return self._travel[key]

    def time_stroke(self, before: str, after: str, limb: Limb, *, rebound: bool = False) -> float:
        """Return the seconds that a limb needs from a stroke on one surface to a stroke on another.

        Args:
            before: the surface of the first stroke.
            after: the surface of the second stroke.
            limb: hand or foot.
            rebound: True for a rebound; on one surface only.
        """
        player = self.player
        fresh, thrown = find_surface_factors(after)
        if limb.is_foot:
            return player.kick_rebound_seconds * thrown if rebound else player.kick_seconds * fresh
        if rebound and before == after:
            return player.rebound_seconds * thrown
        return player.stroke_seconds * fresh + self.travel_seconds(before, after) + self._reach(after, limb)

    def bounce_seconds(self, name: str) -> float:
        """Return the seconds between the bounces of a stick or beater pressed into a surface."""
        return self.player.bounce_seconds * find_surface_factors(name)[1]

    def crossing_seconds(self, limb: Limb, mine: str, other: str) -> float:
        """Return the extra seconds for a stroke on the far side of the other hand, or 0."""
        return self.player.crossing_seconds if self.is_crossed(limb, mine, other) else 0.0

    def is_crossed(self, limb: Limb, mine: str, other: str) -> bool:
        """Return True if a hand is on the far side of the other one."""
        gap = self.kit.spot(mine).x - self.kit.spot(other).x
        return gap < 0 if limb is Limb.RIGHT else gap > 0

    def _reach(self, name: str, limb: Limb) -> float:
        side = self.player.shoulder_cm if limb is Limb.RIGHT else -self.player.shoulder_cm
        shoulder = Spot(x=side, y=0.0, size=1.0)
        beyond = self.kit.spot(name).distance_cm(shoulder) > self.player.reach_cm
        return self.player.reach_seconds if beyond else 0.0

    def demands(self, touches: Iterable[Touch]) -> tuple[Demand, ...]:
        """Return the demand of each touch but the first of every limb, in the order of strokes.

        In a run of one hand on one surface it chooses the rebounds that make the hardest stroke as easy as
        possible.
        """
        ordered = sorted(touches, key=lambda touch: (touch.at, -touch.ahead_seconds))
        settings = list(zip(ordered, self._find_crossings(ordered), self._find_direct(ordered), strict=True))
        demands: list[Demand] = []
        for limb in Limb:
            demands += self._choose_rebounds([setting for setting in settings if setting[0].limb is limb])
        return tuple(sorted(demands, key=lambda demand: demand.stroke))

    def _find_crossings(self, ordered: Sequence[Touch]) -> list[bool]:
        last: dict[Limb, str] = {}
        crossed = []
        for touch in ordered:
            other = last.get(touch.limb.other)
            hand = not touch.limb.is_foot
            crossed.append(hand and other is not None and self.is_crossed(touch.limb, touch.surface, other))
            last[touch.limb] = touch.surface
        return crossed

    def _find_direct(self, ordered: Sequence[Touch]) -> list[bool]:
        """Return for each touch if its limb also played the touch before, so that it can be a rebound."""
        last: Limb | None = None
        direct = []
        for touch in ordered:
            direct.append(touch.limb.is_foot or touch.limb is last)
            last = last if touch.limb.is_foot else touch.limb
        return direct

    def _choose_rebounds(self, touches: Sequence[tuple[Touch, bool, bool]]) -> list[Demand]:
        """Return the demands of one limb; dynamic programming over rebounds in a row chooses its rebounds."""
        limit = self.player.rebounds
        # best[r]: the least peak of needed over gap with r rebounds just played, and the demands so far
        best: dict[int, tuple[float, list[Demand]]] = {0: (0.0, [])}
        for (before, _, _), (after, crossed, direct) in pairwise(touches):
            may_rebound = direct and before.surface == after.surface and not after.ahead_seconds
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
        needed = self.time_stroke(before.surface, after.surface, after.limb, rebound=rebound)
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
        """Return the touches of some hits; grace notes are touches of the other hand.

        Args:
            hits: in time order, in whole notes.
            graces_on: for each hit the surface of its grace notes; empty for the surface of the hit.
        """
        touches = []
        for number, hit in enumerate(hits):
            hand, name = hit.stroke.hand, hit.surface.name
            kind = hit.stroke.kind
            if kind.graces:
                flam = FLAM_MS / 1000
                second = self.player.rebound_seconds if kind is Kind.DRAG else 0.0
                touches.append(
                    Touch(
                        at=hit.at,
                        limb=hand.other,
                        surface=graces_on[number] if graces_on else name,
                        ahead_seconds=flam + second,
                        stroke=number,
                        presses=second,
                    )
                )
            touches.append(Touch(at=hit.at, limb=hand, surface=name, stroke=number))
        return tuple(touches)


def find_ceiling_bpm(demands: Iterable[Demand], unit: Fraction = Fraction(1, 4)) -> float:
    """Return the fastest tempo at which no demand is above 1, in beats of `unit` per minute; infinite for none.

    Args:
        demands: with gaps in whole notes.
        unit: the note value of a beat.
    """
    tightest = max((demand.at(1.0) for demand in demands), default=0.0)
    return inf if tightest == 0 else 60.0 / float(unit) / tightest


def find_peak(demands: Iterable[Demand]) -> Demand | None:
    """Return the demand that sets the ceiling; None for no demands."""
    return max(demands, key=lambda demand: demand.at(1.0), default=None)
