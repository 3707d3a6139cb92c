"""Strokes: which limb, what kind, how loud."""

from __future__ import annotations

from dataclasses import dataclass, replace
from enum import Enum


class Limb(Enum):
    """Who strikes: a hand, or a foot (the right on the kick, the left on the hi-hat, unless mirrored)."""

    RIGHT = "R"
    LEFT = "L"
    RIGHT_FOOT = "right foot"
    LEFT_FOOT = "left foot"

    @property
    def other(self) -> Limb:
        """The same limb on the other side."""
        return _OTHER[self]

    @property
    def is_foot(self) -> bool:
        """Whether it is a foot."""
        return self in (Limb.RIGHT_FOOT, Limb.LEFT_FOOT)


_OTHER = {
    Limb.RIGHT: Limb.LEFT,
    Limb.LEFT: Limb.RIGHT,
    Limb.RIGHT_FOOT: Limb.LEFT_FOOT,
    Limb.LEFT_FOOT: Limb.RIGHT_FOOT,
}


class Kind(Enum):
    """What a stroke is made of; the grace notes of flams and drags belong to the stroke."""

    SINGLE = "single"
    FLAM = "flam"
    DRAG = "drag"
    BUZZ = "buzz"

    @property
    def graces(self) -> int:
        """How many grace notes stand before the main note, all by the other hand."""
        return {Kind.FLAM: 1, Kind.DRAG: 2}.get(self, 0)


class Level(Enum):
    """How loud a stroke is meant."""

    ACCENT = "accent"
    TAP = "tap"
    GHOST = "ghost"

    @property
    def velocity(self) -> int:
        """Loudness from 1 to 127, as MIDI counts it (values of our own)."""
        return {Level.ACCENT: 112, Level.TAP: 80, Level.GHOST: 38}[self]


GRACE_VELOCITY = 45
"""Loudness of a grace note: played low, close to the head (common practice, no source)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Stroke:
    """One stroke of one limb."""

    hand: Limb
    kind: Kind = Kind.SINGLE
    level: Level = Level.TAP

    def mirror(self) -> Stroke:
        """The same stroke by the limb of the other side.

        >>> Stroke(hand=Limb.RIGHT).mirror().hand
        <Limb.LEFT: 'L'>
        """
        return replace(self, hand=self.hand.other)


Slot = Stroke | None
"""A place in a figure: a stroke, or None for a rest."""


def mirror(slots: tuple[Slot, ...]) -> tuple[Slot, ...]:
    """The same strokes with the hands exchanged, for the other lead or the left-handed player."""
    return tuple(slot.mirror() if slot else None for slot in slots)
