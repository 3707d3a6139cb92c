"""Strokes: the limb, the kind, and the dynamic level."""

from __future__ import annotations

from dataclasses import dataclass, replace
from enum import Enum


class Limb(Enum):
    """A hand or a foot; the right foot plays the kick and the left the hi-hat, unless mirrored."""

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
        """True for a foot."""
        return self in (Limb.RIGHT_FOOT, Limb.LEFT_FOOT)


_OTHER = {
    Limb.RIGHT: Limb.LEFT,
    Limb.LEFT: Limb.RIGHT,
    Limb.RIGHT_FOOT: Limb.LEFT_FOOT,
    Limb.LEFT_FOOT: Limb.RIGHT_FOOT,
}


class Kind(Enum):
    """The kind of a stroke; the grace notes of flams and drags belong to the stroke."""

    SINGLE = "single"
    FLAM = "flam"
    DRAG = "drag"
    BUZZ = "buzz"

    @property
    def graces(self) -> int:
        """Number of grace notes before the main note, all by the other hand."""
        return {Kind.FLAM: 1, Kind.DRAG: 2}.get(self, 0)


class Level(Enum):
    """The dynamics of a stroke."""

    ACCENT = "accent"
    TAP = "tap"
    GHOST = "ghost"

    @property
    def velocity(self) -> int:
        """MIDI velocity, 1 to 127 (ours, not measured)."""
        return {Level.ACCENT: 112, Level.TAP: 80, Level.GHOST: 38}[self]


GRACE_VELOCITY = 45
"""MIDI velocity of a grace note, 1 to 127: softer than a tap (common practice, no source; number ours)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Stroke:
    """One stroke of one limb."""

    hand: Limb
    kind: Kind = Kind.SINGLE
    level: Level = Level.TAP

    def mirror(self) -> Stroke:
        """Return the same stroke by the limb of the other side.

        >>> Stroke(hand=Limb.RIGHT).mirror().hand
        <Limb.LEFT: 'L'>
        """
        return replace(self, hand=self.hand.other)


Slot = Stroke | None
"""A place in a figure: a stroke, or None for a rest."""


def mirror(slots: tuple[Slot, ...]) -> tuple[Slot, ...]:
    """Return the strokes with the hands exchanged, for the other lead or a left-handed player."""
    return tuple(slot.mirror() if slot else None for slot in slots)
