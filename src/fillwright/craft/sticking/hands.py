"""Hands: work out the sticking of strokes that have none.

The sticking makes the hardest stroke as easy as possible, then the sum of all demands as small as possible.
Feet have their surfaces; with two pedals on the kick they share it like hands.

Times are seconds as played; gaps scale with the tempo: `scale` 0.5 is twice as fast.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import inf

from fillwright.craft.player.motion import Motion
from fillwright.craft.player.players import load_trigger_thresholds
from fillwright.craft.sticking.pairing import Limits, Move, Pairing, SharedStroke, Tables, Way
from fillwright.music.stroke import Limb
from fillwright.music.surfaces import find_surface

HANDS = (Limb.RIGHT, Limb.LEFT)
FEET = (Limb.RIGHT_FOOT, Limb.LEFT_FOOT)


@dataclass(frozen=True, slots=True, kw_only=True)
class UnassignedStroke:
    """A stroke without a hand.

    Attributes:
        at_seconds: its written time.
        surface: name of the surface.
        velocity: MIDI velocity, 1 to 127; 0 for unknown.
        ahead_seconds: time before that, for grace notes; it doesn't scale with the tempo.
    """

    at_seconds: float
    surface: str
    velocity: int = 0
    ahead_seconds: float = 0.0

    @property
    def onset_seconds(self) -> float:
        """Time when it sounds."""
        return self.at_seconds - self.ahead_seconds

    @property
    def by_foot(self) -> bool:
        """True where a foot plays it."""
        return find_surface(self.surface).foot is not None


@dataclass(frozen=True, slots=True, kw_only=True)
class AssignedStroke:
    """A stroke with the limb that plays it.

    Attributes:
        stroke: its number, from 0.
        limb: hand or foot.
        before: number of the limb's stroke before, None for its first.
        way: fresh, rebound, or bounce of a pressed stick.
        crossed: True where the hands cross.
        needed_seconds: the time that the player needs since that stroke.
        gap_seconds: the time since that stroke; infinite for the first stroke.
        demand: needed over available time; 1 is the limit.
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
        strokes: one for each stroke, in their order.
        limit: the scale of the gaps at which the peak demand is 1; the ceiling is the tempo divided by it. 0
            for no limit.
    """

    strokes: tuple[AssignedStroke, ...]
    limit: float

    @property
    def peak_demand(self) -> float:
        """Demand of the hardest stroke."""
        return max((stroke.demand for stroke in self.strokes), default=0.0)

    @property
    def playable(self) -> bool:
        """True where no demand is above the limit."""
        return self.peak_demand <= 1.0


def find_hands(
    strokes: Sequence[UnassignedStroke],
    motion: Motion,
    *,
    scale: float = 1.0,
    jitter_seconds: float = 0.0,
    two_pedals: bool = False,
) -> Sticking:
    """Return the sticking with the least peak demand, and of those the one with the least total.

    Args:
        strokes: in the order in which they sound.
        motion: the player at the kit.
        scale: factor on every gap; 0.5 is twice as fast.
        jitter_seconds: time added to each gap before it is scaled.
        two_pedals: True if the left foot has a pedal on the kick too.

    Raises:
        UnknownNameError: for an unknown surface, or one that the kit does not have.

    >>> from fillwright.craft.player.kits import find_kit
    >>> from fillwright.craft.player.players import find_player
    >>> motion = Motion(find_kit("five-piece"), find_player("gigging"))
    >>> strokes = [UnassignedStroke(at_seconds=n * 0.125, surface="snare") for n in range(4)]
    >>> "".join(stroke.limb.value for stroke in find_hands(strokes, motion).strokes)
    'RLRL'
    """
    least = motion.player.rebound_least
    assigned: list[AssignedStroke] = []
    limit = 0.0
    for limbs in (HANDS, FEET):
        numbers = [number for number, stroke in enumerate(strokes) if stroke.by_foot == limbs[0].is_foot]
        chosen = [strokes[number] for number in numbers]
        pairing = _build_pairing(chosen, motion, limbs, jitter_seconds=jitter_seconds, two_pedals=two_pedals)
        limit = max(limit, pairing.peak())
        moves = pairing.best(scale, least)
        assigned += [_assign(number, move, limbs, numbers) for number, move in zip(numbers, moves, strict=True)]
    return Sticking(strokes=tuple(sorted(assigned, key=lambda stroke: stroke.stroke)), limit=limit)


def find_feet_limit(
    strokes: Sequence[UnassignedStroke],
    motion: Motion,
    *,
    jitter_seconds: float = 0.0,
    two_pedals: bool = False,
) -> float:
    """Return the scale of the gaps at which the feet reach their limit; see `find_hands` for the arguments."""
    kicks = [stroke for stroke in strokes if stroke.by_foot]
    return _build_pairing(kicks, motion, FEET, jitter_seconds=jitter_seconds, two_pedals=two_pedals).peak()


def _assign(number: int, move: Move, limbs: tuple[Limb, Limb], numbers: Sequence[int]) -> AssignedStroke:
    return AssignedStroke(
        stroke=number,
        limb=limbs[move.limb],
        before=None if move.before < 0 else numbers[move.before],
        way=move.way,
        crossed=move.crossed,
        needed_seconds=move.needed_seconds,
        gap_seconds=move.gap_seconds,
        demand=0.0 if move.gap_seconds == inf else move.demand,
    )


def _build_pairing(
    strokes: Sequence[UnassignedStroke],
    motion: Motion,
    limbs: tuple[Limb, Limb],
    *,
    jitter_seconds: float,
    two_pedals: bool,
) -> Pairing:
    names = tuple(dict.fromkeys(stroke.surface for stroke in strokes))
    shared = [
        SharedStroke(
            at_seconds=stroke.at_seconds,
            ahead_seconds=stroke.ahead_seconds,
            surface=names.index(stroke.surface),
            velocity=stroke.velocity,
            limbs=_choose_limbs(stroke.surface, motion, two_pedals=two_pedals),
        )
        for stroke in strokes
    ]
    return Pairing(shared, _build_tables(names, motion, limbs), _build_limits(motion, jitter_seconds))


def _choose_limbs(name: str, motion: Motion, *, two_pedals: bool) -> tuple[int, ...]:
    foot = find_surface(name).foot
    if foot is None or (two_pedals and name == "kick"):
        return (0, 1)
    return (FEET.index(foot.other if motion.kit.mirrored else foot),)


def _build_limits(motion: Motion, jitter_seconds: float) -> Limits:
    player = motion.player
    return Limits(
        rebounds=player.rebounds,
        crossing_seconds=player.crossing_seconds,
        clear_seconds=player.clear_seconds,
        grace_seconds=player.stroke_seconds * (1 - player.grace),
        soft_velocity=player.soft_velocity,
        bounce_gap_seconds=load_trigger_thresholds().bounce_gap_seconds,
        bounce_share=load_trigger_thresholds().bounce_share,
        bounce_steps=load_trigger_thresholds().bounce_steps,
        jitter_seconds=jitter_seconds,
    )


def _build_tables(names: Sequence[str], motion: Motion, limbs: tuple[Limb, Limb]) -> Tables:
    hands = not limbs[0].is_foot
    return Tables(
        fresh=tuple(
            tuple(tuple(motion.time_stroke(a, b, limb) for b in names) for a in names) for limb in limbs
        ),
        rebound=tuple(
            tuple(motion.time_stroke(name, name, limb, rebound=True) for name in names) for limb in limbs
        ),
        bounce=tuple(tuple(motion.bounce_seconds(name) for name in names) for _ in limbs),
        crossed=tuple(
            tuple(tuple(hands and motion.is_crossed(limb, a, b) for b in names) for a in names)
            for limb in limbs
        ),
    )
