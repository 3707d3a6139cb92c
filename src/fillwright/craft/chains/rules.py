"""Rules of a chain: order of hands and figures, required accents, remainders; and the cost of a chain."""

from __future__ import annotations

from dataclasses import dataclass, replace
from enum import Enum
from fractions import Fraction
from itertools import pairwise

from fillwright.craft.chains.chain import Chain
from fillwright.errors import FitError
from fillwright.music.notevalue import format_value
from fillwright.music.stroke import Limb

READING_COST = 2  # whole numbers without a unit, as are the next three
REBARRED_COST = 3  # ours
REPEAT_COST = 1  # ours
TAIL_COST = 4
"""Costs of a chain: every reading costs 2, a re-barred one 3 more, the same figure twice in a row 1 more, and a
remainder 4.

So a chain of few, long readings comes before one of many, a figure in its own feel before the same re-barred,
different figures before one repeated, and a chain without a remainder before one with it. Ours, not measured.
"""

MOST_MUST = 6
"""The most figures that can be required; each doubles the work (ours, not measured)."""


class TailKind(Enum):
    """A rest or a kick, to fill a remainder."""

    REST = "rest"
    KICK = "kick"


@dataclass(frozen=True, slots=True, kw_only=True)
class Tail:
    """A rest or a kick that fills the end of a span after the last reading.

    Attributes:
        kind: a rest, or one stroke of the kick.
        length: in whole notes.
    """

    kind: TailKind
    length: Fraction

    def __post_init__(self) -> None:
        """Refuse a tail without length.

        Raises:
            FitError: for a length of 0 or less.
        """
        if self.length <= 0:
            raise FitError(
                f"A {self.kind.value} of {self.length} whole notes fills nothing; give it a note value."
            )

    @property
    def words(self) -> str:
        """Kind and note value: "kick 16"."""
        return f"{self.kind.value} {format_value(self.length)}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Filling:
    """A chain with the tail that fills the remainder after it, if there is one."""

    chain: Chain
    tail: Tail | None = None

    @property
    def length(self) -> Fraction:
        """Length in whole notes."""
        return self.chain.length + (self.tail.length if self.tail else 0)

    @property
    def starts(self) -> Limb:
        """Hand of the first stroke."""
        return self.chain.readings[0].lead

    @property
    def lands(self) -> Limb:
        """Hand that is free to land: not the hand of the last stroke."""
        return self.chain.last_hand.other

    @property
    def cost(self) -> int:
        """Sum of its costs, by `READING_COST` and the others; the best chain has the least."""
        readings = self.chain.readings
        basic = sum(READING_COST + REBARRED_COST * reading.rebarred for reading in readings)
        repeats = sum(first.figure.name == then.figure.name for first, then in pairwise(readings))
        return basic + REPEAT_COST * repeats + (TAIL_COST if self.tail else 0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Rules:
    """Conditions that a chain must meet; each can be dropped.

    Attributes:
        hands: True where leads count. Where False, a figure in one rhythm is one reading for both leads, and
            there are no rules about hands.
        alternate: True where a reading must not start with the hand of the stroke before it.
        repeat_gap: with `alternate`, the time in whole notes from a stroke to the next reading's first stroke
            from which one hand may play both; None for never. Grace notes are not counted.
        lead: the hand of the first stroke; None for either.
        land: the hand that lands, not the hand of the last stroke; None for either.
        only: names of the figures that may be used; None for all.
        most: the most different figures; None for any number.
        must: names of figures that must appear, at most `MOST_MUST`.
        accents: places in whole notes from the start of the span, each of which must have an accented stroke.
        tails: rests and kicks that may fill the end of the span; one at most, after at least one reading.
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
        """Refuse rules that contradict each other.

        Raises:
            FitError: for rules about hands where hands don't count, a gap below 0 or without `alternate`, fewer
                than one figure, too many required figures, or a foot that leads or lands.
        """
        if not self.hands and (self.lead or self.land or self.repeat_gap is not None):
            raise FitError(
                "Rules for the lead, the landing or a repeated hand need hands; "
                "drop those rules or keep the hands."
            )
        if self.repeat_gap is not None and self.repeat_gap < 0:
            raise FitError(f"{self.repeat_gap} whole notes is not a valid gap; use 0 or more.")
        if self.repeat_gap is not None and not self.alternate:
            raise FitError("A gap for repeating a hand needs hands that alternate; drop one of the two.")
        if self.most is not None and self.most < 1:
            raise FitError(f"A chain can't have at most {self.most} different figures; use 1 or more.")
        if len(set(self.must)) > MOST_MUST:
            raise FitError(f"{len(set(self.must))} figures are too many to require; name at most {MOST_MUST}.")
        if any(limb and limb.is_foot for limb in (self.lead, self.land)):
            raise FitError("A foot can't lead or land a chain; name a hand.")


def alternate_hands(filling: Filling, lead: Limb = Limb.RIGHT) -> Filling:
    """Return the same figures and rhythms, each reading led by the hand that did not strike last."""
    readings = []
    for reading in filling.chain.readings:
        readings.append(replace(reading, lead=lead))
        lead = readings[-1].last_hand.other
    return replace(filling, chain=Chain(readings=tuple(readings)))


HAND_TO_HAND = Rules()
"""Hands alternate from reading to reading; no other rule."""

FREE = Rules(alternate=False)
"""No rule at all; leads count."""
