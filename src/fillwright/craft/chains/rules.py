"""Rules of a chain: what may follow what, what must appear, what may fill a remainder; and which come first."""

from __future__ import annotations

from dataclasses import dataclass, replace
from enum import Enum
from fractions import Fraction
from itertools import pairwise

from fillwright.craft.chains.chain import Chain
from fillwright.errors import FitError
from fillwright.music.notevalue import format_value
from fillwright.music.stroke import Limb

TURN_COST = 2
REBARRED_COST = 3
REPEAT_COST = 1
TAIL_COST = 4
"""What the best chains avoid: every turn costs 2, one out of its own feel 3 more, the same figure twice in a
row 1 more, and a remainder 4.

So a chain of few, long turns comes before one of many, a figure in its own feel before the same re-barred,
different figures before one repeated, and a chain that comes out even before one that does not. Values of our
own.
"""

MOST_MUST = 6
"""The most figures that can be asked to appear; each doubles the work."""


class TailKind(Enum):
    """What may fill a remainder."""

    REST = "rest"
    KICK = "kick"


@dataclass(frozen=True, slots=True, kw_only=True)
class Tail:
    """What fills the end of a span behind the last turn.

    Attributes:
        kind: a rest, or one stroke of the kick.
        length: in whole notes.
    """

    kind: TailKind
    length: Fraction

    def __post_init__(self) -> None:
        """Refuse what takes no time."""
        if self.length <= 0:
            raise FitError(
                f"A {self.kind.value} of {self.length} whole notes fills nothing; give it a note value."
            )

    @property
    def words(self) -> str:
        """As a drummer writes it: "kick 16"."""
        return f"{self.kind.value} {format_value(self.length)}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Filling:
    """A chain with what fills the remainder behind it, if there is one."""

    chain: Chain
    tail: Tail | None = None

    @property
    def length(self) -> Fraction:
        """How long it takes, in whole notes."""
        return self.chain.length + (self.tail.length if self.tail else 0)

    @property
    def starts(self) -> Limb:
        """The hand of its first stroke."""
        return self.chain.readings[0].lead

    @property
    def lands(self) -> Limb:
        """The hand free to land behind it: the other one than that of the last stroke."""
        return self.chain.last_hand.other

    @property
    def cost(self) -> int:
        """How far it is from the best, by `TURN_COST` and the other costs."""
        readings = self.chain.readings
        turns = sum(TURN_COST + REBARRED_COST * reading.rebarred for reading in readings)
        repeats = sum(first.figure.name == then.figure.name for first, then in pairwise(readings))
        return turns + REPEAT_COST * repeats + (TAIL_COST if self.tail else 0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Rules:
    """What is asked of a chain; each rule can be dropped.

    Attributes:
        hands: whether leads count. Without, each figure's rhythm is one reading, whatever hand leads, and there
            are no rules about hands.
        alternate: whether a turn starts with the other hand than that of the stroke before.
        repeat_gap: with `alternate`, the time in whole notes from a stroke to the next turn's first stroke that
            lets one hand play both; None for never. Grace notes are not counted.
        lead: the hand of the first stroke; None for either.
        land: the hand that lands: the other one than that of the last stroke; None for either.
        only: names of the figures that may be used; None for all.
        most: at most so many different figures; None for any number.
        must: names of figures that must appear, at most `MOST_MUST`.
        accents: places in whole notes from the start of the span, each of which must have an accented stroke.
        tails: what may fill the end of the span; at most one is used, behind at least one turn.
    """

    hands: bool = True
    alternate: bool = True
    repeat_gap: Fraction | None = None
    lead: Limb | None = None
    land: Limb | None = None
    only: tuple[str, ...] | None = None
    most: int | None = None
    must: tuple[str, ...] = ()
    accents: tuple[Fraction, ...] = ()
    tails: tuple[Tail, ...] = ()

    def __post_init__(self) -> None:
        """Refuse rules that contradict each other."""
        if not self.hands and (self.lead or self.land or self.repeat_gap is not None):
            raise FitError(
                "Without hands there is none to lead, to land or to repeat; drop those rules or keep the hands."
            )
        if self.repeat_gap is not None and self.repeat_gap < 0:
            raise FitError(f"A gap of {self.repeat_gap} whole notes is none; give 0 or more.")
        if self.repeat_gap is not None and not self.alternate:
            raise FitError(
                "A gap for repeating a hand means something only where hands alternate; drop one of both."
            )
        if self.most is not None and self.most < 1:
            raise FitError(f"A chain of at most {self.most} different figures can't be; ask for 1 or more.")
        if len(set(self.must)) > MOST_MUST:
            raise FitError(
                f"{len(set(self.must))} figures can't all be asked to appear; name at most {MOST_MUST}."
            )
        if any(limb and limb.is_foot for limb in (self.lead, self.land)):
            raise FitError("A foot can't lead or land a chain; name a hand.")


def hand_to_hand(filling: Filling, lead: Limb = Limb.RIGHT) -> Filling:
    """The same figures and rhythms from a lead hand on, each turn led by the hand that did not strike last."""
    led = []
    for reading in filling.chain.readings:
        led.append(replace(reading, lead=lead))
        lead = led[-1].last_hand.other
    return replace(filling, chain=Chain(readings=tuple(led)))


HAND_TO_HAND = Rules()
"""The rule of every beginning: hands go on alternating, and nothing else is asked."""

FREE = Rules(alternate=False)
"""No rule at all, hands counted."""
