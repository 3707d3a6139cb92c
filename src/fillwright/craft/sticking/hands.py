"""Hands for any fill: the sticking of strokes that have none.

Each stroke goes to the hand that makes the hardest stroke of all as easy as can be, then the sum of all demands
as small as can be. Feet have their surfaces; with two pedals on the kick they share it like hands.

Times are seconds as played, and gaps scale with the tempo: `scale` 0.5 is twice as fast.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import inf

from fillwright.craft.player.motion import Motion
from fillwright.craft.player.players import recording
from fillwright.craft.sticking.limbs import Limits, Move, Place, Tables, Way
from fillwright.craft.sticking.pairing import Pairing
from fillwright.music.stroke import Limb
from fillwright.music.surfaces import surface

HANDS = (Limb.RIGHT, Limb.LEFT)
FEET = (Limb.RIGHT_FOOT, Limb.LEFT_FOOT)


@dataclass(frozen=True, slots=True, kw_only=True)
class Struck:
    """A stroke without a hand.

    Attributes:
        at_seconds: where it belongs.
        surface: name of the surface.
        velocity: 1 to 127 as MIDI counts it, 0 where it isn't known.
        ahead_seconds: how far before its place it sounds, for grace notes; this doesn't scale with the tempo.
    """

    at_seconds: float
    surface: str
    velocity: int = 0
    ahead_seconds: float = 0.0

    @property
    def onset_seconds(self) -> float:
        """When it sounds."""
        return self.at_seconds - self.ahead_seconds

    @property
    def by_foot(self) -> bool:
        """Whether a foot plays it."""
        return surface(self.surface).foot is not None


@dataclass(frozen=True, slots=True, kw_only=True)
class Played:
    """A stroke with the limb that plays it.

    Attributes:
        stroke: its number, from 0.
        limb: hand or foot.
        before: number of the limb's stroke before, None for its first.
        way: fresh, rebound, or bounce of a pressed stick.
        crossed: whether the hands cross.
        needed_seconds: what the player needs since then.
        gap_seconds: what there is at the tempo asked, infinite for the first stroke.
        demand: needed over available, 1 = at the limit.
    """

    stroke: int
    limb: Limb
    before: int | None
    way: Way
    crossed: bool
    needed_seconds: float
    gap_seconds: float
    demand: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Sticking:
    """Every stroke with its limb.

    Attributes:
        played: one for each stroke, in their order.
        limit: the scale of the gaps at which the peak demand is 1; the ceiling is the tempo over this. 0 where
            nothing limits it.
    """

    played: tuple[Played, ...]
    limit: float

    @property
    def peak_demand(self) -> float:
        """The demand of the hardest stroke."""
        return max((each.demand for each in self.played), default=0.0)

    @property
    def total_demand(self) -> float:
        """The demands of all strokes together."""
        return sum(each.demand for each in self.played)

    @property
    def playable(self) -> bool:
        """Whether no stroke passes the limit."""
        return self.peak_demand <= 1.0


def find_hands(
    strokes: Sequence[Struck],
    motion: Motion,
    *,
    scale: float = 1.0,
    jitter_seconds: float = 0.0,
    two_pedals: bool = False,
) -> Sticking:
    """The sticking with the least peak demand, and of those the one with the least total.

    Args:
        strokes: in the order in which they sound.
        motion: the player at the kit.
        scale: how many times longer every gap is than in `strokes`; 0.5 is twice as fast.
        jitter_seconds: each gap counts this much longer, before it is scaled.
        two_pedals: whether the left foot has a pedal on the kick too.

    Raises:
        UnknownNameError: for a surface that nobody knows or that the kit has not.

    >>> from fillwright.craft.kits import find_kit
    >>> from fillwright.craft.players import find_player
    >>> motion = Motion(find_kit("five-piece"), find_player("gigging"))
    >>> strokes = [Struck(at_seconds=n * 0.125, surface="snare") for n in range(4)]
    >>> "".join(each.limb.value for each in find_hands(strokes, motion).played)
    'RLRL'
    """
    least = motion.player.rebound_least
    played: list[Played] = []
    limit = 0.0
    for limbs in (HANDS, FEET):
        numbers = [number for number, each in enumerate(strokes) if each.by_foot == limbs[0].is_foot]
        own = [strokes[number] for number in numbers]
        pairing = _pairing(own, motion, limbs, jitter_seconds=jitter_seconds, two_pedals=two_pedals)
        limit = max(limit, pairing.peak())
        moves = pairing.best(scale, least)
        played += [_played(number, move, limbs, numbers) for number, move in zip(numbers, moves, strict=True)]
    return Sticking(played=tuple(sorted(played, key=lambda each: each.stroke)), limit=limit)


def feet_limit(
    strokes: Sequence[Struck], motion: Motion, *, jitter_seconds: float = 0.0, two_pedals: bool = False
) -> float:
    """The scale of the gaps at which the feet come to their limit; see `find_hands`."""
    own = [each for each in strokes if each.by_foot]
    return _pairing(own, motion, FEET, jitter_seconds=jitter_seconds, two_pedals=two_pedals).peak()


def _played(number: int, move: Move, limbs: tuple[Limb, Limb], numbers: Sequence[int]) -> Played:
    return Played(
        stroke=number,
        limb=limbs[move.limb],
        before=None if move.before < 0 else numbers[move.before],
        way=move.way,
        crossed=move.crossed,
        needed_seconds=move.needed_seconds,
        gap_seconds=move.gap_seconds,
        demand=0.0 if move.gap_seconds == inf else move.demand,
    )


def _pairing(
    strokes: Sequence[Struck],
    motion: Motion,
    limbs: tuple[Limb, Limb],
    *,
    jitter_seconds: float,
    two_pedals: bool,
) -> Pairing:
    names = tuple(dict.fromkeys(each.surface for each in strokes))
    places = [
        Place(
            at_seconds=each.at_seconds,
            ahead_seconds=each.ahead_seconds,
            surface=names.index(each.surface),
            velocity=each.velocity,
            limbs=_limbs_for(each.surface, motion, two_pedals=two_pedals),
        )
        for each in strokes
    ]
    return Pairing(places, _tables(names, motion, limbs), _limits(motion, jitter_seconds))


def _limbs_for(name: str, motion: Motion, *, two_pedals: bool) -> tuple[int, ...]:
    foot = surface(name).foot
    if foot is None or (two_pedals and name == "kick"):
        return (0, 1)
    return (FEET.index(foot.other if motion.kit.mirrored else foot),)


def _limits(motion: Motion, jitter_seconds: float) -> Limits:
    player = motion.player
    return Limits(
        rebounds=player.rebounds,
        crossing_seconds=player.crossing_seconds,
        clear_seconds=player.clear_seconds,
        grace_seconds=player.stroke_seconds * (1 - player.grace),
        soft_velocity=player.soft_velocity,
        bounce_gap_seconds=recording().bounce_gap_seconds,
        bounce_share=recording().bounce_share,
        bounce_steps=recording().bounce_steps,
        jitter_seconds=jitter_seconds,
    )


def _tables(names: Sequence[str], motion: Motion, limbs: tuple[Limb, Limb]) -> Tables:
    hands = not limbs[0].is_foot
    return Tables(
        fresh=tuple(
            tuple(tuple(motion.needed_seconds(a, b, limb) for b in names) for a in names) for limb in limbs
        ),
        rebound=tuple(
            tuple(motion.needed_seconds(name, name, limb, rebound=True) for name in names) for limb in limbs
        ),
        bounce=tuple(tuple(motion.bounce_seconds(name) for name in names) for _ in limbs),
        crossed=tuple(
            tuple(tuple(hands and motion.is_crossed(limb, a, b) for b in names) for a in names)
            for limb in limbs
        ),
    )
